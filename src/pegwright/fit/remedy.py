"""Remedies: changes that were tried on the whole song and found to help, best first.

Every remedy was computed by fitting the song with the change made, so what it claims is so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.errors import UsageError
from pegwright.fit.audible import Audibility, audibility
from pegwright.fit.changes import Change, Kind, apply_changes, start_on
from pegwright.fit.changes_to_try import changes_to_try
from pegwright.fit.fit_song import place_song
from pegwright.fit.options import FitOptions
from pegwright.fit.search import search
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

SILENT = 4  # worse than any audibility of a note that sounds
PAIRED = 6  # of the best single changes, tried with every other
TRIPLED = 3  # of the best pairs, tried with every other
PER_NOTE = 3  # remedies told of one note


@dataclass(frozen=True, slots=True)
class Worth:
    """What a song amounts to on a wheel; less of each is better, the earlier ones first.

    Args:
        silent: notes that no pin sounds.
        audible: notes placed where a listener is likely to notice.
        merged: notes that became one strike with a note of another written pitch, such as an octave below.
        moved: notes placed elsewhere at all.
    """

    silent: int
    audible: int
    merged: int
    moved: int

    def __lt__(self, other: Worth) -> bool:
        return self._order < other._order

    @property
    def _order(self) -> tuple[int, int, int, int]:
        return self.silent, self.audible, self.merged, self.moved


@dataclass(frozen=True, slots=True)
class Remedy:
    """Changes that help the song, and what the song is worth with them.

    Args:
        changes: to be made together.
        worth: of the whole song with them.
    """

    changes: tuple[Change, ...]
    worth: Worth


@dataclass(frozen=True, slots=True)
class NoteRemedy:
    """A single change that helps one note.

    Args:
        change: see there.
        level: the note's audibility with it, EXACT at best.
        worth: of the whole song with it: what it costs elsewhere.
    """

    change: Change
    level: Audibility
    worth: Worth


@dataclass(frozen=True, slots=True)
class Remedies:
    """What would help.

    Args:
        now: the song without any change.
        song: remedies for the song as a whole, best first, each better than `now`.
        notes: for each troubled note (0-based) its remedies, best first; empty where none was found.
        tried: how many fits were made to find them.
    """

    now: Worth
    song: tuple[Remedy, ...]
    notes: dict[int, tuple[NoteRemedy, ...]]
    tried: int


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    remedy: Remedy
    levels: Ints


def levels_of(score: Score, placement: Placement) -> Ints:
    """Shape (n,): each note's audibility, or SILENT where no pin sounds it."""
    heard = audibility(score, placement)
    sounding = sounding_notes(placement)
    return np.where(heard >= 0, heard, np.where(sounding, Audibility.EXACT, SILENT))


def sounding_notes(placement: Placement) -> NDArray[np.bool_]:
    """Shape (n,): whether a pin sounds each note, its own or that of the same strike."""
    placed = placement.outcome == Outcome.PLACED
    by_another = (placement.unison >= 0) & placed[np.maximum(placement.unison, 0)]
    sounding: NDArray[np.bool_] = placed | by_another
    return sounding


def find_remedies(score: Score, wheel: Wheel, options: FitOptions, placement: Placement, count: int = 5) -> Remedies:
    """Try changes, alone and together, and keep what helps.

    Args:
        score: the song.
        wheel: the wheel.
        options: as the song was fitted.
        placement: what came of it.
        count: how many remedies for the whole song to give.
    """
    levels = levels_of(score, placement)
    now = _worth(levels, _merged(score, placement))
    troubled = np.flatnonzero((levels >= Audibility.SLIGHT) & (placement.outcome != Outcome.PAST_TURN))
    if not len(troubled):
        return Remedies(now, (), {}, 0)
    bench = _Bench(score, wheel, options)
    singles = [trial for change in changes_to_try(score, wheel, options, placement) if (trial := bench.fit((change,)))]
    together = _together(bench, singles, now)
    better = {trial.remedy.changes: trial.remedy for trial in (*singles, *together) if trial.remedy.worth < now}
    song = sorted(better.values(), key=_rank)
    notes = {int(note): _for_note(int(note), levels, singles) for note in troubled}
    return Remedies(now, tuple(_distinct(song))[:count], notes, bench.tried)


class _Bench:
    """Fits the song with changes made, each set of changes once."""

    def __init__(self, score: Score, wheel: Wheel, options: FitOptions) -> None:
        self.tried = 0
        self._score, self._wheel, self._options = score, wheel, options
        self._done: dict[tuple[Change, ...], _Trial | None] = {}

    def fit(self, changes: tuple[Change, ...]) -> _Trial | None:
        """What comes of changes; None where they cannot be made."""
        if changes not in self._done:
            self._done[changes] = self._fit(changes)
        return self._done[changes]

    def best_start(self, changes: tuple[Change, ...]) -> Change | None:
        """The best start with other changes made; None where it is the start already."""
        try:
            score, options = apply_changes(self._score, self._options, changes)
            starts = range(self._wheel.turn_steps)
            best = search(score, self._wheel, options, [options.transpose_semitones], starts, best_few=1).best()
        except UsageError:
            return None
        if Fraction(best.start_steps) == options.start_steps:
            return None
        return start_on(best.start_steps, self._options, self._wheel)

    def _fit(self, changes: tuple[Change, ...]) -> _Trial | None:
        self.tried += 1
        try:
            score, options = apply_changes(self._score, self._options, changes)
            placement = place_song(score, self._wheel, options)
        except UsageError:  # a part cannot go so far, or the turn is too short: no remedy
            return None
        levels = levels_of(score, placement)
        return _Trial(Remedy(changes, _worth(levels, _merged(self._score, placement))), levels)


def _together(bench: _Bench, singles: Sequence[_Trial], now: Worth) -> list[_Trial]:
    """Changes tried two and three at a time, the start being searched anew for each."""
    ranked = sorted((trial for trial in singles if not now < trial.remedy.worth), key=lambda trial: _rank(trial.remedy))
    firsts = _spread_over_kinds(ranked)[:PAIRED]
    changes = [trial.remedy.changes[0] for trial in ranked if trial.remedy.changes[0].kind != Kind.START]
    found = list(_extended(bench, [()], changes))
    pairs = [
        trial
        for one, other in combinations(firsts, 2)
        if (trial := bench.fit(_sorted((*one.remedy.changes, *other.remedy.changes))))
    ]
    pairs += _extended(bench, [trial.remedy.changes for trial in firsts], changes)
    best_pairs = sorted(pairs, key=lambda trial: _rank(trial.remedy))[:TRIPLED]
    triples = list(_extended(bench, [trial.remedy.changes for trial in best_pairs], changes))
    return [*found, *pairs, *triples]


def _extended(bench: _Bench, bases: Sequence[tuple[Change, ...]], changes: Sequence[Change]) -> Iterator[_Trial]:
    """Each base with each further change of another kind, and that with its best start."""
    for base in bases:
        for change in changes:
            if any(change.kind == other.kind and not _agree(change, other) for other in base):
                continue
            together = _sorted((*base, change))
            without_start = tuple(item for item in together if item.kind != Kind.START)
            for trial in (bench.fit(together), _started(bench, without_start)):
                if trial:
                    yield trial


def _started(bench: _Bench, changes: tuple[Change, ...]) -> _Trial | None:
    start = bench.best_start(changes)
    return bench.fit(_sorted((*changes, start))) if start else None


def _agree(one: Change, other: Change) -> bool:
    """Whether two changes of one kind can be made together: of different parts they can."""
    return one.part is not None and other.part is not None and one.part[0] != other.part[0]


def _sorted(changes: tuple[Change, ...]) -> tuple[Change, ...]:
    return tuple(sorted(changes, key=lambda change: (change.kind, change.typed)))


def _spread_over_kinds(ranked: Sequence[_Trial]) -> list[_Trial]:
    """At most two of a kind, so that pairs are of unlike changes."""
    kept: list[_Trial] = []
    for trial in ranked:
        kind = trial.remedy.changes[0].kind
        if sum(other.remedy.changes[0].kind == kind for other in kept) < 2:
            kept.append(trial)
    return kept


def _distinct(song: Sequence[Remedy]) -> Iterator[Remedy]:
    """Without remedies that add a change to a better or equal one, and one only for each set of kinds."""
    seen: list[Remedy] = []
    for remedy in song:
        kinds = tuple((change.kind, change.part and change.part[0]) for change in remedy.changes)
        if any(set(other.changes) < set(remedy.changes) and not remedy.worth < other.worth for other in seen):
            continue
        if kinds in [
            tuple((change.kind, change.part and change.part[0]) for change in other.changes) for other in seen
        ]:
            continue
        seen.append(remedy)
        yield remedy


def _for_note(note: int, levels: Ints, singles: Sequence[_Trial]) -> tuple[NoteRemedy, ...]:
    helping = [
        NoteRemedy(trial.remedy.changes[0], Audibility(int(trial.levels[note])), trial.remedy.worth)
        for trial in singles
        if trial.levels[note] < min(int(levels[note]), SILENT)
    ]
    helping.sort(
        key=lambda item: (
            *(item.worth.silent, item.worth.audible, item.worth.merged, item.level, item.worth.moved),
            *_least(item),
        )
    )
    first_of_kind: dict[Kind, NoteRemedy] = {}
    for item in helping:
        first_of_kind.setdefault(item.change.kind, item)
    return tuple(first_of_kind.values())[:PER_NOTE]


def _least(item: NoteRemedy) -> tuple[int, float, str]:
    return item.change.kind, item.change.size, item.change.typed


def _rank(remedy: Remedy) -> tuple[object, ...]:
    worth = remedy.worth
    sizes = tuple((change.kind, change.size, change.typed) for change in remedy.changes)
    return (worth.silent, worth.audible, worth.merged, len(remedy.changes), worth.moved, sizes)


def _merged(written: Score, placement: Placement) -> int:
    """Notes without a pin of their own that a note of another pitch, as written before any change, sounds."""
    note = np.flatnonzero(sounding_notes(placement) & (placement.outcome != Outcome.PLACED))
    return int(np.count_nonzero(written.pitch_midi[note] != written.pitch_midi[placement.unison[note]]))


def _worth(levels: Ints, merged: int) -> Worth:
    return Worth(
        silent=int(np.count_nonzero(levels == SILENT)),
        audible=int(np.count_nonzero(levels == Audibility.AUDIBLE)),
        merged=merged,
        moved=int(np.count_nonzero((levels > Audibility.EXACT) & (levels < SILENT))),
    )
