"""The show: pins to own, plates to swap, songs in order."""
