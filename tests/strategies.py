"""Hypothesis strategies shared by all rooms: wheels, scores and options, small but of every shape."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from pegwright.ask.options import ChannelRule, FitOptions
from pegwright.note_count import REASONS, NoteCount
from pegwright.placement import Outcome
from pegwright.score import Part, Score
from pegwright.wheel import Channel, Collar, LostHole, PinType, Row, StrikeLimit, Wheel
from samples import GEOMETRY, channel, score, wheel

ROWS = (
    Row("on", (Fraction(0),)),
    Row("half", (Fraction(1, 2),)),
    Row("triplet", (Fraction(2, 3), Fraction(4, 3)), period_steps=2),
    Row("quarters", (Fraction(1, 4), Fraction(3, 4))),
)
PITCHES = st.integers(58, 66)
DRUM_KEYS = st.integers(35, 38)
PARTS = (Part("Melody"), Part("Bass"), Part("Drums", percussion=True))


@st.composite
def rows(draw: st.DrawFn) -> tuple[Row, ...]:
    chosen = draw(st.lists(st.sampled_from(ROWS), min_size=1, max_size=4, unique=True))
    laterals = st.sampled_from([0.0, 2.0, -3.0, 3.3, 4.0])
    return tuple(replace(row, lateral_mm=draw(laterals)) for row in chosen)


@st.composite
def channels(draw: st.DrawFn, number: int, row_names: tuple[str, ...]) -> Channel:
    return channel(
        f"voice {number}",
        draw(st.lists(PITCHES, max_size=3, unique=True)),
        draw(st.lists(DRUM_KEYS, max_size=2, unique=True)),
        restrike_ms=draw(st.sampled_from([0.0, 15.0, 40.0, 90.0, 150.0, 333.3])),
        rows=draw(st.lists(st.sampled_from(row_names), min_size=1, unique=True)),
    )


@st.composite
def limits(draw: st.DrawFn, names: tuple[str, ...]) -> tuple[StrikeLimit, ...]:
    """None, mostly, or one or two limits on some channels."""
    return tuple(
        StrikeLimit(
            f"limit {number}",
            tuple(draw(st.lists(st.sampled_from(names), min_size=1, unique=True))),
            draw(st.sampled_from([1, 2, 3])),
            draw(st.sampled_from([0.5, 30.0, 125.0, 400.0])),
        )
        for number in range(draw(st.sampled_from([0, 0, 1, 2])))
    )


PIN_TYPES = (
    (PinType("peg", 1000),),
    (PinType("peg", 1000),),
    (PinType("peg", 1000), PinType("early", 1000, -1.3), PinType("late", 1000, 1.3)),
    (PinType("late", 1000, 0.6), PinType("peg", 1000), PinType("peg too", 1000)),
    (PinType("peg", 1000), PinType("early", 1000, -1.3, collar=Collar.STAYS), PinType("late", 1000, 1.3)),
    (PinType("peg", 1000), PinType("bent", 1000, 2.6), PinType("ground", 1000, 2.6, collar=Collar.STAYS)),
)


@st.composite
def wheels(draw: st.DrawFn) -> Wheel:
    """Wheels of 1 to 3 plates whose turn is 2 quarters or more, with every kind of loss and limit."""
    plate_count, steps = draw(st.sampled_from([(1, 8), (1, 12), (2, 4), (2, 8), (3, 6)]))
    wheel_rows = draw(rows())
    names = tuple(row.name for row in wheel_rows)
    wheel_channels = [draw(channels(number, names)) for number in range(draw(st.integers(1, 3)))]
    lost = [
        LostHole(
            row.name,
            draw(st.integers(0, row.hole_count(steps) - 1)),
            draw(st.none() | st.integers(0, plate_count - 1)),
            draw(st.none() | st.sampled_from([made.name for made in wheel_channels])),
        )
        for row in draw(st.lists(st.sampled_from(wheel_rows), max_size=3))
    ]
    step_mm = draw(st.sampled_from([3.7, 6.0, 9.0, 15.625]))
    edge_mm = st.sampled_from([5.0, 4.5, 3.0, 2.2, 0.5])
    geometry = replace(
        GEOMETRY,
        radius_mm=step_mm * plate_count * steps / (2 * 3.141592653589793),
        lead_edge_mm=draw(edge_mm),
        trail_edge_mm=draw(edge_mm),
        min_wall_mm=draw(st.sampled_from([2.5, 0.0])),
    )
    return wheel(
        wheel_channels,
        plate_count=plate_count,
        steps_per_plate=steps,
        step_quarters=draw(st.sampled_from([Fraction(1, 4), Fraction(1, 3), Fraction(1, 2)])),
        rows=wheel_rows,
        lost=tuple(lost),
        strike_limits=draw(limits(tuple(made.name for made in wheel_channels))),
        pin_types=draw(st.sampled_from(PIN_TYPES)),
        geometry=geometry,
        reach_quarters=draw(st.sampled_from([Fraction(0), Fraction(1, 16), Fraction(1, 8), Fraction(1, 4)])),
    )


@st.composite
def scores(draw: st.DrawFn, most: int = 24) -> Score:
    """Scores of a few quarters, dense enough for notes to be in each other's way."""
    resolution = draw(st.sampled_from([4, 6, 12, 24, 96, 480]))
    grain = draw(st.sampled_from([grain for grain in (2, 3, 4, 6, 12, 24, 480) if resolution % grain == 0]))
    tick = resolution // grain
    onsets = st.integers(0, 5 * grain).map(lambda place: place * tick)
    part = st.integers(0, len(PARTS) - 1)
    notes = []
    for _ in range(draw(st.integers(0, most))):
        of_part = draw(part)
        pitch = draw(DRUM_KEYS if PARTS[of_part].percussion else PITCHES)
        notes.append((draw(onsets), pitch, draw(st.sampled_from([1, 64, 80, 127])), of_part))
    return score(
        notes,
        resolution=resolution,
        us_per_quarter=draw(st.sampled_from([400_000, 500_000, 1_500_000])),
        tolerance_ticks=draw(st.sampled_from([0, 1])) if resolution >= 12 else 0,
        parts=PARTS,
    )


@st.composite
def options(draw: st.DrawFn) -> FitOptions:
    """Options that suit every wheel and score of this file."""
    return FitOptions(
        transpose_semitones=draw(st.sampled_from([0, 0, 1, -12, 14])),
        fold_octaves=draw(st.booleans()),
        start_steps=draw(st.sampled_from([Fraction(0), Fraction(1), Fraction(7, 2), Fraction(-2), Fraction(40, 3)])),
        us_per_quarter=draw(st.sampled_from([None, None, 350_000, 2_000_000])),
        reach_quarters=draw(st.sampled_from([None, None, Fraction(0), Fraction(1, 3), Fraction(1, 2)])),
        part_priorities=draw(st.sampled_from([(), (("Bass", 3),), (("Drums", 99), ("Melody", 2))])),
        drum_keys=draw(st.sampled_from([(), ((35, 36),), ((38, 35), (35, 38))])),
        part_channels=draw(st.sampled_from([(), (), (("Melody", "*0"),), (("Bass", "voice*"), ("Drums", "voice 0"))])),
        channel_rule=draw(st.sampled_from(ChannelRule)),
    )


def note_counts(counts: st.SearchStrategy[int], whole: bool = False) -> st.SearchStrategy[NoteCount]:
    """Counts that add up; of whole songs nothing is left out."""

    def made(own_pin: int, shared_pin: int, left_out: dict[Outcome, int]) -> NoteCount:
        by_reason = {reason: left_out[reason] for reason in REASONS if left_out.get(reason)}
        return NoteCount(own_pin + shared_pin + sum(by_reason.values()), own_pin, shared_pin, by_reason)

    left_out = st.just({}) if whole else st.dictionaries(st.sampled_from(REASONS), counts)
    return st.builds(made, counts, counts, left_out)
