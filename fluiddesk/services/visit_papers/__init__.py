"""What goes on paper for a round: visit sheets, the kit and bottle labels, as plain values."""
