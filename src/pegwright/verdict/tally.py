"""The verdicts of many pieces together: how they fall into groups, and what is missing most.

A piece is *let in* by some additions if it does not fit at its best choice, fits as a whole on the wheel with
exactly what it lacks added, and all of that is among the additions. So making the additions lets in at least
these pieces, each at the transposition and start that is its best without them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from enum import StrEnum
from itertools import combinations
from math import comb

from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition
from pegwright.remedy.lacking import Additions
from pegwright.remedy.piece_lacks import MAX_ADDITIONS
from pegwright.verdict.build_out import BuildOut
from pegwright.verdict.values import SurveyRow, Verdict
from pegwright.wheel import Wheel

NEARLY = 0.95  # a piece nearly fits if at least this share of its notes sounds at the best choice
MAX_TRIALS = 2_000_000  # combinations x needs that are tried one by one; beyond, additions are chosen greedily


class FitGroup(StrEnum):
    """Where a piece belongs, best first."""

    FITS = "fits"
    FITS_WITH_START = "fits-with-start"
    FITS_WITH_TRANSPOSITION = "fits-with-transposition"
    NEARLY_FITS = "nearly-fits"
    DOES_NOT_FIT = "does-not-fit"
    NOT_JUDGED = "not-judged"


@frozen()
class Missing:
    """One addition and the pieces that lack it.

    Args:
        addition: what could be added.
        lacked_by: pieces that do not fit and lack it, possibly among other additions.
        lets_in: pieces that it lets in alone.
        notes: notes that lack it, in all those pieces together.
    """

    addition: Addition
    lacked_by: int
    lets_in: int
    notes: int = 0


@frozen()
class Together:
    """The additions, of a given number, that let the most pieces in.

    Args:
        additions: sorted.
        lets_in: pieces that they let in together.
        exact: whether this is proved to be the maximum for that number; else they were chosen greedily.
    """

    additions: tuple[Addition, ...]
    lets_in: int
    exact: bool


@frozen()
class SurveyTally:
    """Many pieces on one wheel.

    Args:
        groups: the rows of every group, sorted for reading.
        missing: every addition that a piece lacks, the one that lets most pieces in first.
        together: the best two additions, three, and so on, as long as one more lets further pieces in.
    """

    groups: dict[FitGroup, tuple[SurveyRow, ...]]
    missing: tuple[Missing, ...]
    together: tuple[Together, ...]


@frozen()
class BuiltOut:
    """A set of additions and the pieces fitted to the wheel with them, each at its best transposition and start.

    Args:
        chosen: the set.
        pieces: that fit.
        sounding: notes that sound, of all pieces.
    """

    chosen: BuildOut
    pieces: int
    sounding: int


@frozen()
class BuildOutTable:
    """What to build next.

    Args:
        additions: from which the sets were chosen.
        pieces: that fit on the wheel as it is.
        sounding: notes that sound on the wheel as it is, of all pieces that were judged.
        notes: of those pieces.
        not_computed: pieces that do not fit and of which it could not be computed what they need.
        sets: the best of at most 1 addition, of at most 2 and so on, as far as one more helps in the model; one that
            does no better after a new fit than those before it is replaced by the best of them.
    """

    additions: int
    pieces: int
    sounding: int
    notes: int
    not_computed: int
    sets: tuple[BuiltOut, ...]


@frozen(eq=False)
class Survey:
    """A folder of scores on a wheel.

    Args:
        folder: its name.
        semitones: the farthest transposition tried either way.
        passed_over: files of other kinds.
        wheel: the wheel.
        rows: one for each path, by path.
        counted: their groups and what is missing.
        fold_octaves: whether pitches without a channel were moved by octaves.
        build_out: what to build next, where that was to be computed.
    """

    folder: str
    semitones: int
    passed_over: int
    wheel: Wheel
    rows: tuple[SurveyRow, ...]
    counted: SurveyTally
    fold_octaves: bool = False
    build_out: BuildOutTable | None = None


def group_of(row: SurveyRow) -> FitGroup:
    """The group of one row."""
    verdict = row.verdict
    if verdict is None:
        return FitGroup.NOT_JUDGED
    if verdict.fits_as_is:
        return FitGroup.FITS
    if verdict.fits:
        return FitGroup.FITS_WITH_TRANSPOSITION if verdict.transpose_semitones else FitGroup.FITS_WITH_START
    return FitGroup.NEARLY_FITS if verdict.at_best.share >= NEARLY else FitGroup.DOES_NOT_FIT


def tally(rows: Iterable[SurveyRow]) -> SurveyTally:
    """Put rows into groups and count what is missing."""
    groups: dict[FitGroup, list[SurveyRow]] = {group: [] for group in FitGroup}
    for row in rows:
        groups[group_of(row)].append(row)
    wanting = [row.verdict for row in (*groups[FitGroup.NEARLY_FITS], *groups[FitGroup.DOES_NOT_FIT]) if row.verdict]
    return SurveyTally(
        groups={group: tuple(sorted(members, key=_reading_order)) for group, members in groups.items()},
        missing=_missing(wanting),
        together=_together(wanting),
    )


def _reading_order(row: SurveyRow) -> tuple[float, int, int, str, str]:
    verdict = row.verdict
    if verdict is None:
        return 0.0, 0, 0, "", row.path
    semitones = verdict.transpose_semitones if verdict.fits and not verdict.fits_as_is else 0
    return -verdict.at_best.share, abs(semitones), -semitones, verdict.title.casefold(), row.path


def _missing(verdicts: Sequence[Verdict]) -> tuple[Missing, ...]:
    lacked = Counter(addition for verdict in verdicts for addition in verdict.lacks)
    alone = Counter(verdict.lacks[0] for verdict in verdicts if verdict.let_in and len(verdict.lacks) == 1)
    notes: Counter[Addition] = Counter()
    for verdict in verdicts:
        notes.update(dict(zip(verdict.lacks, verdict.lack_notes, strict=False)))  # it may have no numbers
    missing = [Missing(addition, count, alone[addition], notes[addition]) for addition, count in lacked.items()]
    return tuple(sorted(missing, key=lambda each: (-each.lets_in, -each.lacked_by, each.addition.order())))


def _together(verdicts: Sequence[Verdict]) -> tuple[Together, ...]:
    needs = Counter(frozenset(verdict.lacks) for verdict in verdicts if verdict.let_in)
    best: list[Together] = []
    before = max((count for need, count in needs.items() if len(need) == 1), default=0)
    for count in range(2, MAX_ADDITIONS + 1):
        together = best_additions(needs, count)
        if together.lets_in > before:
            best.append(together)
            before = together.lets_in
    return tuple(best)


def best_additions(needs: Counter[Additions], count: int) -> Together:
    """The additions, at most `count`, that contain the needs of the most pieces; the first in order of equals.

    Args:
        needs: what pieces need, each with how many pieces need exactly that.
        count: how many additions may be made, at least 1.
    """
    within = Counter({need: pieces for need, pieces in needs.items() if len(need) <= count})
    additions = sorted({addition for need in within for addition in need}, key=Addition.order)
    if len(additions) <= count:
        return Together(tuple(additions), within.total(), exact=True)
    exact = comb(len(additions), count) * len(within) <= MAX_TRIALS
    chosen = _every(within, additions, count) if exact else _greedy(within, additions, count)
    used = {addition for need in within if need <= chosen for addition in need}
    return Together(tuple(sorted(used, key=Addition.order)), _let_in(within, chosen), exact)


def _every(needs: Counter[Additions], additions: Sequence[Addition], count: int) -> Additions:
    """The first best of all combinations; needs and combinations are bits of integers."""
    bit = {addition: 1 << number for number, addition in enumerate(additions)}
    masks = [(sum(bit[addition] for addition in need), pieces) for need, pieces in needs.items()]
    best, maximum = 0, -1
    for combination in combinations(bit.values(), count):
        outside = ~sum(combination)
        lets_in = sum(pieces for mask, pieces in masks if not mask & outside)
        if lets_in > maximum:
            best, maximum = ~outside, lets_in
    return frozenset(addition for addition in additions if bit[addition] & best)


def _greedy(needs: Counter[Additions], additions: Sequence[Addition], count: int) -> Additions:
    """Add, repeatedly, what one more kind of piece still needs: that which lets in most pieces for each addition."""
    order = {addition: number for number, addition in enumerate(additions)}
    chosen: Additions = frozenset()
    while True:
        gains = []
        for need in needs:
            new = need - chosen
            if 0 < len(new) <= count - len(chosen):
                gain = _let_in(needs, chosen | new) - _let_in(needs, chosen)
                gains.append((-gain / len(new), len(new), sorted(order[addition] for addition in new)))
        if not gains:
            return chosen
        chosen |= {additions[number] for number in min(gains)[2]}


def _let_in(needs: Counter[Additions], chosen: Collection[Addition]) -> int:
    return sum(pieces for need, pieces in needs.items() if need.issubset(chosen))
