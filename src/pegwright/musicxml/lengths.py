"""How long the bars of a MusicXML score are, and what is reported about those that are not as long as their metre."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction

from pegwright.findings import Notices
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.time import DEFAULT_METRE, in_force
from pegwright.musicxml.written import BarReach, WrittenPart
from pegwright.score import bar_name

_ROUNDING_QUARTERS = Fraction(1, 32)  # a 128th: sums of rounded lengths are off by less, written music by more

Metre = tuple[int, int] | None


def bar_lengths(parts: Sequence[WrittenPart], labels: Sequence[str], notices: Notices) -> list[Fraction]:
    """Quarters of every written bar.

    A bar is as long as its sounding notes in voice order, and up to its metre as long as the rests and gaps besides.
    Rests of parts without notes fit any bar, since programs write a full bar's rest into a pickup too. A bar with
    nothing at all lasts as long as its metre. The last bar ends with its last note or rest, not with an empty gap
    behind it, where that makes up a full bar with the pickup at the beginning.

    Args:
        parts: of the score.
        labels: of the written bars, for findings.
        notices: is given what was done about the bars that are empty, uneven or not as long as their metre.
    """
    metres = in_force([part.metres for part in parts], len(labels), None)
    lengths = []
    bars: defaultdict[Notice, list[int]] = defaultdict(list)
    by_bar: list[list[BarReach]] = [[] for _ in metres]
    for part in parts:
        for bar, reach in part.reaches.items():
            by_bar[bar].append(reach)
    for bar, (metre, reaches) in enumerate(zip(metres, by_bar, strict=True)):
        length, notice = _length(reaches, metre_quarters(metre), metre is not None)
        if notice is not None:
            bars[Notice.PICKUP if notice is Notice.SHORT_BAR and bar == 0 and len(metres) > 1 else notice].append(bar)
        bars[Notice.UNEVEN_BAR] += [bar] * sum(reach.notes > 0 and reach.gaps < length for reach in reaches)
        lengths.append(length)
    last = max(reach.written for reach in by_bar[-1])
    if len(lengths) > 1 and 0 < last < lengths[-1] and last + lengths[0] == metre_quarters(metres[-1]):
        lengths[-1] = last
        if metres[-1] is not None:
            bars[Notice.SHORT_BAR].append(len(metres) - 1)
    for notice, places in bars.items():
        for bar in places:
            notices.add(notice, where=f"{notices.file}:{bar_name(labels[bar])}")
    return lengths


def metre_quarters(metre: Metre) -> Fraction:
    """How long a bar of a metre is; without one as of common time."""
    beats, beat_type = metre or DEFAULT_METRE
    return Fraction(4 * beats, beat_type)


def _length(reaches: Sequence[BarReach], full: Fraction, metred: bool) -> tuple[Fraction, Notice | None]:
    """How long a bar is, and what is to be reported about it.

    Args:
        reaches: of the parts that have the bar.
        full: quarters of its metre.
        metred: the metre is stated.
    """
    notes = max(reach.notes for reach in reaches)
    reached = max((reach.gaps for reach in reaches if reach.notes), default=Fraction(0))
    reached = reached or max(reach.rests for reach in reaches)
    if not reached:
        return full, Notice.EMPTY_BAR
    if not metred:
        return reached, None
    if notes > full:
        # A last note that sticks out does not lengthen a bar that another voice fills, or by a rounding.
        holds = notes - full < _ROUNDING_QUARTERS or any(full in reach.voices for reach in reaches)
        if holds and max(reach.last_onset for reach in reaches) < full:
            return full, Notice.NOTES_PAST_BAR
        return notes, Notice.LONG_BAR
    if reached < full:
        return reached, Notice.SHORT_BAR
    furthest = max(reach.furthest for reach in reaches)
    return full, Notice.PAST_BAR if furthest > full else None
