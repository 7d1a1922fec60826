"""Pin counts."""
