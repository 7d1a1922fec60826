"""The best transposition and start of a song over all its turns, proved, and the next best."""

from __future__ import annotations

from fractions import Fraction

from pegwright.ask.options import FitOptions, SearchRange
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.fit.placing import TurnFit
from pegwright.frozen import frozen
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.search.bounds import bounds_of, can_be_bounded
from pegwright.search.choices import Choice
from pegwright.search.fits import SongFits
from pegwright.search.table import search_turns
from pegwright.units import fraction_text, plural, printed
from pegwright.wheel import Wheel


@frozen(eq=False)
class RankedFit:
    """One of the best ways to put a song on the wheel.

    Args:
        choice: the transposition, its best start, and what the two are worth.
        options: those of the song with the choice put in.
        fits: of it, turn by turn.
        equal_starts: starts of the same transposition that are worth as much, its own included, in steps from 0;
            only its own where they were not to be listed.
    """

    choice: Choice
    options: FitOptions
    fits: tuple[TurnFit, ...]
    equal_starts: tuple[int, ...]

    @property
    def placements(self) -> tuple[Placement, ...]:
        """The placement of every turn."""
        return tuple(fit.placement for fit in self.fits)


@frozen(eq=False)
class Best:
    """The outcome of a search.

    Args:
        ranked: one for each of the best transpositions, best first; never empty.
        transpositions, starts: how many of each were compared, every one with every other.
        gap: how much more weight another choice could place than the first at most; None where none could do better.

    >>> from pegwright import Request, bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> request = Request(search=SearchRange(semitones=2, every_steps=1), report_best=2)
    >>> best = fit_file(bundled_songs()[2], load_wheel(bundled_wheel()), request).best
    >>> best.transpositions, best.starts, best.gap is None
    (5, 192, True)
    >>> [(one.choice.transpose_semitones, one.choice.start_steps) for one in best.ranked]
    [(0, 1), (2, 1)]
    """

    ranked: tuple[RankedFit, ...]
    transpositions: int
    starts: int
    gap: int | None


def find_best(song: SongFits, over: SearchRange, count: int = 1, list_equal: bool = True) -> Best:
    """Compare every transposition and start of a range by what they are worth over all turns, and fit the best few.

    Args:
        song: the turns, the wheel, and and the options, whose own choice is kept where the range is 0.
        over: the range.
        count: how many transpositions to report, each at its best start.
        list_equal: whether starts that are equally good are listed; without them the search can be faster.

    Raises:
        UsageError: a range is out of its bounds, or the options do not suit score or wheel.
    """
    if over.semitones < 0 or over.every_steps < 0:
        raise UsageError("a range cannot be below 0", where="search", hint="give 0 to search nothing there")
    semitones = _transpositions(over, song.options)
    starts = _starts(over, song.options, song.wheel)
    best = None if list_equal or count > 1 else _at_its_bound(song, semitones, starts)
    if best is not None:
        return Best((_ranked_fit(song, best, (best.start_steps,)),), len(semitones), len(starts), None)
    table = search_turns(song.sounding, song.wheel, song.options, semitones, starts, best_few=count)
    ranked = tuple(_ranked_fit(song, choice, table.equals(choice)) for choice in table.ranked(count))
    return Best(ranked, len(semitones), len(starts), table.gap())


def search_finding(score: Score, best: Best) -> Finding:
    """What was searched and chosen, in one sentence."""
    choice, equal = best.ranked[0].choice, best.ranked[0].equal_starts
    semitones = choice.transpose_semitones
    way = "" if not semitones else " up" if semitones > 0 else " down"
    proof = "all compared"
    if best.gap is not None:
        more = f"up to {best.gap:,} more of weight" if best.gap else "as much with less deviation"
        proof = f"not proved, another could place {more}"
    message = (
        f"the best of {plural(best.transpositions, 'transposition')} x {plural(best.starts, 'start')}, {proof}: "
        f"{plural(abs(semitones), 'semitone')}{way}, starting on step {printed(choice.start_steps)} of the turn"
    )
    hint = f"{plural(len(equal) - 1, 'other start is', 'other starts are')} equally good" if len(equal) > 1 else ""
    return Finding("searched", Severity.NOTE, score.file, message, hint)


def _ranked_fit(song: SongFits, choice: Choice, equal_starts: tuple[int, ...]) -> RankedFit:
    at = choice.transpose_semitones, Fraction(choice.start_steps)
    return RankedFit(choice, song.options_at(*at), song.at(*at), equal_starts)


def _at_its_bound(song: SongFits, semitones: list[int], starts: list[int]) -> Choice | None:
    """The choice that is the best because it reaches the bound of all choices; None where none of those tried does.

    The song as it is and the choice with the best bound are tried.
    """
    if not can_be_bounded(song.options) or len(semitones) * len(starts) == 1:
        return None
    bounds = bounds_of(song.sounding, song.wheel, song.options, semitones, starts)
    (highest,) = bounds.ranked_by_bound(1)
    if 0 in semitones and 0 in starts:
        as_it_is = song.worth(0, 0)
        if as_it_is.rank <= highest.rank:
            return as_it_is
    tried = song.worth(highest.transpose_semitones, highest.start_steps)
    return tried if tried == highest else None


def _transpositions(over: SearchRange, options: FitOptions) -> list[int]:
    if not over.semitones:
        return [options.transpose_semitones]
    return list(range(-over.semitones, over.semitones + 1))


def _starts(over: SearchRange, options: FitOptions, wheel: Wheel) -> list[int]:
    if over.every_steps:
        return list(range(0, wheel.turn_steps, over.every_steps))
    if options.start_steps.denominator != 1:
        raise UsageError(
            f"start of {fraction_text(printed(options.start_steps))} is not a whole step",
            where="search",
            hint="search starts as well, or choose a whole step",
        )
    return [int(options.start_steps) % wheel.turn_steps]
