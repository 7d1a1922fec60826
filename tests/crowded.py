"""A song with far too many notes for its wheel, so that every outcome is among them."""

from __future__ import annotations

from dataclasses import replace

from pegwright.score import Part, Score
from pegwright.wheel import LostHole, StrikeLimit, Wheel
from samples import GEOMETRY, HALF, ON, TRIPLET, channel, score, wheel

PARTS = (Part("Melody"), Part("Drums", percussion=True))


def crowd(notes: int = 400) -> tuple[Score, Wheel]:
    """A score and a wheel with limits: bars that need 150 ms between strikes, two quick ones where pins would touch."""
    rows = (ON, HALF, replace(TRIPLET, lateral_mm=3.2))
    slow = [channel(f"bar {pitch}", [pitch], [pitch - 20], restrike_ms=150.0) for pitch in range(58, 68)]
    plain = [channel(f"plain {pitch}", [pitch], restrike_ms=150.0, rows=["on"]) for pitch in (68, 69)]
    quick = [channel(f"quick {pitch}", [pitch], restrike_ms=1.0) for pitch in (70, 71)]
    on = wheel(
        [*slow, *plain, *quick],
        rows=rows,
        lost=tuple(LostHole("on", index) for index in (3, 4, 5, 20)),
        strike_limits=(
            StrikeLimit("drive", tuple(made.name for made in (*slow, *quick)), 3, 45.0),
            StrikeLimit("supply", tuple(made.name for made in plain), 2, 1500.0),
        ),
        geometry=replace(GEOMETRY, radius_mm=192 * 4.6 / 6.283185307179586, lead_edge_mm=3.0),
    )
    written = []
    for pair in range(notes // 2):
        onset, pitch = (pair * pair * 3 + pair * 5) % 1180, 56 + pair * 7 % 18
        written.append((onset, pitch, 1 + pair % 127, int(pair % 7 == 0)))
        written.append((onset + 1 + pair % 9, pitch, 1 + pair * 3 % 127, 0))
    return score(written, parts=PARTS), on
