"""The report page."""
