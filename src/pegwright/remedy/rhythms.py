"""Another rhythm for bars with notes silent or out of place: what it is called, and the note edits that make it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate
from shlex import quote

import numpy as np

from pegwright.ask.note_edits import note_edit_of
from pegwright.ask.options import FitOptions
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.placement import Placement
from pegwright.remedy.budget import Budget, WorkOf
from pegwright.remedy.changes import Change, ChangeKind
from pegwright.remedy.rhythm_bars import TroubledBar, TurnRhythms
from pegwright.remedy.rhythm_search import Places, best_rhythm, times_unheard
from pegwright.remedy.song_remedies import levels_of
from pegwright.score import Score, bar_name, beat_name
from pegwright.tell.audible import LONGEST_IOI_MS, Audibility, move_audibility
from pegwright.units import fraction_text, listed, ticks_to_ms
from pegwright.wheel import Wheel

MAX_EDITS = 100  # of notes, in one remedy
NAMED_MOVES = 6  # that are named in the words of a remedy
NAMED_BARS = 6


@frozen(eq=False)
class BarRhythm:
    """A bar with the best rhythm that its holes allow.

    Args:
        bar: as it is.
        places: where its onsets would be.
    """

    bar: TroubledBar
    places: Places

    @property
    def harm(self) -> int:
        """See `RhythmProblem.harm`."""
        return self.bar.problem.harm(self.places)

    @property
    def moves(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """Every beat that is moved, with the beat it is moved to."""
        pairs = zip(self.bar.problem.written_ticks, self.places, strict=True)
        return tuple((self.bar.beat(written), self.bar.beat(place)) for written, place in pairs if written != place)

    @property
    def interval_changes_ms(self) -> tuple[tuple[float, float], ...]:
        """The intervals that change: how long each is as written, and by how much it changes; in ms."""
        problem = self.bar.problem
        return tuple(
            (
                ticks_to_ms(written, problem.resolution, problem.us_per_quarter),
                ticks_to_ms(new - written, problem.resolution, problem.us_per_quarter),
            )
            for written, new in problem.changes(self.places)
            if new != written
        )


@frozen(eq=False)
class Rhythm:
    """One rhythm for all bars that need the same.

    Args:
        change: the note edits that make it.
        bars: with it, at least one.
    """

    change: Change
    bars: tuple[BarRhythm, ...]

    @property
    def silent(self) -> int:
        """How many notes of the bars no pin sounds now."""
        return sum(each.bar.silent for each in self.bars)

    @property
    def harm(self) -> float:
        """Of the bar that suffers most: how many times what goes unheard, as in `times_unheard`."""
        return times_unheard(max(each.harm for each in self.bars))

    @property
    def harm_now(self) -> float | None:
        """The same as it sounds now; None where notes of the bars are silent."""
        now = [each.bar.harm_now for each in self.bars]
        known = [harm for harm in now if harm is not None]
        return times_unheard(max(known)) if len(known) == len(now) else None

    @property
    def worst_ms(self) -> float:
        """By how much an interval changes at most."""
        return max((abs(change) for each in self.bars for _, change in each.interval_changes_ms), default=0.0)

    @property
    def level(self) -> Audibility:
        """How likely a listener is to notice the change of the interval that is noticed most."""
        changes = [pair for each in self.bars for pair in each.interval_changes_ms]
        if not changes:
            return Audibility.EXACT
        interval_ms, change_ms = np.array(changes).T
        return Audibility(int(move_audibility(change_ms, np.minimum(interval_ms, LONGEST_IOI_MS)).max()))


@frozen(eq=False)
class RhythmRemedy:
    """A rhythm that was tried.

    Args:
        rhythm: see there.
        sounding: notes of the whole song that sound with it; `--thin` may drop others than before.
        silent: those that do not, and were not dropped.
    """

    rhythm: Rhythm
    sounding: int
    silent: int


def rhythms_to_try(
    turns: Sequence[Score],
    wheel: Wheel,
    options: FitOptions,
    placements: Sequence[Placement],
    *,
    semitones: dict[str, int],
    budget: Budget,
) -> tuple[Rhythm, ...]:
    """The best rhythm of every troubled bar where that is better than what sounds now, bars with the same one together.

    Those that bring the most notes come first, then those that change least for the ear.

    Args:
        turns: of the song in playing order.
        wheel: the wheel.
        options: as every turn was fitted.
        placements: of each turn.
        semitones: by which parts were moved since note edits were made, by name.
        budget: the work that may be done.
    """
    alike: dict[tuple[object, ...], list[BarRhythm]] = {}
    for bar in _troubled(turns, wheel, options, placements, budget):
        places = best_rhythm(bar.problem, budget)
        if places is None:
            continue
        rhythm = BarRhythm(bar, places)
        now = bar.harm_now
        if rhythm.moves and (now is None or rhythm.harm < now):
            alike.setdefault(rhythm.moves, []).append(rhythm)
    rhythms = (_rhythm(tuple(bars), semitones) for bars in alike.values())
    return tuple(sorted(filter(None, rhythms), key=lambda rhythm: (-rhythm.silent, rhythm.harm)))


def _troubled(
    turns: Sequence[Score], wheel: Wheel, options: FitOptions, placements: Sequence[Placement], budget: Budget
) -> Iterator[TroubledBar]:
    """The troubled bars of all turns; arguments as for `rhythms_to_try`."""
    work = WorkOf(turns[:1], wheel, options, placements[0].us_per_quarter).fit
    first_notes = accumulate((turn.note_count for turn in turns), initial=0)
    for number, (score, placement, first) in enumerate(zip(turns, placements, first_notes, strict=False)):
        if np.any(levels_of(score, placement) >= Audibility.SLIGHT):
            if not budget.take(work):
                return
            yield from TurnRhythms(score, wheel, options, placement).troubled(number, first, budget)


def _rhythm(bars: tuple[BarRhythm, ...], semitones: dict[str, int]) -> Rhythm | None:
    """One rhythm for bars; None where their notes cannot be named, or are too many.

    Args:
        bars: that are to have it.
        semitones: by which parts were moved, by name.
    """
    texts = list(dict.fromkeys(text for each in bars for text in _edit_texts(each, semitones)))
    if len(texts) > MAX_EDITS:
        return None
    try:
        edits = tuple(map(note_edit_of, texts))
    except UsageError:  # such as a part whose name cannot be typed
        return None
    typed = " ".join(f"--note-edit {quote(text)}" for text in texts)
    size = times_unheard(max(each.harm for each in bars))
    return Rhythm(Change(ChangeKind.RHYTHM, _words(bars), typed, size, note_edits=edits), bars)


def _edit_texts(rhythm: BarRhythm, semitones: dict[str, int]) -> Iterator[str]:
    """The edits of a bar: `move Melody, bar 12, beat 2.5, C5 to beat 3`."""
    bar = rhythm.bar
    for onset, (written, place) in enumerate(zip(bar.problem.written_ticks, rhythm.places, strict=True)):
        if written == place:
            continue
        for note in bar.notes_at(onset).tolist():
            part = bar.score.parts[int(bar.score.part[note])]
            moved = semitones.get(part.name, 0)
            name = str(int(bar.score.pitch_midi[note])) if part.percussion else bar.score.pitch_name(note, -moved)
            here = f"{bar_name(bar.label)}, {beat_name(bar.beat(written))}"
            yield f"move {part.written_name}, {here}, {name} to beat {fraction_text(bar.beat(place))}"


def _words(bars: tuple[BarRhythm, ...]) -> str:
    """What is done: `in bars 3 and 7 move beat 1 1/3 to 1.25 and beat 1 2/3 to 1.75`."""
    labels = list(dict.fromkeys(each.bar.label for each in bars))
    names = [bar_name(label) for label in labels]
    if len(names) > 1:
        names = [name.removeprefix("bar ") for name in names]
    where = ("bars " if len(names) > 1 else "") + listed(_few(names, NAMED_BARS, "bars"))
    moves = [f"{beat_name(written)} to {fraction_text(place)}" for written, place in bars[0].moves]
    return f"in {where} move {listed(_few(moves, NAMED_MOVES, 'beats'))}"


def _few(words: list[str], most: int, things: str) -> list[str]:
    """The words, or the first of them and how many more there are."""
    return words if len(words) <= most else [*words[: most - 1], f"{len(words) - most + 1} more {things}"]
