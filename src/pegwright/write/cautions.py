"""Cautions as lines of text, which `tables.paragraphs` breaks."""

from __future__ import annotations

from pegwright.cautions import CHANGE, MAKE, TOUCH

TOUCH_LINE = f"Caution. {' '.join(TOUCH)}"  # for people who work on the wheel
CHANGE_LINE = f"Caution. {CHANGE}"  # for people who change it
MAKE_LINE = f"Caution. {' '.join(MAKE)}"  # for people who drill and bend its plates
