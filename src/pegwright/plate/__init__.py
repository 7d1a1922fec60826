"""Plates to be made: hole patterns of flat sheets, bending, walls; values in, values out."""
