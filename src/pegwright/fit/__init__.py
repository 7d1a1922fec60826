"""Fitting: notes to channels, to holes, to the best placement, and its independent check."""
