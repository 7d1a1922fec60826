"""An independent check of a placement: every rule computed again from score, wheel and placement.

Shares no code with the solver or the hole grid, so that an error in either is seen. It proves that every rule
is kept, that every reason is true and that no note left out could simply be added. That no other placement is
better is the solver's claim, which the tests hold against exhaustive search and a general solver.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pegwright.check import notes, pins
from pegwright.check.reasons import reasons
from pegwright.check.shape import columns, shape
from pegwright.check.subject import Subject, Turn, lane_ticks, pins_of, settings, subject_of
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

BATCH_NOTES = 8192  # checked in one pass
MAX_TICKS = 2**60  # of all lanes of a pass one after another: places on them are numbers of 64 bits
PIN_RULES = (
    pins.one_pin_a_hole,
    pins.pin_types,
    pins.deviations,
    pins.order,
    pins.restrike,
    pins.touching,
    pins.within_plate,
    pins.limits,
    pins.totals,
    reasons,
)


def verify(score: Score, wheel: Wheel, placement: Placement) -> tuple[str, ...]:
    """Check every rule.

    Args:
        score: what was fitted.
        wheel: what it was fitted to.
        placement: the outcome of every note.

    Returns:
        Every broken rule as a sentence; none where the placement is sound.
    """
    return verify_turns(((score, placement),), wheel)


def verify_turns(turns: Sequence[Turn], wheel: Wheel) -> tuple[str, ...]:
    """Check every rule for turns of a song, whose pins are all on plates of their own; see `verify`.

    The notes of many turns are checked in one pass, because a pass for each takes long where turns are many.
    """
    broken = tuple(sentence for score, placement in turns for sentence in shape(score, wheel, placement))
    if broken:
        return broken  # the other rules cannot be checked on columns that do not fit
    return tuple(sentence for batch in _batches(turns, wheel) for sentence in _rules(subject_of(batch, wheel)))


def _batches(turns: Sequence[Turn], wheel: Wheel) -> list[Sequence[Turn]]:
    """Turns that can be checked in one pass: alike in all that is no column, and not too many for memory."""
    batches, first, notes = [], 0, 0
    for place, (score, placement) in enumerate(turns):
        full = notes + score.note_count > BATCH_NOTES or (place - first + 1) * lane_ticks(wheel, placement) > MAX_TICKS
        if place > first and (full or settings(*turns[first]) != settings(score, placement)):
            batches.append(turns[first:place])
            first, notes = place, 0
        notes += score.note_count
    return [*batches, turns[first:]]


def _rules(subject: Subject) -> Iterator[str]:
    """Every broken rule but those of the columns' shape."""
    misfits = tuple(columns(subject))
    yield from misfits
    if misfits:
        return  # as above
    yield from notes.channels(subject)
    yield from notes.shared_strikes(subject)
    missing = tuple(notes.holes(subject))
    yield from missing
    if missing:
        return  # the other rules need a place for every pin
    standing = pins_of(subject)
    for rule in PIN_RULES:
        yield from rule(subject, standing)
