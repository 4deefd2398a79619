"""Results from before this register, without our bottle codes: matched, confirmed, taken in."""
