"""Which turns are checked in one pass: all of them once and in order, alike, and no more than memory holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from broken_placements import RIM, put
from check.test_turns import bars, turns_of
from pegwright.check import verify
from pegwright.check.subject import Turn, lane_ticks
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.wheel import Wheel
from samples import score, wheel

ON = wheel(bars(3), geometry=RIM)
NOTES = (((1, 0),), ((1, 0), (5, 1)), ((3, 1),), ((1, 2), (7, 0), (9, 1)), ((2, 2),))  # 1, 2, 1, 3 and 1 notes


def passes(turns: Sequence[Turn], on: Wheel = ON) -> list[int]:
    """How many turns each pass has; they have to be all the turns, in order."""
    batches = verify._batches(turns, on)
    assert [id(turn) for batch in batches for turn in batch] == [id(turn) for turn in turns]
    return [len(batch) for batch in batches]


def turns_without_pins(*notes: tuple[tuple[int, int], ...]) -> list[tuple[Score, Placement]]:
    """Turns of which only the notes and the settings count."""
    ((_, placement),) = turns_of(ON, ((1, 0),))
    return [(score([(step, 60 + number) for step, number in of_turn]), placement) for of_turn in notes]


def transposed(turns: Sequence[tuple[Score, Placement]]) -> list[tuple[Score, Placement]]:
    """The same turns by the octave below, whose settings differ."""
    return [(score, replace(placement, transpose_semitones=-12)) for score, placement in turns]


def test_turns_that_are_alike_are_checked_in_one_pass() -> None:
    assert passes(turns_of(ON, *NOTES)) == [5]
    assert passes(turns_of(ON, NOTES[0])) == [1]


@pytest.mark.parametrize(
    ("most", "expected"),
    [(8, [5]), (7, [4, 1]), (6, [3, 2]), (5, [3, 2]), (4, [3, 2]), (3, [2, 1, 1, 1]), (2, [1, 1, 1, 1, 1])],
)
def test_a_pass_has_no_more_notes_than_memory_holds(
    most: int, expected: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verify, "BATCH_NOTES", most)
    assert passes(turns_of(ON, *NOTES)) == expected


def test_a_pass_has_8192_notes() -> None:
    """Half of them in each turn, then one more."""
    half = tuple((step % ON.turn_steps, 0) for step in range(4096))
    (half_turn, one) = turns_without_pins(half, ((1, 0),))
    assert passes([half_turn, half_turn]) == [2]
    assert passes([half_turn, one, half_turn]) == [2, 1]


def test_the_notes_of_a_pass_are_counted_from_its_first_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verify, "BATCH_NOTES", 2)
    assert passes(turns_of(ON, *[((1, 0),)] * 7)) == [2, 2, 2, 1]


@pytest.mark.parametrize("most", [1, 2, 3])
def test_the_lanes_of_a_pass_are_no_longer_than_numbers_reach(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    turns = turns_of(ON, *[((1, 0),)] * 7)
    monkeypatch.setattr(verify, "MAX_TICKS", most * lane_ticks(ON, turns[0][1]))
    assert passes(turns) == [most] * (7 // most) + [7 % most] * (7 % most > 0)
    monkeypatch.setattr(verify, "MAX_TICKS", most * lane_ticks(ON, turns[0][1]) - 1)
    assert passes(turns)[0] == max(most - 1, 1)


def test_turns_with_other_settings_are_checked_in_a_pass_of_their_own() -> None:
    alike = turns_of(ON, *NOTES)
    parts = alike[0][0].parts
    alike = [(replace(score, parts=parts), placement) for score, placement in alike]
    lower = transposed(alike)
    assert passes([*alike[:2], *lower[:3], *alike[2:]]) == [2, 3, 3]
    assert passes([alike[0], lower[0], alike[1]]) == [1, 1, 1]


@pytest.mark.parametrize("number", range(len(NOTES)))
def test_a_fault_in_any_pass_is_found(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    turns = turns_of(ON, *NOTES)
    score, placement = turns[number]
    spoilt = [*turns[:number], (score, put(placement, 0, index=int(placement.index[0]) + 1)), *turns[number + 1 :]]
    whole = verify.verify_turns(spoilt, ON)
    assert whole
    monkeypatch.setattr(verify, "BATCH_NOTES", 3)
    assert verify.verify_turns(turns, ON) == ()
    assert verify.verify_turns(spoilt, ON) == whole
