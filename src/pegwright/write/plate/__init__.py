"""Plates to be made, as text and data."""
