"""Bars as music: an SVG for each, engraved in a process of its own and drawn anew from a list."""
