"""A whole show: its songs read and fitted, its plan made, its files written."""
