"""The report on one song."""
