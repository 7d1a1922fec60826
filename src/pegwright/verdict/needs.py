"""What a piece needs at each of its transpositions: the input of the coverage model of a build-out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import TypeAlias

from pegwright.ask.options import SearchRange
from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition, any_wheel
from pegwright.remedy.lacking import Additions
from pegwright.remedy.trials import KnownWheels, Trials
from pegwright.remedy.wheel_changes import MAX_ROUNDS
from pegwright.score import Score
from pegwright.search.best import find_best
from pegwright.search.bounds import bounds_of, can_be_bounded
from pegwright.search.fits import SongFits
from pegwright.verdict.judge import song_fits
from pegwright.wheel import Wheel

Need: TypeAlias = tuple[tuple[Addition, ...], ...]  # one addition of each of these lists


@frozen()
class Way:
    """A piece at one transposition, in the coverage model.

    Args:
        transpose_semitones, start_steps: the choice.
        sounding: notes that sound on the wheel as it is.
        needs: of the others what each needs, with how many notes need exactly that.
        beyond: notes that no addition helps.
    """

    transpose_semitones: int
    start_steps: int
    sounding: int
    needs: tuple[tuple[Need, int], ...]
    beyond: int


@frozen()
class PieceNeeds:
    """A piece in the coverage model.

    Args:
        notes: of the piece.
        ways: its transpositions, those that differ in nothing else once.
    """

    notes: int
    ways: tuple[Way, ...]


def piece_needs(
    score: Score,
    wheel: Wheel,
    semitones: int,
    fold_octaves: bool = False,
    could_be_made: Callable[[Wheel], bool] = any_wheel,
) -> PieceNeeds:
    """Compute what a piece needs at every transposition, each with one start: that which could be worth most.

    Args:
        score: the whole song.
        wheel: as it is.
        semitones: the farthest transposition, either way.
        fold_octaves: whether a pitch without a channel may sound some octaves away.
        could_be_made: whether a wheel could be made.

    Raises:
        UsageError: song and wheel do not go together.
    """
    fits = song_fits(score, wheel, fold_octaves)
    known: KnownWheels = {}
    ways: dict[object, Way] = {}
    for transpose_semitones, start_steps in _choices(fits, semitones):
        at = transpose_semitones, Fraction(start_steps)
        song = SongFits(fits.turns, wheel, fits.options_at(*at))
        trials = Trials(song, fits.placements(*at), could_be_made, known=known)
        way = Way(transpose_semitones, start_steps, *_needs(trials))
        ways.setdefault((way.sounding, way.needs, way.beyond), way)
        for additions in [each for each in known if len(each) > 1]:
            del known[additions]  # of no use at another transposition, and large
    return PieceNeeds(sum(turn.note_count for turn in fits.turns), tuple(ways.values()))


def _choices(fits: SongFits, semitones: int) -> Iterator[tuple[int, int]]:
    """Every transposition, the nearest first, with the start that has the best bound; or all with the best start."""
    transpositions = sorted(range(-semitones, semitones + 1), key=lambda each: (abs(each), -each))
    if can_be_bounded(fits.options):
        starts = range(fits.wheel.turn_steps)
        bounds = bounds_of(fits.sounding, fits.wheel, fits.options, transpositions, starts)
        start = {each.transpose_semitones: each.start_steps for each in bounds.ranked_by_bound(len(transpositions))}
        yield from ((each, start[each]) for each in transpositions)
    else:
        best = find_best(fits, SearchRange(semitones, every_steps=1), list_equal=False).ranked[0].choice
        yield from ((each, best.start_steps) for each in transpositions)


def _needs(trials: Trials) -> tuple[int, tuple[tuple[Need, int], ...], int]:
    """How many notes sound, what the others need, and how many are beyond help.

    What a note lacks is added, for all notes together, round after round; a note needs all that it lacked in the
    rounds in which it was silent. Notes that sound now and not with the additions count as sounding.
    """
    first = trials.lacked() or ()
    lists: dict[tuple[int, int], list[tuple[Addition, ...]]] = {
        (turn, note): [] for turn, lacked in enumerate(first) for note in lacked
    }
    additions: Additions = frozenset()
    silent: set[tuple[int, int]] = set(lists)
    by_turn: tuple[dict[int, tuple[Addition, ...]], ...] | None = first
    for _ in range(MAX_ROUNDS):
        new: set[Addition] = set()
        for turn, lacked in enumerate(by_turn or ()):
            for note, choice in lacked.items():
                if choice and (turn, note) in silent:
                    lists[turn, note].append(choice)
                    new.add(choice[0])
        if not new - additions:
            break
        additions |= new
        by_turn = trials.lacked(additions)
        if by_turn is None:
            break
        silent &= {(turn, note) for turn, lacked in enumerate(by_turn) for note in lacked}
    silent |= {note for note, needed in lists.items() if not needed}  # it sounds by chance, as others are moved
    needs = Counter(tuple(dict.fromkeys(lists[note])) for note in lists if note not in silent)
    sounding = sum(turn.note_count for turn in trials.turns) - len(lists)
    return sounding, tuple(sorted(needs.items(), key=_order)), len(silent)


def _order(need: tuple[Need, int]) -> tuple[tuple[object, ...], ...]:
    return tuple(tuple(addition.order() for addition in choice) for choice in need[0])
