"""Preview: what the pins will sound like."""
