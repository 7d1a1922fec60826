"""What is said of maps that are corrected by hand."""
