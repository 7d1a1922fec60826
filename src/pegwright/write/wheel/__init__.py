"""A wheel."""
