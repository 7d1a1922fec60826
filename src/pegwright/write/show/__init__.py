"""The plan of a show."""
