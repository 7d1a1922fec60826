"""Songs of several turns: running orders, sets that are shared, and the fewest pinnings where sets run short."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thorough
from pegwright.errors import UsageError
from pegwright.running import letter, running_order, running_summary, running_text
from pegwright.show.turns import sets_taken, turns_of


def test_turns_with_equal_pins_share_a_letter() -> None:
    running = running_order(["verse", "verse", "chorus", "verse"])
    assert running == (0, 0, 1, 0)
    assert running_text(running) == "A A B A"
    assert [letter(number) for number in (0, 25, 26, 53)] == ["A", "Z", "A2", "B3"]


def test_long_running_orders_are_shortened_for_people() -> None:
    assert running_summary((0, 0, 1, 0)) == "A A B A"
    assert running_summary((0, *[1] * 1_000, 0, 2, 2)) == "A B x 1,000 A C x 2"


def test_a_song_that_fits_its_sets_is_never_pinned_while_it_plays() -> None:
    turns = turns_of((0, 0, 1, 0), times=3, sets=2)
    assert (turns.slot_count, turns.pinning_count, turns.swaps_within) == (2, 2, 0)
    assert [(use.pinning, use.slot, use.first_turn, use.last_turn) for use in turns.uses] == [
        (0, 0, 0, 11),
        (1, 1, 2, 10),
    ]
    assert turns.changes_within == 6
    assert turns.freed() == (1, 0)


def test_with_one_set_every_change_is_a_pinning() -> None:
    turns = turns_of((0, 1, 0), times=1, sets=1)
    assert turns.of_slot(0) == (0, 1, 0)
    assert turns.swaps_within == 2


@cache
def fewest_pinnings(sequence: tuple[int, ...], carried: tuple[int, ...], sets: int) -> int:
    """Over every choice of the set to pin anew."""
    if not sequence:
        return 0
    first, rest = sequence[0], sequence[1:]
    if first in carried:
        return fewest_pinnings(rest, carried, sets)
    if len(carried) < sets:
        return 1 + fewest_pinnings(rest, (*carried, first), sets)
    choices = ((*carried[:slot], first, *carried[slot + 1 :]) for slot in range(sets))
    return 1 + min(fewest_pinnings(rest, choice, sets) for choice in choices)


@settings(max_examples=thorough.cases(60, 300))
@given(st.lists(st.integers(0, 4), min_size=1, max_size=8), st.integers(1, 2), st.integers(1, 3))
def test_as_few_pinnings_as_any_choice_of_sets(pinnings: list[int], times: int, sets: int) -> None:
    """Against trying every choice. With several sets the one on the wheel is spared, which costs one now and then."""
    running = running_order(pinnings)
    turns = turns_of(running, times, sets)
    fewest = fewest_pinnings(running * times, (), sets)
    assert len(turns.uses) >= fewest
    if sets == 1 or turns.pinning_count <= sets:
        assert len(turns.uses) == fewest
    sequence = running * times
    assert [turns.uses[use].pinning for use in turns.played] == list(sequence)
    for slot in range(turns.slot_count):
        spans = [(use.first_turn, use.last_turn) for use in turns.uses if use.slot == slot]
        assert spans == sorted(spans)
        assert all(one[1] < other[0] for one, other in pairwise(spans))


def test_the_set_on_the_wheel_is_not_pinned_while_another_could_be() -> None:
    turns = turns_of((0, 1, 2), times=1, sets=2)
    assert [use.slot for use in turns.uses] == [0, 1, 0]


def test_songs_of_one_set_take_the_sets_in_turn() -> None:
    one = turns_of((0,), 2, 3)
    assert sets_taken([one] * 7, 3) == ((0,), (1,), (2,), (0,), (1,), (2,), (0,))


def test_the_set_that_comes_free_first_is_taken_first() -> None:
    one, two = turns_of((0,), 1, 2), turns_of((0, 1, 0), 1, 2)
    assert sets_taken([two, one, one], 2) == ((0, 1), (1,), (0,))


@pytest.mark.parametrize(("running", "times", "sets"), [((), 1, 1), ((0,), 0, 1), ((0,), 1, 0)])
def test_a_song_without_turns_passes_or_sets_is_refused(running: tuple[int, ...], times: int, sets: int) -> None:
    with pytest.raises(UsageError):
        turns_of(running, times, sets)
