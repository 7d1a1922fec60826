"""The build-out of a survey: what every piece needs, the sets of additions, and each piece fitted with them."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from enum import StrEnum
from functools import partial
from itertools import accumulate
from typing import Any, TypeAlias

from pegwright.config.wheel_file import could_be_loaded
from pegwright.frozen import frozen
from pegwright.survey.files import Listed
from pegwright.survey.job import best_with_sets, needs_of_file
from pegwright.survey.journal import Journal
from pegwright.survey.needs_text import needs_from
from pegwright.survey.workers import Failed
from pegwright.verdict.build_out import BuildOut, build_outs, coverage_of
from pegwright.verdict.needs import PieceNeeds, Way
from pegwright.verdict.tally import BuildOutTable, BuiltOut
from pegwright.verdict.values import SurveyRow, Verdict
from pegwright.wheel import Wheel

Results: TypeAlias = Callable[[Callable[[Listed], Any], Sequence[Listed]], Iterator[tuple[int, Any]]]
NEEDS = "needs"


class Phase(StrEnum):
    """What a survey does with its files, one after another."""

    JUDGE = "Judging"
    NEEDS = "Finding what is lacking"
    FIT = "Fitting with additions"


@frozen()
class Surveyed:
    """A folder whose pieces have been judged.

    Args:
        wheel: the wheel.
        semitones: the farthest transposition tried either way.
        fold_octaves: whether pitches without a channel were moved by octaves.
        pieces: every file with its verdict.
    """

    wheel: Wheel
    semitones: int
    fold_octaves: bool
    pieces: tuple[tuple[Listed, Verdict], ...]


def built_out(surveyed: Surveyed, count: int, journal: Journal, results: Callable[[Phase], Results]) -> BuildOutTable:
    """Choose the sets of 1 to `count` additions, and fit every piece to the wheel with each of them.

    Args:
        surveyed: the pieces.
        count: how many additions.
        journal: where what was computed before is, and what is computed now is kept.
        results: for a phase, what does a job for each of some files, in any order: its number and result.
    """
    wheel, verdicts = surveyed.wheel, [verdict for _, verdict in surveyed.pieces]
    short = [listed for listed, verdict in surveyed.pieces if not verdict.fits]
    job = partial(needs_of_file, wheel=wheel, semitones=surveyed.semitones, fold_octaves=surveyed.fold_octaves)
    needs = {name: needs_from(fact) for name, fact in _facts(short, NEEDS, job, journal, results(Phase.NEEDS)).items()}
    pieces = [needs.get(listed.name) or _as_it_is(verdict) for listed, verdict in surveyed.pieces]
    model = coverage_of(pieces, wheel, could_be_loaded)
    sets = build_outs(model, count)
    best = partial(
        best_with_sets,
        wheel=wheel,
        semitones=surveyed.semitones,
        fold_octaves=surveyed.fold_octaves,
        sets=tuple(each.additions for each in sets),
    )
    codes = repr([[addition.code for addition in each.additions] for each in sets])
    kind = f"sounding with {hashlib.sha256(codes.encode()).hexdigest()}"
    sounding = _facts(short, kind, best, journal, results(Phase.FIT)) if sets else {}
    return BuildOutTable(
        additions=len(model.additions),
        pieces=sum(verdict.fits for verdict in verdicts),
        sounding=sum(verdict.at_best.count.sounding for verdict in verdicts),
        notes=sum(verdict.at_best.count.read for verdict in verdicts),
        not_computed=len(
            {listed.name for listed in short} - (needs.keys() & (sounding.keys() if sets else needs.keys()))
        ),
        sets=best_so_far(
            BuiltOut(
                BuildOut((), model.covered(()), 0, 0),
                sum(verdict.fits for verdict in verdicts),
                sum(verdict.at_best.count.sounding for verdict in verdicts),
            ),
            [_built(number, each, surveyed, sounding) for number, each in enumerate(sets)],
        ),
    )


def best_so_far(now: BuiltOut, tried: Sequence[BuiltOut]) -> tuple[BuiltOut, ...]:
    """For each set that was tried the best up to it, by what was fitted: the model can promise more than a fit gives.

    Args:
        now: the wheel as it is, with no addition.
        tried: the sets of 1, 2, ... additions.
    """
    return tuple(accumulate(tried, _better, initial=now))[1:]


def _better(best: BuiltOut, other: BuiltOut) -> BuiltOut:
    return other if (other.pieces, other.sounding) > (best.pieces, best.sounding) else best


def _built(number: int, chosen: BuildOut, surveyed: Surveyed, sounding: dict[str, Any]) -> BuiltOut:
    """A set with what sounds; a piece that fits does so with additions too, one not computed is as it was.

    Args:
        number: of the set.
        chosen: the set.
        surveyed: the pieces.
        sounding: for the pieces that were fitted again the notes that sound, for each set.
    """
    pieces = notes = 0
    for listed, verdict in surveyed.pieces:
        count = verdict.at_best.count
        now = sounding[listed.name][number] if listed.name in sounding else count.sounding
        pieces += now == count.read
        notes += now
    return BuiltOut(chosen, pieces, notes)


def _facts(
    files: Sequence[Listed], kind: str, job: Callable[[Listed], Any], journal: Journal, results: Results
) -> dict[str, Any]:
    """What a job gives for each file, by name, as far as it could be computed; what the journal has is not repeated.

    Args:
        files: some.
        kind: of what it gives, in the journal.
        job: that gives it as JSON, or None where the file cannot be read any more.
        journal: of the survey.
        results: does the job for files.
    """
    facts = {listed.name: fact for listed in files if (fact := journal.fact(listed, kind)) is not None}
    waiting = [listed for listed in files if listed.name not in facts]
    for number, fact in results(job, waiting):
        if fact is not None and not isinstance(fact, Failed):
            journal.keep_fact(waiting[number], kind, fact)
            facts[waiting[number].name] = fact
    return {listed.name: facts[listed.name] for listed in files if listed.name in facts}


def _as_it_is(verdict: Verdict) -> PieceNeeds:
    """A piece that needs nothing, or of which nothing is known but what sounds now."""
    count = verdict.at_best.count
    way = Way(verdict.transpose_semitones, verdict.start_steps, count.sounding, (), count.left_out)
    return PieceNeeds(count.read, (way,))


def judged(rows: Sequence[SurveyRow], files: Sequence[Listed]) -> tuple[tuple[Listed, Verdict], ...]:
    """The files that have a verdict, with it."""
    return tuple((listed, row.verdict) for listed, row in zip(files, rows, strict=True) if row.verdict)
