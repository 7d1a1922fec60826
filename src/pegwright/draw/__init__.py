"""Meaning to flat shapes in mm, once for every format."""
