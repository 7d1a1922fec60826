"""Pin maps."""
