"""Held notes: runs of pins and bridges, against exhaustive search and by following the lever."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise, product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import strategies
import thorough
from pegwright.ask.options import FitOptions
from pegwright.check.held import verify_held
from pegwright.check.verify import verify
from pegwright.columns import frozen_ints
from pegwright.config.wheel_rules import MIN_SILENCE_MS
from pegwright.errors import UsageError
from pegwright.fit.held import held_notes
from pegwright.fit.pins import pins_of
from pegwright.placement import PinMap, Placement
from pegwright.score import Score
from pegwright.strikes import strike_times
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Collar, Kind, LostHole, PinType, Row, Wheel
from samples import GEOMETRY, channel, score, wheel

STEP_MM = 15.625
RIM = replace(GEOMETRY, radius_mm=STEP_MM * 192 / (2 * np.pi))
BRIDGE = PinType("bridge", 40, bridge_mm=2 * STEP_MM)
ALIKE = Fraction(10, 125)  # of a step: ends no farther from the written one
RESOLUTION = 24  # ticks a quarter note; a step has 6


def horn(rows: tuple[str, ...] = ("on",), hold_mm: float = STEP_MM, **changes: object) -> Wheel:
    """A wheel with one holding channel, sounding C4."""
    made = {"geometry": RIM, **changes}
    return wheel([channel("horn", [60], kind=Kind.HOLD, hold_mm=hold_mm, restrike_ms=60.0, rows=rows)], **made)


def long_notes(*notes: tuple[float, float]) -> Score:
    """Notes of C4 from (onset, length) in steps."""
    song = score([(round(6 * onset), 60) for onset, _ in notes], resolution=RESOLUTION)
    return replace(song, duration_ticks=frozen_ints([round(6 * length) for _, length in notes]))


def fitted(song: Score, on: Wheel, options: FitOptions | None = None) -> tuple[Placement, PinMap]:
    placement, _ = fit_with_findings(song, on, options or FitOptions())
    assert verify(song, on, placement) == ()
    pins = pins_of(song, on, placement)
    assert verify_held(on, placement, pins) == ()
    return placement, pins


def steps_of(on: Wheel, pins: PinMap) -> list[float]:
    return [
        float(plate * on.steps_per_plate + on.rows[row].position_steps(index))
        for plate, row, index in zip(pins.plate.tolist(), pins.row.tolist(), pins.index.tolist(), strict=True)
    ]


def test_a_run_of_pins_holds_a_note_to_its_end() -> None:
    on, song = horn(), long_notes((4, 4), (10, 1))
    placement, pins = fitted(song, on)
    assert steps_of(on, pins) == [4, 5, 6, 7, 10]
    assert pins.note.tolist() == [0, 0, 0, 0, 1]
    assert held_notes(song, on, placement).late_ms.tolist() == [0, 0]


def test_bridges_take_the_place_of_pins() -> None:
    on, song = horn(pin_types=(PinType("peg", 900), BRIDGE)), long_notes((4, 6))
    _, pins = fitted(song, on)
    assert steps_of(on, pins) == [4, 7]  # each bridge holds for three steps: two of its own and one of the lever
    assert pins.pin_type.tolist() == [1, 1]
    _, pins = fitted(long_notes((4, 4)), on)
    assert list(zip(steps_of(on, pins), pins.pin_type.tolist(), strict=True)) == [(4, 0), (5, 1)]


def test_a_bridge_ends_on_its_own_plate() -> None:
    on, song = horn(pin_types=(PinType("peg", 900), BRIDGE)), long_notes((28, 4))
    _, pins = fitted(song, on)
    ends = [step + 2 * kind for step, kind in zip(steps_of(on, pins), pins.pin_type.tolist(), strict=True)]
    assert max(ends) < 32
    assert 1 in pins.pin_type.tolist()


def test_a_note_lets_go_a_restrike_before_the_next() -> None:
    on = horn(rows=("on", "half"), hold_mm=STEP_MM / 2)
    song = long_notes((4, 4), (8, 2))
    placement, pins = fitted(song, on)
    step_ms = 125.0
    late_ms = held_notes(song, on, placement).late_ms.tolist()
    assert late_ms == pytest.approx([-step_ms / 2, 0])  # the re-strike of 60 ms is a little less than half a step
    assert steps_of(on, pins)[-4:] == [8, 8.5, 9, 9.5]


def test_a_note_cannot_follow_sooner_than_one_pin_and_the_restrike() -> None:
    song = long_notes((4, 1), (5, 1), (7, 1))
    placement, findings = fit_with_findings(song, horn(), FitOptions())
    assert placement.placed_count == 2
    lost = next(finding for finding in findings if finding.code == "left-out-restrike")
    assert "is held for 125.0 ms by a pin" in lost.message


def test_a_run_that_a_seam_breaks_ends_early_and_is_told() -> None:
    on = horn(lost=(LostHole("on", 6),))
    song = long_notes((4, 8))
    placement, pins = fitted(song, on)
    assert steps_of(on, pins) == [4, 5]
    assert held_notes(song, on, placement).late_ms == pytest.approx([-6 * 125.0])
    (finding,) = [it for it in fit_with_findings(song, on, FitOptions())[1] if it.code == "held-notes"]
    assert "1 note held, by 1 further pin" in finding.message
    assert "750.0 ms earlier" in finding.message


def test_a_note_over_the_end_of_the_turn_ends_with_it() -> None:
    on, song = horn(), long_notes((188, 12))
    _, pins = fitted(song, on)
    assert max(steps_of(on, pins)) == 191


def test_notes_of_two_parts_that_share_a_strike_last_as_long_as_the_longer() -> None:
    song = long_notes((4, 1), (4, 3))
    _, pins = fitted(song, horn())
    assert steps_of(horn(), pins) == [4, 5, 6]


def test_strikes_are_the_notes_and_last_as_they_should() -> None:
    on, song = horn(), long_notes((4, 4), (10, 1), (180, 12))
    placement, pins = fitted(song, on, FitOptions(start_steps=Fraction(5)))
    times = strike_times(pins, on, start_steps=Fraction(5), turn_count=2, score=song)
    assert times.note.tolist() == [0, 1, 2, 0, 1, 2]
    assert times.lasts_s == pytest.approx([0.5, 0.125, 1.5] * 2)
    assert placement.placed_count == 3


@dataclass(frozen=True)
class Stand:
    """A pin that could stand somewhere, in steps, for exhaustive search."""

    trips: Fraction
    ends: Fraction
    kind: int
    row: int


def exhaustive(
    on: Wheel, song: Score, hold: Fraction, restrike: Fraction, clear: Fraction
) -> tuple[Fraction, int, int]:
    """The least miss in steps, then pins, then odd pins, of all sets of pins that hold the only note of a song."""
    onset = Fraction(int(song.onset_ticks[0]), 6)
    wanted = onset + Fraction(int(song.duration_ticks[0]), 6)
    stands = []
    for number, row in enumerate(on.rows):
        for index in range(row.hole_count(on.steps_per_plate)):
            at = row.position_steps(index)
            if not any(lost.row == row.name and lost.index == index for lost in on.lost):
                for kind, made in enumerate(on.pin_types):
                    bridge = Fraction(made.bridge_mm / STEP_MM).limit_denominator(64)
                    sheet_end = on.steps_per_plate - Fraction(GEOMETRY.trail_edge_mm / STEP_MM)
                    if not bridge or at + bridge + Fraction(1.5 / STEP_MM) <= sheet_end:
                        stands.append(Stand(at, at + bridge, kind, number))
    first = [stand for stand in stands if stand.trips == onset]
    first = [stand for stand in first if stand.row == first[0].row]
    later = [stand for stand in stands if stand.trips > onset]
    best = None
    for size in range(4):
        for head, rest in product(first, combinations(later, size)):
            run = (head, *sorted(rest, key=lambda stand: stand.trips))
            gaps = [other.trips - one.ends for one, other in pairwise(run)]
            if any(gap < clear or gap > hold for gap in gaps):
                continue
            released = run[-1].ends + hold
            alone = size == 0 and head.kind == 0
            if not alone and released > min(onset + on.turn_steps - restrike, Fraction(on.turn_steps)):
                continue
            worth = (max(Fraction(0), abs(released - wanted) - ALIKE), len(run), sum(stand.kind > 0 for stand in run))
            best = worth if best is None else min(best, worth)
    assert best is not None
    return best


def test_the_proof_finds_pins_that_are_wrong() -> None:
    on, song = horn(pin_types=(PinType("peg", 900), BRIDGE)), long_notes((4, 6), (12, 6), (188, 3))
    placement, pins = fitted(song, on)

    def told(**columns: list[int]) -> str:
        changed: dict[str, Any] = {name: frozen_ints(values) for name, values in columns.items()}
        return "; ".join(verify_held(on, placement, replace(pins, **changed)))

    index, kind = pins.index.tolist(), pins.pin_type.tolist()
    assert list(zip(steps_of(on, pins), kind, strict=True))[:2] == [(4, 1), (7, 1)]
    assert "when the channel has let go" in told(index=[index[0], index[1] + 3, *index[2:]])
    assert "when the channel has let go" in told(pin_type=[0, *kind[1:]])
    assert "too near" in told(index=[index[0], index[1] - 1, *index[2:]])
    assert "shares its hole" in told(index=[index[0], index[0], *index[2:]])
    assert "too soon" in told(index=[index[0], index[1] + 3, *index[2:]])
    assert "over an edge of its plate" in told(index=[*index[:-1], 31])
    assert "are begun" in told(note=[1, 1, *pins.note.tolist()[2:]])


def test_runs_equal_exhaustive_search() -> None:
    chance, further = random.Random(11), 0  # noqa: S311  # the same cases every time
    count = thorough.cases(80, 500)
    for _ in range(count):
        lost = tuple(LostHole(row, chance.randrange(1, 6)) for row in ("on", "half") if chance.random() < 0.4)
        hold = chance.choice([Fraction(1, 2), Fraction(3, 4), Fraction(1), Fraction(5, 4)])
        bridges = [PinType(f"bridge {n}", 9, bridge_mm=float(n * STEP_MM / 2)) for n in (1, 2)][: chance.randint(0, 2)]
        on = replace(
            horn(hold_mm=float(hold) * STEP_MM, rows=("on", "half"), lost=lost),
            plate_count=1,
            steps_per_plate=8,
            rows=(Row("on", (Fraction(0),)), Row("half", (Fraction(1, 2),), lateral_mm=3.2)),
            pin_types=(PinType("peg", 9), *bridges),
            geometry=replace(GEOMETRY, radius_mm=STEP_MM * 8 / (2 * np.pi), lead_edge_mm=5.0),
        )
        song = long_notes((chance.choice([0, 1, 2, 3.5]), chance.choice([0.5, 1, 1.5, 2, 2.25, 3, 4])))
        placement, pins = fitted(song, on)
        if not placement.placed_count or placement.deviation_ticks[0]:
            continue
        held = held_notes(song, on, placement)
        worth = exhaustive(on, song, hold, Fraction(60, 125), Fraction(3.5 / STEP_MM))
        if worth[1] > 3:
            continue  # sets of more pins are not tried
        found = (
            max(0.0, abs(held.late_ms[0]) / 125 - float(ALIKE)),
            pins.pin_count,
            int(np.count_nonzero(pins.pin_type)),
        )
        assert found == (pytest.approx(float(worth[0])), *worth[1:]), (song.onset_ticks, song.duration_ticks, on)
        further += pins.pin_count > 1
    assert further > count / 5


@pytest.mark.parametrize("collar", Collar)
def test_no_hole_has_two_pins_of_a_held_note(collar: Collar) -> None:
    """An offset of a pin and its clearance leaves room, along the rim alone, for a late pin in the note's own hole."""
    on = horn(hold_mm=10.0, pin_types=(PinType("peg", 9), PinType("late", 9, 5.0, collar=collar)))
    placement, pins = fitted(long_notes((2, 6)), on)
    holes = list(zip(pins.plate.tolist(), pins.row.tolist(), pins.index.tolist(), strict=True))
    assert len(set(holes)) == len(holes)
    assert placement.placed_count == 1


@st.composite
def holding(draw: st.DrawFn) -> Wheel:
    """Wheels some of whose channels hold, with bridges or without."""
    on, lengths_mm = draw(strategies.wheels()), st.sampled_from([1.0, 4.0, 7.5, 16.0])
    channels = [
        replace(one, kind=Kind.HOLD, hold_mm=draw(lengths_mm), restrike_ms=max(one.restrike_ms, MIN_SILENCE_MS))
        if draw(st.booleans())
        else one
        for one in on.channels
    ]
    bridges = draw(st.sampled_from([(), (PinType("bridge", 5, bridge_mm=7.0),), (PinType("late", 5, 0.4, 12.0),)]))
    return replace(on, channels=tuple(channels), pin_types=(*bridges, *on.pin_types))


@settings(max_examples=thorough.cases(60, 300))
@given(strategies.scores(), holding(), strategies.options(), st.integers(1, 40))
def test_every_rule_holds_on_any_wheel(song: Score, on: Wheel, options: FitOptions, length: int) -> None:
    song = replace(song, duration_ticks=frozen_ints(song.duration_ticks * length))
    try:
        placement, pins = fitted(song, on, options)
    except UsageError:
        return
    held = held_notes(song, on, placement)
    assert pins.pin_count == placement.placed_count + held.pin_count
    times = strike_times(pins, on, start_steps=options.start_steps, score=song)
    assert sorted(times.note.tolist()) == np.flatnonzero(placement.outcome == 0).tolist()
