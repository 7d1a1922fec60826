"""Rules of pins that time decides on a map without its score, at their bounds: re-strikes, held notes and limits.

On the small wheel of `pins_told` a step is 10 mm and 100 ms, so that what is expected can be told by hand.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from pegwright.check import pin_map
from pegwright.wheel import LostHole, PinType, StrikeLimit, Wheel
from pins_told import BAR, BLOCK, HORN, LATE, NEVER, PEG, REED, STAYS, aside, at, geometry, rules, small, told
from samples import HALF, ON

FINE = geometry(159.9)  # with offsets: ticks of 0.1 ms, a little less than 0.01 mm, so that 3 of them are the slack


# --- re-strikes ---


@pytest.mark.parametrize(("one", "other"), [(3, 3.5), (7, 7.5), (15.5, 0)])
def test_a_channel_may_be_struck_again_when_its_restrike_is_over(one: float, other: float) -> None:
    """Half a step, 50 ms, also round the end of the turn; a block struck between is of no account."""
    drum = geometry(seams=False)
    for restrike_ms, broken in ((50.0, []), (50.001, [("restrike", (2, 0), 50.0, -1)])):
        on = small(replace(BAR, restrike_ms=restrike_ms), BLOCK, geometry=drum)
        assert told(on, at(0, other), at(1, 4), at(0, one), at(0, 10)) == broken


def test_a_single_pin_is_followed_by_itself_after_a_turn() -> None:
    for restrike_ms, broken in ((1600.0, []), (1600.001, [("restrike", (0,), 1600.0, -1)])):
        assert told(small(replace(BAR, restrike_ms=restrike_ms)), at(0, 3)) == broken


def test_strikes_at_once_are_too_soon_for_any_channel() -> None:
    silent = replace(BAR, **NEVER)
    assert told(small(silent), at(0, 3), aside(0, 3)) == [("restrike", (0, 1), 0.0, -1)]
    meet = (PEG, replace(STAYS, offset_mm=2.4984375), replace(STAYS, offset_mm=-2.4984375))  # a quarter of a step
    for restrike_ms in (0.0, 0.2):
        on = small(replace(BAR, restrike_ms=restrike_ms), pin_types=meet, geometry=FINE)
        assert told(on, at(0, 3, 1), at(0, 3.5, 2)) == [("restrike", (0, 1), 0.0, -1)]


@pytest.mark.parametrize(
    ("kinds", "apart_ms", "slack_ms"),
    [((0, 1), 110.0, 0.3), ((1, 0), 90.0, 0.3), ((1, 1), 100.0, 0.0), ((1, 2), 80.0, 0.3)],
)
def test_the_rounding_of_two_offsets_is_no_fault(kinds: tuple[int, int], apart_ms: float, slack_ms: float) -> None:
    """A step apart, and 100 ticks or 10 ms for each offset of a millimetre; three ticks may be missing."""
    types = (PEG, LATE, replace(LATE, offset_mm=-1.0))
    pins = (at(0, 3, kinds[0]), at(0, 4, kinds[1]))
    for more_ms, broken in ((0.0, 0), (slack_ms, 0), (slack_ms + 0.1, 1)):
        on = small(replace(BAR, restrike_ms=apart_ms + more_ms), pin_types=types, geometry=FINE)
        assert told(on, *pins) == [("restrike", (0, 1), apart_ms, -1)] * broken
    almost = (PEG, replace(STAYS, offset_mm=5.0069))  # 501 ticks, one more than half a step: 0.1 ms apart
    on = small(replace(BAR, restrike_ms=0.4), pin_types=almost, geometry=FINE)
    assert told(on, at(0, 3, 1), at(0, 3.5)) == []


# --- held notes ---


@pytest.mark.parametrize(("hold_mm", "holds"), [(10.0, True), (9.985, True), (9.975, False), (10.2, True)])
@pytest.mark.parametrize("first", [(1, 2), (3, 4), (15, 0)])
def test_a_pin_holds_a_note_on_if_the_channel_has_not_let_go(
    first: tuple[int, int], hold_mm: float, holds: bool
) -> None:
    """A step after the one before, also round the end of the turn; 0.02 mm are slack."""
    on = small(replace(HORN, hold_mm=hold_mm))
    pins = (at(0, first[1]), at(0, first[0]))
    assert told(on, *pins, begins=(0, 1)) == [("held", (1, 0), 100.0, -1)] * (not holds)
    assert told(on, *pins, begins=(-1, 1)) == [("restrike", (1, 0), 100.0, -1)] * (not holds)
    assert rules(on, *pins, begins=(-1, -1)) == [("restrike", (1, 0))] * (not holds)
    assert told(on, *pins, begins=(1, 1)) == [("restrike", (1, 0), 100.0, -1)]


def test_what_is_known_of_a_pin_is_not_guessed() -> None:
    """A pin that is said to hold on two steps after the last does not begin, and one just after it may not hold on."""
    on = small(HORN)
    assert told(on, at(0, 2), at(0, 4), begins=(1, 0)) == [("held", (0, 1), 200.0, -1)]
    assert told(on, at(0, 2), at(0, 4), begins=(1, -1)) == []
    assert told(on, at(0, 2), at(0, 4), at(0, 5), begins=(1, 0, -1)) == [("held", (0, 1), 200.0, -1)]
    assert told(on, at(0, 2), at(0, 3), at(0, 12), begins=(-1, 1, -1)) == [("restrike", (0, 1), 100.0, -1)]


@pytest.mark.parametrize(("restrike_ms", "broken"), [(100.0, 0), (100.15, 0), (100.25, 1)])
def test_a_note_may_begin_when_the_channel_has_let_go_and_its_restrike_is_over(restrike_ms: float, broken: int) -> None:
    """Two steps after the last pin, one of which it is held; 0.02 mm, which are 0.2 ms, are slack."""
    on = small(replace(HORN, restrike_ms=restrike_ms))
    for begins in (1, -1):
        assert told(on, at(0, 5), at(0, 7), begins=begins) == [("restrike", (0, 1), 200.0, -1)] * broken


@pytest.mark.parametrize(("restrike_ms", "broken"), [(1500.0, 0), (1500.25, 1)])
def test_a_held_note_may_be_followed_by_itself(restrike_ms: float, broken: int) -> None:
    for begins in (1, -1):
        faults = told(small(replace(HORN, restrike_ms=restrike_ms)), at(0, 5), begins=begins)
        assert faults == [("restrike", (0,), 1600.0, -1)] * broken
    assert told(small(HORN), at(0, 5), begins=0) == [("held", (0,), 1600.0, -1)]
    round_mm = PinType("round", 9, bridge_mm=158.0)
    once_round = small(HORN, pin_types=(PEG, round_mm), geometry=geometry(seams=False))
    assert told(once_round, at(0, 5, 1)) == [("restrike", (0,), 20.0, -1)]
    assert told(once_round, at(0, 5, 1), begins=-1) == []


@pytest.mark.parametrize(
    ("notes", "broken"),
    [((3, 3), 0), ((3, 4), 1), ((0, 1), 1), ((1, 0), 1), ((-1, 0), 0), ((0, -1), 0), ((-1, -1), 0), ((4, -1), 0)],
)
def test_a_pin_holds_on_the_note_before_it_unless_both_notes_are_known(notes: tuple[int, int], broken: int) -> None:
    on = small(HORN)
    assert told(on, at(0, 5), at(0, 6), begins=(1, 0), notes=notes) == [("held", (0, 1), 100.0, -1)] * broken
    assert rules(on, at(0, 5), at(0, 7), begins=(1, 0), notes=notes) == [("held", (0, 1))]


def test_what_is_held_for_just_the_slack_longer_is_held() -> None:
    """From the end of a bridge 1/32 mm, which is the slack more than the channel holds, exactly."""
    bridge = PinType("bridge", 9, bridge_mm=10 - 1 / 32)
    horn = replace(HORN, hold_mm=1 / 32 - pin_map.SLACK_MM)
    on = small(horn, pin_types=(PEG, bridge), geometry=geometry(pin_diameter_mm=0.01, pin_clearance_mm=0.0))
    for begins, notes in (((1, 0), -1), ((1, 0), (7, -1)), ((1, -1), -1)):
        assert told(on, at(0, 3, 1), at(0, 4), begins=begins, notes=notes) == []


def test_every_holding_channel_is_followed_by_itself() -> None:
    """Two of them between bars; each holds as long as it does, and a pin without a hole holds nothing on."""
    on = small(BAR, REED, BLOCK, HORN, lost=(LostHole("on", 3, channel="horn"),))
    pins = (at(3, 2), at(3, 3), at(3, 4), at(1, 2), at(1, 2.5), at(1, 3.5), at(0, 3), at(3, 4.5), at(1, 12))
    begins = (1, 0, 0, 1, 0, 0, 0, 0, -1)
    assert told(on, *pins, begins=begins) == [
        ("lost", (1,), 0.0, -1),
        ("held", (0, 2), 200.0, -1),
        ("held", (4, 5), 100.0, -1),
    ]
    unknown = told(on, *pins, begins=-1)
    assert unknown == [("lost", (1,), 0.0, -1), ("restrike", (4, 5), 100.0, -1)]


# --- limits ---


def limited(*limits: tuple[int, float], **changes: object) -> Wheel:
    """Bars, and a horn, all of which every limit counts; the block is not counted."""
    channels = (replace(BAR, **NEVER), replace(BAR, name="low", **NEVER), BLOCK, HORN)
    counted = tuple(StrikeLimit(str(n), ("bar", "low", "horn"), *limit) for n, limit in enumerate(limits))
    return small(*channels, strike_limits=counted, **changes)


def test_a_window_is_open_at_its_end() -> None:
    """A bar, the low bar half a step, 50 ms, after it and the block between."""
    pins = (at(0, 3), at(1, 3.5), at(2, 3), at(0, 9))
    assert told(limited((1, 50.0)), *pins) == []
    assert told(limited((1, 50.001)), *pins) == [("limit", (0, 1), 50.0, 0)]
    assert told(limited((1, 50.0), (2, 90.0), (1, 60.0)), *pins) == [("limit", (0, 1), 50.0, 2)]


def test_each_crowd_is_told_from_its_first_strike_also_round_the_end_of_the_turn() -> None:
    drum = geometry(seams=False)
    pins = (at(1, 0), at(0, 15), at(0, 0), at(1, 14.5), at(0, 7), at(0, 8), at(1, 7))
    assert told(limited((2, 150.001), geometry=drum), *pins) == [
        ("limit", (1, 0, 2), 100.0, 0),
        ("limit", (3, 1, 0), 150.0, 0),
        ("limit", (4, 6, 5), 100.0, 0),
    ]
    assert told(limited((2, 100.0), (3, 150.001), geometry=drum), *pins) == [("limit", (3, 1, 0, 2), 150.0, 1)]


def test_strikes_at_once_are_in_any_window() -> None:
    for on in (limited((1, 0.0)), limited((1, 0.0), pin_types=(PEG, LATE))):
        assert told(on, at(0, 3), at(1, 3)) == [("limit", (0, 1), 0.0, 0)]
    meet = (PEG, replace(STAYS, offset_mm=2.4984375), replace(STAYS, offset_mm=-2.4984375))
    for window_ms in (0.0, 0.2):
        on = limited((1, window_ms), pin_types=meet, geometry=FINE)
        assert told(on, at(0, 3, 1), at(1, 3.5, 2)) == [("limit", (0, 1), 0.0, 0)]


@pytest.mark.parametrize(("kinds", "apart_ms", "slack_ms"), [((0, 1), 110.0, 0.3), ((1, 1), 100.0, 0.0)])
def test_nor_is_the_rounding_of_offsets_a_crowd(kinds: tuple[int, int], apart_ms: float, slack_ms: float) -> None:
    for more_ms, broken in ((0.0, 0), (slack_ms, 0), (slack_ms + 0.1, 1)):
        on = limited((1, apart_ms + more_ms), pin_types=(PEG, LATE), geometry=FINE)
        assert told(on, at(0, 3, kinds[0]), at(1, 4, kinds[1])) == [("limit", (0, 1), apart_ms, 0)] * broken


def test_a_pin_that_holds_a_note_on_is_no_strike() -> None:
    pins = (at(3, 3), at(3, 4), at(0, 4))
    on = limited((1, 60.0))
    assert rules(on, *pins, begins=(1, 0, 0)) == rules(on, *pins, begins=(-1, -1, -1)) == []
    assert rules(on, *pins[1:], begins=(1, 0)) == [("limit", (0, 1))]


def test_pins_that_are_set_early_strike_with_their_notes() -> None:
    """The low bar's pins are half a step early: one at step 3 strikes with the bar's at step 3 1/2."""
    early = replace(BLOCK, name="low", advance_steps=Fraction(1, 2))
    on = small(
        replace(BAR, rows=("on",)), early, rows=(ON, HALF), strike_limits=(StrikeLimit("0", ("bar", "low"), 1, 50),)
    )
    assert told(on, at(0, 4), at(1, 3)) == []
    assert told(on, at(0, 3), at(1, 3)) == []
    assert told(replace(on, strike_limits=(replace(on.strike_limits[0], window_ms=51),)), at(0, 4), at(1, 3)) == [
        ("limit", (1, 0), 50.0, 0)
    ]
