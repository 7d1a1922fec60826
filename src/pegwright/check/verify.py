"""An independent check of a placement: every rule computed again from score, wheel and placement.

Shares no code with the solver or the hole grid, so that an error in either is seen. It proves that every rule
is kept, that every reason is true and that no note left out could simply be added. That no other placement is
better is the solver's claim, which the tests hold against exhaustive search and a general solver.
"""

from __future__ import annotations

from collections.abc import Iterator

from pegwright.check import notes, pins
from pegwright.check.reasons import reasons
from pegwright.check.shape import shape
from pegwright.check.subject import Subject, pins_of, subject_of
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

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
    broken = tuple(shape(score, wheel, placement))
    if broken:
        return broken  # the other rules cannot be checked on columns that do not fit
    return tuple(_rules(subject_of(score, wheel, placement)))


def _rules(subject: Subject) -> Iterator[str]:
    """Every broken rule but those of the columns' shape."""
    yield from notes.channels(subject)
    yield from notes.shared_strikes(subject)
    missing = tuple(notes.holes(subject))
    yield from missing
    if missing:
        return  # the other rules need a place for every pin
    standing = pins_of(subject)
    for rule in PIN_RULES:
        yield from rule(subject, standing)
