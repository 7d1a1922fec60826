"""All options of a song: their values, bounds, text and JSON."""
