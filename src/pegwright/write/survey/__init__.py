"""A survey of many songs."""
