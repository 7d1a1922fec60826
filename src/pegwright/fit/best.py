"""The best few ways to put a song on a wheel, each fitted in full."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.fit.fit_song import fit_song
from pegwright.fit.options import FitOptions
from pegwright.fit.search import Choice, search
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.units import plural, printed
from pegwright.wheel import Wheel


@dataclass(frozen=True, slots=True)
class SearchRange:
    """What a search may change.

    Args:
        semitones: the farthest transposition either way; 0 keeps the one that is asked for.
        every_steps: starts are tried on the first step and every so many after it; 0 keeps the one asked for.
    """

    semitones: int = 0
    every_steps: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """One of the best ways.

    Args:
        choice: the transposition, its best start, and what the two are worth.
        options: those of the song with the choice put in.
        placement: what comes of it.
        findings: of that fit.
        equal_starts: starts of the same transposition that are worth as much, this one included.
    """

    choice: Choice
    options: FitOptions
    placement: Placement
    findings: tuple[Finding, ...]
    equal_starts: int


@dataclass(frozen=True, slots=True, eq=False)
class Best:
    """What a search found.

    Args:
        found: one for each of the best transpositions, best first; never empty.
        transpositions, starts: how many of each were weighed, every one with every other.
        gap: how much more weight another choice could place than the first at most; None where none could do better.
    """

    found: tuple[Found, ...]
    transpositions: int
    starts: int
    gap: int | None


def find_best(score: Score, wheel: Wheel, options: FitOptions, over: SearchRange, count: int = 1) -> Best:
    """Weigh every transposition and start of a range and fit the best few.

    Args:
        score: the song.
        wheel: the wheel.
        options: what the search does not change, and what the range keeps.
        over: the range.
        count: how many transpositions to report, each at its best start.

    Raises:
        UsageError: a range is out of its bounds, or the options do not suit score or wheel.
    """
    if over.semitones < 0 or over.every_steps < 0:
        raise UsageError("a range cannot be below 0", where="search", hint="give 0 to search nothing there")
    semitones = _transpositions(over, options)
    starts = _starts(over, options, wheel)
    weighed = search(score, wheel, options, semitones, starts, best_few=count)
    found = []
    for choice in weighed.ranked(count):
        chosen = replace(
            options, transpose_semitones=choice.transpose_semitones, start_steps=Fraction(choice.start_steps)
        )
        placement, findings = fit_song(score, wheel, chosen)
        found.append(Found(choice, chosen, placement, findings, weighed.equals(choice)))
    return Best(tuple(found), len(semitones), len(starts), weighed.gap())


def search_finding(score: Score, best: Best) -> Finding:
    """What was searched and chosen, in one sentence."""
    choice, equal = best.found[0].choice, best.found[0].equal_starts
    semitones = choice.transpose_semitones
    way = "" if not semitones else " up" if semitones > 0 else " down"
    sure = "all weighed"
    if best.gap is not None:
        more = f"up to {best.gap:,} more of weight" if best.gap else "as much with less deviation"
        sure = f"though not proved, for another could place {more}"
    message = (
        f"the best of {plural(best.transpositions, 'transposition')} x {plural(best.starts, 'start')}, {sure}: "
        f"{plural(abs(semitones), 'semitone')}{way}, starting on step {printed(choice.start_steps)} of the turn"
    )
    hint = f"{plural(equal - 1, 'other start does', 'other starts do')} as well" if equal > 1 else ""
    return Finding("searched", Severity.NOTE, score.file, message, hint)


def _transpositions(over: SearchRange, options: FitOptions) -> list[int]:
    if not over.semitones:
        return [options.transpose_semitones]
    return list(range(-over.semitones, over.semitones + 1))


def _starts(over: SearchRange, options: FitOptions, wheel: Wheel) -> list[int]:
    if over.every_steps:
        return list(range(0, wheel.turn_steps, over.every_steps))
    if options.start_steps.denominator != 1:
        raise UsageError(
            f"start of {options.start_steps} steps is not a whole step",
            where="search",
            hint="search starts as well, or choose a whole step",
        )
    return [int(options.start_steps) % wheel.turn_steps]
