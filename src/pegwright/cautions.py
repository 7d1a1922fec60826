"""Cautions for people who work on a machine: the one place of their words, short so that they are read.

What each warns of is common practice, no source; the rules for machinery of a place come before all of them.
"""

from __future__ import annotations

from typing import Final

TOUCH: Final = (
    "Stop the wheel and lock it before you touch a plate: pins, levers and seams pinch.",
    "Plates are heavy and pinch when lifted: hold them clear of their edges, and get help.",
    "With a plate off, the wheel is out of balance and may turn by itself: keep it locked, and work on opposite plates"
    " in turn.",
    "Pins have sharp ends and may spring out: wear eye protection.",
    "Local rules for machinery come first; work that they reserve for licensed people is for them alone.",
)
CHANGE: Final = (
    "Before you drill, file or retune: take the part off the machine and clamp it, wear eye protection, and try a spare"
    " piece first. Work that local rules reserve for licensed people is for them alone."
)
SHEET: Final = (  # in one line of small print
    "Stop and lock the wheel. Plates are heavy and pinch; with one off it may turn by itself. Pins spring out: protect"
    " your eyes."
)
MAKE: Final = (
    "The machine's manual, local rules and licensed practice come first.",
    "Keep hands away from cutters, and clear no chips by hand while the spindle turns.",
    "Extract dust and chips, and protect eyes, ears and lungs.",
    "Clamp the sheet flat over its whole length, clear of every hole.",
    "Plastic that gets hot melts on the drill: lower its speed, clear it in pecks.",
    "A bent sheet springs flat when it is let go: hold both ends until every fixing is in.",
    "Mount plates on a wheel that is stopped and locked: with plates off it may turn by itself.",
)
