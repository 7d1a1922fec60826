"""Small wheels and scores for tests, made without any file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from pegwright.columns import frozen_ints
from pegwright.score import BarMap, Part, Score, TempoMap
from pegwright.wheel import Channel, Geometry, Kind, PinType, Row, Wheel

ON = Row("on", (Fraction(0),))
HALF = Row("half", (Fraction(1, 2),))
TRIPLET = Row("triplet", (Fraction(2, 3), Fraction(4, 3)), period_steps=2, lateral_mm=2.0)

GEOMETRY = Geometry(
    radius_mm=477.5,
    thickness_mm=6.0,
    hole_diameter_mm=4.0,
    pin_diameter_mm=3.0,
    min_wall_mm=2.5,
    pin_clearance_mm=0.5,
    channel_pitch_mm=14.0,
    lead_edge_mm=5.0,
    trail_edge_mm=5.3,
)


def channel(
    name: str,
    pitches: Sequence[int] = (),
    drum_keys: Sequence[int] = (),
    restrike_ms: float = 90.0,
    rows: Sequence[str] = ("on", "half", "triplet"),
    lead_ms: float = 0.0,
    kind: Kind = Kind.STRIKE,
    hold_mm: float = 0.0,
) -> Channel:
    return Channel(name, tuple(pitches), tuple(drum_keys), restrike_ms, lead_ms, kind, tuple(rows), hold_mm)


def wheel(channels: Sequence[Channel] = (), **changes: object) -> Wheel:
    """Six plates of 32 sixteenths with rows on, half and triplet, unless changed by field name."""
    made = Wheel(
        name="Test wheel",
        plate_count=6,
        steps_per_plate=32,
        step_quarters=Fraction(1, 4),
        plate_sets=2,
        rows=(ON, HALF, TRIPLET),
        channels=tuple(channels) or tuple(channel(f"bar {pitch}", [pitch]) for pitch in range(60, 73)),
        pin_types=(PinType("peg", 1000),),
        lost=(),
        strike_limits=(),
        reach_quarters=Fraction(1, 16),
        geometry=GEOMETRY,
        sha256="0" * 64,
    )
    return replace(made, **changes)  # type: ignore[arg-type]  # field names and types are the caller's


def score(
    notes: Sequence[tuple[int, int]] | Sequence[tuple[int, int, int]] | Sequence[tuple[int, int, int, int]],
    resolution: int = 24,
    us_per_quarter: int = 500_000,
    tolerance_ticks: int = 0,
    parts: Sequence[Part] = (Part("Melody"), Part("Drums", percussion=True)),
) -> Score:
    """A 4/4 score from (onset_ticks, pitch_midi[, velocity[, part]]) rows, each note a sixteenth long."""
    rows = sorted((row[0], row[3] if len(row) > 3 else 0, row[1], row[2] if len(row) > 2 else 80) for row in notes)
    bar_ticks = 4 * resolution
    end = (max((row[0] for row in rows), default=0) // bar_ticks + 1) * bar_ticks
    starts = range(0, end, bar_ticks)
    return Score(
        title="Test song",
        file="test.mid",
        sha256="1" * 64,
        resolution=resolution,
        tolerance_ticks=tolerance_ticks,
        onset_ticks=frozen_ints([row[0] for row in rows]),
        duration_ticks=frozen_ints([max(1, resolution // 4)] * len(rows)),
        pitch_midi=frozen_ints([row[2] for row in rows]),
        velocity=frozen_ints([row[3] for row in rows]),
        part=frozen_ints([row[1] for row in rows]),
        parts=tuple(parts),
        tempo_map=TempoMap(frozen_ints([0]), frozen_ints([us_per_quarter])),
        bar_map=BarMap(
            frozen_ints(list(starts)),
            tuple(str(number + 1) for number in range(len(starts))),
            frozen_ints([4] * len(starts)),
            frozen_ints([4] * len(starts)),
            end,
        ),
    )
