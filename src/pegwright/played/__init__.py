"""Input played by hand: which hole every note was meant for."""
