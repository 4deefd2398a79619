"""What boxes are counted on and towards; the due list and compliance count by it alike."""
