"""Remedies: changes that were tried on the whole song and help, best first.

Every remedy was computed by fitting the song with the change made, so its effect is known.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints
from pegwright.errors import UsageError
from pegwright.fit.placing import place_song
from pegwright.frozen import frozen
from pegwright.placement import Outcome, Placement
from pegwright.remedy.budget import FULL_WORK, Budget, WorkOf
from pegwright.remedy.candidates import changes_to_try
from pegwright.remedy.changes import Change, ChangeKind, apply_changes, start_on
from pegwright.remedy.starts import best_start
from pegwright.score import Score
from pegwright.tell.audible import Audibility, audibility
from pegwright.wheel import Wheel

if TYPE_CHECKING:
    from pegwright.remedy.rhythms import RhythmRemedy

SILENT = 4  # worse than any audibility of a note that sounds
PAIRED = 6  # of the best single changes, tried with every other
TRIPLED = 3  # of the best pairs, tried with every other
TOGETHER_SHARE = 3  # a third of the work is kept for changes tried together
PER_SONG = 5  # remedies listed for the whole song
PER_NOTE = 3  # remedies listed for one note


@dataclass(frozen=True, slots=True, order=True)
class Shortfall:
    """How far a song on a wheel falls short of what is written; less of each is better, the earlier ones first.

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


@frozen(eq=False)
class Remedy:
    """Changes that were tried together, and how far the song falls short with them.

    Args:
        changes: in the order of their kinds.
        shortfall: of the whole song with them.
        levels: of every note with them, as `levels_of` gives them.
    """

    changes: tuple[Change, ...]
    shortfall: Shortfall
    levels: Ints = field(repr=False)


@frozen()
class NoteRemedy:
    """A single change that helps one note.

    Args:
        change: see there.
        level: the note's audibility with it, EXACT at best.
        shortfall: of the whole song with it, so losses elsewhere count.
    """

    change: Change
    level: Audibility
    shortfall: Shortfall


@frozen()
class Remedies:
    """What would help.

    Args:
        now: the song without any change.
        song: remedies for the song as a whole, best first, each better than `now`.
        notes: for each troubled note (0-based) its remedies, best first; empty where none helps.
        tried: number of fits that were computed.
        complete: whether all was tried; else the work allowed for remedies was spent before.
        performed: the song with every note on the hole that was meant, where it was played by hand and that is better.
        straight: the song with the swing that is written out played even, where that is better.
        rhythms: another rhythm for some bars, each better than what sounds now; those with the most notes first.
    """

    now: Shortfall
    song: tuple[Remedy, ...]
    notes: dict[int, tuple[NoteRemedy, ...]]
    tried: int
    complete: bool = True
    performed: Shortfall | None = None
    straight: Shortfall | None = None
    rhythms: tuple[RhythmRemedy, ...] = ()

    @property
    def to_take(self) -> tuple[tuple[Change, ...], ...]:
        """The changes of each remedy that has a number, in that order."""
        rhythms = ((each.rhythm.change,) for each in self.rhythms)
        return (*(remedy.changes for remedy in self.song), *rhythms)

    @property
    def rhythm_of(self) -> dict[int, int]:
        """For each note (0-based) that another rhythm helps, the number of the first such remedy, counted from 0."""
        numbers: dict[int, int] = {}
        for number, remedy in enumerate(self.rhythms, len(self.song)):
            for bar in remedy.rhythm.bars:
                for note in bar.bar.troubled:
                    numbers.setdefault(note, number)
        return numbers


def shortfall_of(turns: Sequence[Score], placements: Sequence[Placement]) -> Shortfall:
    """How far a song falls short as it is placed, over all its turns."""
    return _shortfall(_levels(turns, placements), _merged(turns, placements))


def levels_of(score: Score, placement: Placement) -> Ints:
    """Shape (n,): each note's audibility, or SILENT where no pin sounds it."""
    levels = audibility(score, placement)
    return np.where(levels >= 0, levels, np.where(placement.shared, Audibility.EXACT, SILENT))


def find_remedies(
    turns: Sequence[Score],
    wheel: Wheel,
    options: FitOptions,
    placements: Sequence[Placement],
    budget: Budget | None = None,
) -> Remedies:
    """Try changes, alone and together, on the whole song and keep what helps.

    Args:
        turns: of the song in playing order; notes are numbered through all of them.
        wheel: the wheel.
        options: as every turn was fitted.
        placements: of each turn.
        budget: the work that may be done; by default `FULL_WORK`.
    """
    budget = budget or Budget(FULL_WORK)
    levels = _levels(turns, placements)
    past_turn = np.concatenate([placement.outcome == Outcome.PAST_TURN for placement in placements])
    now = _shortfall(levels, _merged(turns, placements))
    troubled = np.flatnonzero((levels >= Audibility.SLIGHT) & ~past_turn)
    if not len(troubled):
        return Remedies(now, (), {}, 0)
    bench = _Bench(turns, wheel, options, budget, WorkOf(turns, wheel, options, placements[0].us_per_quarter))
    kept = budget.left // TOGETHER_SHARE
    candidates = changes_to_try(turns, wheel, options, placements, budget)
    singles = [trial for change in candidates if (trial := bench.fit((change,), kept))]
    together = _together(bench, singles, now)
    better = {trial.changes: trial for trial in (*singles, *together) if trial.shortfall < now}
    song = sorted(better.values(), key=_rank)
    notes = _for_notes(troubled, levels, singles)
    return Remedies(now, tuple(_distinct(song))[:PER_SONG], notes, len(bench.trials), budget.complete)


class _Bench:
    """Fits the song with changes made, every set of changes at most once, as long as there is work left.

    Args:
        turns: of the song.
        wheel: the wheel.
        options: as every turn was fitted.
        budget: the work that may be done.
        work: of fits and searches.
    """

    def __init__(self, turns: Sequence[Score], wheel: Wheel, options: FitOptions, budget: Budget, work: WorkOf) -> None:
        self._turns, self._wheel, self._options = turns, wheel, options
        self._budget, self._work = budget, work
        self._starts: dict[tuple[Change, ...], Change | None] = {}
        self.trials: dict[tuple[Change, ...], Remedy | None] = {}

    def fit(self, changes: tuple[Change, ...], kept: int = 0) -> Remedy | None:
        """The song fitted with changes; None where they cannot be made, or no more than `kept` work would be left."""
        if changes not in self.trials:
            if not self._budget.take(self._work.fit, kept):
                return None
            self.trials[changes] = self._fit(changes)
        return self.trials[changes]

    def best_start(self, changes: tuple[Change, ...]) -> Change | None:
        """The best start with other changes made; None where it is the start already, or is not known."""
        if changes not in self._starts:
            self._starts[changes] = self._best_start(changes)
        return self._starts[changes]

    def _best_start(self, changes: tuple[Change, ...]) -> Change | None:
        try:
            turns, options = apply_changes(self._turns, self._options, changes)
            start = best_start(turns, self._wheel, options, self._budget, self._work)
        except UsageError:
            return None
        return None if start is None or start == options.start_steps else start_on(start, self._options, self._wheel)

    def _fit(self, changes: tuple[Change, ...]) -> Remedy | None:
        try:
            turns, options = apply_changes(self._turns, self._options, changes)
            placements = [place_song(turn, self._wheel, options) for turn in turns]
        except UsageError:  # a part cannot be moved so far, or the turn is too short: no remedy
            return None
        levels = _levels(turns, placements)
        return Remedy(changes, _shortfall(levels, _merged(self._turns, placements)), levels)


def _together(bench: _Bench, singles: Sequence[Remedy], now: Shortfall) -> list[Remedy]:
    """Changes tried two and three at a time, with a new search for the start each time."""
    ranked = sorted((trial for trial in singles if not now < trial.shortfall), key=_rank)
    firsts = _spread_over_kinds(ranked)[:PAIRED]
    changes = [trial.changes[0] for trial in ranked if trial.changes[0].kind != ChangeKind.START]
    started = list(_extended(bench, [()], changes))
    pairs = [
        trial for one, other in combinations(firsts, 2) if (trial := bench.fit(_sorted((*one.changes, *other.changes))))
    ]
    pairs += _extended(bench, [trial.changes for trial in firsts], changes)
    best_pairs = sorted(pairs, key=_rank)[:TRIPLED]
    triples = list(_extended(bench, [trial.changes for trial in best_pairs], changes))
    return [*started, *pairs, *triples]


def _extended(bench: _Bench, bases: Sequence[tuple[Change, ...]], changes: Sequence[Change]) -> Iterator[Remedy]:
    """Each base with each further change of another kind, and that with its best start."""
    for base in bases:
        for change in changes:
            if any(change.kind == other.kind and not _agree(change, other) for other in base):
                continue
            together = _sorted((*base, change))
            without_start = tuple(item for item in together if item.kind != ChangeKind.START)
            for trial in (bench.fit(together), _started(bench, without_start)):
                if trial:
                    yield trial


def _started(bench: _Bench, changes: tuple[Change, ...]) -> Remedy | None:
    start = bench.best_start(changes)
    return bench.fit(_sorted((*changes, start))) if start else None


def _agree(one: Change, other: Change) -> bool:
    """Whether two changes of one kind can be made together: of different parts they can."""
    return one.part is not None and other.part is not None and one.part[0] != other.part[0]


def _sorted(changes: tuple[Change, ...]) -> tuple[Change, ...]:
    return tuple(sorted(changes, key=lambda change: (change.kind, change.typed)))


def _spread_over_kinds(ranked: Sequence[Remedy]) -> list[Remedy]:
    """At most two of a kind, so that pairs are of unlike changes."""
    kept: list[Remedy] = []
    for trial in ranked:
        kind = trial.changes[0].kind
        if sum(other.changes[0].kind == kind for other in kept) < 2:
            kept.append(trial)
    return kept


def _distinct(song: Sequence[Remedy]) -> Iterator[Remedy]:
    """Without remedies that add a change to a better or equal one, and one only for each set of kinds."""
    seen: dict[tuple[object, ...], Remedy] = {}
    for remedy in song:
        kinds = tuple((change.kind, change.part and change.part[0]) for change in remedy.changes)
        needless = any(
            set(other.changes) < set(remedy.changes) and not remedy.shortfall < other.shortfall
            for other in seen.values()
        )
        if not needless and kinds not in seen:
            seen[kinds] = remedy
            yield remedy


def _for_notes(troubled: Ints, levels: Ints, singles: Sequence[Remedy]) -> dict[int, tuple[NoteRemedy, ...]]:
    """What helps each troubled note; computed once for all that are heard alike with every change."""
    columns = np.stack([levels, *(trial.levels for trial in singles)])[:, troubled]
    _, first, kind = np.unique(columns, axis=1, return_index=True, return_inverse=True)
    of_kind = [_for_note(note, levels, singles) for note in troubled[first].tolist()]
    return {note: of_kind[each] for note, each in zip(troubled.tolist(), kind.ravel().tolist(), strict=True)}


def _for_note(note: int, levels: Ints, singles: Sequence[Remedy]) -> tuple[NoteRemedy, ...]:
    helping = [
        NoteRemedy(trial.changes[0], Audibility(int(trial.levels[note])), trial.shortfall)
        for trial in singles
        if trial.levels[note] < min(int(levels[note]), SILENT)
    ]
    first_of_kind: dict[ChangeKind, NoteRemedy] = {}
    for remedy in sorted(helping, key=_note_rank):
        first_of_kind.setdefault(remedy.change.kind, remedy)
    return tuple(first_of_kind.values())[:PER_NOTE]


def _note_rank(remedy: NoteRemedy) -> tuple[object, ...]:
    shortfall, change = remedy.shortfall, remedy.change
    loss = shortfall.silent, shortfall.audible, shortfall.merged, remedy.level, shortfall.moved
    return (*loss, change.kind, change.size, change.typed)


def _rank(remedy: Remedy) -> tuple[object, ...]:
    shortfall = remedy.shortfall
    sizes = tuple((change.kind, change.size, change.typed) for change in remedy.changes)
    return (shortfall.silent, shortfall.audible, shortfall.merged, len(remedy.changes), shortfall.moved, sizes)


def _levels(turns: Sequence[Score], placements: Sequence[Placement]) -> Ints:
    """Shape (notes of the song,): the levels of all turns, one after another."""
    return np.concatenate([levels_of(*each) for each in zip(turns, placements, strict=True)])


def _merged(written: Sequence[Score], placements: Sequence[Placement]) -> int:
    """Notes without a pin of their own that a note of another pitch, as written before any change, sounds."""
    count = 0
    for score, placement in zip(written, placements, strict=True):
        note = np.flatnonzero(placement.shared)
        count += int(np.count_nonzero(score.pitch_midi[note] != score.pitch_midi[placement.unison[note]]))
    return count


def _shortfall(levels: Ints, merged: int) -> Shortfall:
    return Shortfall(
        silent=int(np.count_nonzero(levels == SILENT)),
        audible=int(np.count_nonzero(levels == Audibility.AUDIBLE)),
        merged=merged,
        moved=int(np.count_nonzero((levels > Audibility.EXACT) & (levels < SILENT))),
    )
