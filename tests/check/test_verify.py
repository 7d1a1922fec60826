"""The verifier rejects every corruption of a sound placement, and each rule by its own sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any, TypeAlias

import numpy as np
import pytest

from crowded import crowd
from pegwright.ask.options import FitOptions
from pegwright.check.sentences import MAX_SENTENCES
from pegwright.check.verify import verify
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.placement import Outcome, Placement, Status
from pegwright.score import Score
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import LostHole, Wheel
from samples import channel, score, wheel

Column: TypeAlias = Any  # of whole numbers or of floats

COLUMNS = ("outcome", "channel", "plate", "row", "index", "pin_type", "deviation_ticks", "unison")


def fitted() -> tuple[Score, Wheel, Placement]:
    song, on = crowd(120)
    placement, _ = fit_with_findings(song, on, FitOptions(start_steps=Fraction(9, 2)))
    assert verify(song, on, placement) == ()
    return song, on, placement


def changed(column: Column, note: int, value: float) -> Column:
    copy = column.copy()
    copy[note] = value
    return frozen_floats(copy) if copy.dtype == np.float64 else frozen_ints(copy)


@pytest.mark.parametrize("name", COLUMNS)
def test_every_change_of_every_column_is_caught(name: str) -> None:
    """Each value of the column of each note is changed to its neighbours and to values far off."""
    song, on, placement = fitted()
    column = getattr(placement, name)
    passed = []
    for note in range(song.note_count):
        for value in {column[note] + 1, column[note] - 1, 0, -1, 7} - {column[note]}:
            wrong = replace(placement, **{name: changed(column, note, value)})
            if not verify(song, on, wrong):
                passed.append((note, int(column[note]), int(value)))
    assert passed == []


def test_every_change_of_a_deviation_in_ms_is_caught() -> None:
    song, on, placement = fitted()
    for note in range(song.note_count):
        for by in (0.01, -20.0):
            column = changed(placement.deviation_ms, note, placement.deviation_ms[note] + by)
            assert verify(song, on, replace(placement, deviation_ms=column)), note


@pytest.mark.parametrize("name", [*COLUMNS, "deviation_ms"])
def test_columns_of_two_notes_changed_round_are_caught(name: str) -> None:
    song, on, placement = fitted()
    column = getattr(placement, name)
    chance = np.random.default_rng(5)
    tried = 0
    for one, other in chance.integers(0, song.note_count, (150, 2)).tolist():
        if column[one] != column[other]:
            tried += 1
            wrong = changed(changed(column, one, column[other]), other, column[one])
            assert verify(song, on, replace(placement, **{name: wrong})), (one, other)
    assert tried > 0 or name == "pin_type"


@pytest.mark.parametrize(
    "wrong",
    [
        {"weight": 1},
        {"weight_bound": 10**9},
        {"weight_bound": 0, "status": Status.BOUNDED},
        {"cost_ticks": 0},
        {"score_sha256": "2" * 64},
        {"wheel_sha256": "2" * 64},
        {"resolution": 25},
        {"resolution": 240},
        {"start_ticks": 0},
        {"start_ticks": -1},
        {"transpose_semitones": 1},
        {"us_per_quarter": 250_000},
        {"reach_ticks": 0},
        {"reach_ticks": 10**6},
        {"fold_octaves": True},
        {"part_priorities": (("Melody", 2),)},
        {"drum_keys": ((56, 40),)},
        {"outcome": frozen_ints([0])},
    ],
    ids=",".join,
)
def test_every_change_of_what_holds_for_all_notes_is_caught(wrong: dict[str, Any]) -> None:
    song, on, placement = fitted()
    assert verify(song, on, replace(placement, **wrong))


def test_left_out_without_need_is_caught() -> None:
    """Each placed note in turn is taken out, with every reason that could be given for it."""
    song, on, placement = fitted()
    away = {"plate": -1, "row": -1, "index": -1, "pin_type": -1, "deviation_ticks": 0, "deviation_ms": 0}
    for note in np.flatnonzero(placement.outcome == Outcome.PLACED)[:30].tolist():
        columns = {name: changed(getattr(placement, name), note, value) for name, value in away.items()}
        off = int(placement.deviation_ticks[note])
        weight = placement.weight - (128 + int(song.velocity[note]))
        for reason in set(Outcome) - {Outcome.PLACED}:
            wrong = replace(
                placement,
                **columns,
                outcome=changed(placement.outcome, note, reason),
                weight=weight,
                weight_bound=weight,
                cost_ticks=placement.cost_ticks - abs(off),
            )
            assert verify(song, on, wrong), (note, reason)


Notes = list[tuple[int, int]]
Holes = list[tuple[int, int, int]]  # plate, row, index


def by_hand(on: Wheel, song: Score, holes: Holes, channels: list[int]) -> Placement:
    """A placement with notes in holes chosen by hand, right in everything that can be reckoned from them."""
    placement, _ = fit_with_findings(song, on, FitOptions(start_steps=Fraction(0), reach_quarters=Fraction(2)))
    turn = int(on.turn_quarters * placement.resolution)
    steps = [Fraction(plate * on.steps_per_plate) + on.rows[row].position_steps(index) for plate, row, index in holes]
    place = np.array([int(step * on.step_quarters * placement.resolution) for step in steps])
    onset = song.onset_ticks * (placement.resolution // song.resolution)
    off = (place - onset + turn // 2) % turn - turn // 2
    weight = int((128 + song.velocity).sum())
    return replace(
        placement,
        outcome=frozen_ints([0] * len(holes)),
        channel=frozen_ints(channels),
        plate=frozen_ints([hole[0] for hole in holes]),
        row=frozen_ints([hole[1] for hole in holes]),
        index=frozen_ints([hole[2] for hole in holes]),
        pin_type=frozen_ints([0] * len(holes)),
        deviation_ticks=frozen_ints(off),
        deviation_ms=frozen_floats(off * (placement.us_per_quarter / 1000 / placement.resolution)),
        unison=frozen_ints([-1] * len(holes)),
        weight=weight,
        weight_bound=weight,
        cost_ticks=int(np.abs(off).sum()),
    )


def one_bar(*lost: LostHole) -> Callable[[], Wheel]:
    """A wheel of two bars that can be struck as often as pins stand side by side."""
    return lambda: wheel([channel(f"bar {pitch}", [pitch], restrike_ms=0.0) for pitch in (60, 61)], lost=lost)


@pytest.mark.parametrize(
    ("on", "notes", "holes", "says"),
    [
        (one_bar(), [(6, 60), (12, 60)], [(0, 0, 1), (0, 0, 1)], "shares its hole with another pin"),
        (one_bar(), [(6, 60), (12, 60)], [(0, 0, 2), (0, 0, 1)], "is pinned out of the order"),
        (one_bar(LostHole("on", 0)), [(0, 60)], [(0, 0, 0)], "is in a lost hole"),
        (one_bar(), [(3, 60), (4, 60)], [(0, 1, 0), (0, 2, 0)], "has a pin that touches another"),
        (one_bar(), [(96, 60)], [(0, 0, 8)], "is moved farther than the reach"),
        (one_bar(), [(1152, 60)], [(0, 0, 0)], "is placed although it is past the turn"),
        (
            lambda: wheel([channel("bar 60", [60], restrike_ms=126.0)]),
            [(6, 60), (12, 60)],
            [(0, 0, 1), (0, 0, 2)],
            "is struck again before",
        ),
        (
            lambda: wheel([channel("bar 60", [60], restrike_ms=400.0)], plate_count=1),
            [(12, 60), (186, 60)],
            [(0, 0, 2), (0, 0, 31)],
            "is struck again before",  # round the end of the turn: 3 steps of 125 ms
        ),
        (
            lambda: wheel([channel("bar 60", [60], rows=["on"])]),
            [(3, 60)],
            [(0, 1, 0)],
            "is in a row that the channel does not have",
        ),
        (one_bar(), [(3, 60)], [(0, 1, 40)], "is in a hole that the row does not have"),
    ],
)
def test_each_rule_has_its_own_sentence(on: Callable[[], Wheel], notes: Notes, holes: Holes, says: str) -> None:
    made, song = on(), score(notes)
    broken = verify(song, made, replace(by_hand(made, song, holes, [0] * len(notes)), reach_ticks=23))
    assert any(says in sentence for sentence in broken), broken


def test_pins_of_neighbouring_channels_may_not_touch_either() -> None:
    """No such wheel is accepted from a file; the verifier does not rely on that."""
    on = one_bar()()
    near = replace(on, geometry=replace(on.geometry, channel_pitch_mm=3.4))
    song = score([(6, 60), (6, 61)])
    placement = by_hand(near, song, [(0, 0, 1), (0, 0, 1)], [0, 1])
    assert [sentence.split(" has ")[1] for sentence in verify(song, near, placement)] == [
        "a pin that touches another"
    ] * 2
    far = replace(on, geometry=replace(on.geometry, channel_pitch_mm=3.5))  # the pin and the clearance, met exactly
    assert verify(song, far, placement) == ()


def test_many_broken_rules_of_a_kind_are_counted() -> None:
    song, on, placement = fitted()
    wrong = replace(placement, pin_type=frozen_ints(np.full(song.note_count, 3)))
    sentences = verify(song, on, wrong)
    assert "more: has a pin_type that does not exist" in "\n".join(sentences)
    assert len(sentences) <= 2 * (MAX_SENTENCES + 1)


def test_holes_are_seen_round_the_end_of_the_turn_from_a_late_start() -> None:
    """The softer note's nearest hole is the first of the turn, two turns from where the wheel's first step is: used."""
    lost = (LostHole("on", 30, plate=5), LostHole("on", 31, plate=5), LostHole("on", 1, plate=0))
    on = wheel([channel("bar 60", [60], rows=["on"])], lost=lost)
    late = FitOptions(start_steps=Fraction(191), reach_quarters=Fraction(8, 24))
    song = score([(6, 60, 90), (1151, 60, 70)])
    placement, _ = fit_with_findings(song, on, late)
    assert placement.outcome.tolist() == [Outcome.PLACED, Outcome.HOLE_USED]
    assert (placement.plate[0], placement.index[0]) == (0, 0)
    assert verify(song, on, placement) == ()


def test_what_a_wheel_sounds_is_computed_once_for_all_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    song, on, placement = fitted()
    assert verify(song, on, placement) == ()

    def computed(*_: object) -> None:
        raise AssertionError("the sounds of the wheel are computed again")

    monkeypatch.setattr("pegwright.check.wheel._sounding_table", computed)
    assert verify(song, on, placement) == ()
