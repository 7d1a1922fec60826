"""One song on a wheel over all its turns: what every report, sheet, page, sound and plan is made from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from fractions import Fraction
from pathlib import PurePath
from typing import TYPE_CHECKING

from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.findings import Finding
from pegwright.frozen import frozen
from pegwright.grid import start_steps
from pegwright.note_count import NoteCount, note_count
from pegwright.placement import PinMap, Placement, joined_placements
from pegwright.running import letter, running_text
from pegwright.score import Score, bars_name
from pegwright.tell.leads import SongApart, song_apart
from pegwright.tell.report import Report
from pegwright.units import listed, printed
from pegwright.wheel import Wheel

if TYPE_CHECKING:
    from pegwright.search.best import Best
    from pegwright.tell.findings import FitFindings


@frozen(eq=False)
class EditedSong:
    """A song as it is to be fitted: read, and with the changes made that were asked for.

    Args:
        path: the file.
        notes_read: notes of the whole file, and those that written-out ornaments and note edits added.
        score: what is to be fitted.
        request: the options, with a constant lateness that was searched for as a number of ticks.
        findings: of reading and of the changes.
        dropped: how many of them were dropped on request, by option: `beats`, `note-edit`,
            `only`, `without`, `bars`, `thin`.
        data: the file's bytes, from which bars can be drawn as they are written.
    """

    path: PurePath
    notes_read: int
    score: Score
    request: Request
    findings: tuple[Finding, ...]
    dropped: dict[str, int]
    data: bytes = field(default=b"", repr=False)


@frozen(eq=False)
class FittedTurn:
    """One turn of a song on its wheel.

    Args:
        score: its notes and bars, time counted from its beginning.
        placement: the outcome of every note.
        pins: its pin map.
        findings: of its fit; those on single notes are made each time that they are asked for.
        first_note: how many notes of the song come before it.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> fitted = fit_file(bundled_songs()[3], load_wheel(bundled_wheel()))
    >>> [(turn.first_note, turn.score.note_count, turn.pins.pin_count) for turn in fitted.turns]
    [(0, 106, 98), (106, 5, 5)]
    """

    score: Score
    placement: Placement
    pins: PinMap
    findings: FitFindings
    first_note: int = 0


@frozen()
class PinNote:
    """What a pin map says of the note that a pin sounds; None where it is not known.

    Args:
        number: of the note in its song, from 1.
        source: where it is written: file, part, bar and beat.
        written_pitch_midi, written_pitch: its pitch as it is written, or its drum key: number and name.
        channel_pitch_midi, channel_pitch: the pitch of the channel that sounds it.
        deviation_ms: hole minus note; later is positive.
    """

    number: int | None = None
    source: str | None = None
    written_pitch_midi: int | None = None
    written_pitch: str | None = None
    channel_pitch_midi: int | None = None
    channel_pitch: str | None = None
    deviation_ms: float | None = None


@frozen()
class PinnedBar:
    """A bar line on the turn, as a pin map gives it: its label, and where it and its later beats are, in steps."""

    label: str
    position_steps: Fraction
    beats: tuple[Fraction, ...] = ()


@frozen()
class Mounted:
    """Plates as a show has them on the rim: their set, and for each place the plate there, counted from 0."""

    plate_set: int
    plates: tuple[int, ...]


@frozen(eq=False)
class PinnedTurn:
    """One turn of a wheel by its pins, whether its score is known or not.

    Args:
        pins: its pin map.
        start_steps: where on the turn it begins.
        score: its notes and bars; None where they are not known.
        notes: of each pin, as a pin map gives them; empty where the score is known.
        bars: likewise; empty also where the map does not give them.
        mounted: how the show that a pin map was written for has its plates; empty where there is none.
    """

    pins: PinMap
    start_steps: Fraction
    score: Score | None = None
    notes: tuple[PinNote, ...] = ()
    bars: tuple[PinnedBar, ...] = ()
    mounted: tuple[Mounted, ...] = ()


class _Running:
    """What follows from the turns of a song and their running order."""

    __slots__ = ()
    running: tuple[int, ...]

    @property
    def several_turns(self) -> bool:
        """Whether the song takes more than one turn."""
        return len(self.running) > 1

    def letter(self, pinning: int) -> str:
        """The name of a pinning in the running order, such as `A`; empty in a song of one turn."""
        return letter(pinning) if self.several_turns else ""

    def turns_of(self, pinning: int) -> tuple[int, ...]:
        """The turns that have a pinning, 0-based."""
        return tuple(turn for turn, other in enumerate(self.running) if other == pinning)

    @property
    def running_text(self) -> str:
        """The running order: `A A B A`."""
        return running_text(self.running)


@frozen(eq=False)
class PinnedSong(_Running):
    """A song as its pins play it: what a pin map holds when it is read back, and what is heard of a fitted song.

    Args:
        title: of the song.
        file: name of its score file.
        wheel: what it is pinned on.
        turns: in playing order, at least one.
        running: for each turn the number of its pinning.
    """

    title: str
    file: str
    wheel: Wheel
    turns: tuple[PinnedTurn, ...]
    running: tuple[int, ...]

    @property
    def us_per_quarter(self) -> int:
        """The tempo at which the wheel turns."""
        return self.turns[0].pins.us_per_quarter

    @property
    def pinnings(self) -> tuple[PinnedTurn, ...]:
        """The different pinnings, each by the first turn that has it."""
        return tuple(self.turns[self.running.index(pinning)] for pinning in range(max(self.running) + 1))


@frozen(eq=False)
class FittedSong(_Running):
    """A song on a wheel, one fitted turn after another.

    Args:
        edited: the song as it was read and edited.
        wheel: what it was fitted to.
        options: as every turn was fitted, with transposition and start chosen; of several turns with the tempo.
        turns: in playing order, at least one.
        running: for each turn the number of its pinning; turns with equal pins have the same.
        findings: of every stage, in order; those on single notes are made each time that they are asked for.
        report: the outcome of every note, gathered once.
        best: what the search found, if one was asked for; its first is what was fitted.
        removed_by_hand: how many notes lost their own pin to edits after the fit, and how many shared such a pin.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> fitted = fit_file(bundled_songs()[3], load_wheel(bundled_wheel()))
    >>> fitted.score.title, fitted.sounding_count, fitted.left_out_count, fitted.running_text
    ('Low Water, Slowly', 104, 7, 'A B')
    """

    edited: EditedSong
    wheel: Wheel
    options: FitOptions
    turns: tuple[FittedTurn, ...]
    running: tuple[int, ...]
    findings: Sequence[Finding]
    report: Report
    best: Best | None = None
    removed_by_hand: tuple[int, int] = (0, 0)

    @property
    def score(self) -> Score:
        """The whole song as it was fitted."""
        return self.edited.score

    @property
    def request(self) -> Request:
        """The request."""
        return self.edited.request

    @property
    def placements(self) -> tuple[Placement, ...]:
        """The placement of every turn."""
        return tuple(turn.placement for turn in self.turns)

    @property
    def count(self) -> NoteCount:
        """The notes read: those that sound, those left out by reason, those dropped on request."""
        counted = note_count(self.placements, self.edited.notes_read, self.edited.dropped)
        return counted.after_edits(*self.removed_by_hand)

    @property
    def placed_count(self) -> int:
        """Notes that have a pin of their own."""
        return self.count.own_pin

    @property
    def sounding_count(self) -> int:
        """Notes that a pin sounds, their own or a shared one."""
        return self.count.sounding

    @property
    def left_out_count(self) -> int:
        """Notes that were to sound and do not."""
        return self.count.left_out

    @property
    def pinnings(self) -> tuple[FittedTurn, ...]:
        """The different pinnings, each by the first turn that has it."""
        return tuple(self.turns[self.running.index(pinning)] for pinning in range(max(self.running) + 1))

    @property
    def pinned(self) -> PinnedSong:
        """The song by its pins alone."""
        turns = [PinnedTurn(turn.pins, start_steps(self.wheel, turn.placement), turn.score) for turn in self.turns]
        return PinnedSong(self.score.title, self.score.file, self.wheel, tuple(turns), self.running)

    @property
    def whole_placement(self) -> Placement:
        """The outcome of every note of the whole song, holes as on the plates of its turn."""
        return joined_placements(self.placements)

    @property
    def apart(self) -> SongApart:
        """Which notes meant together do not sound so, because of leads or the placement; computed when it is asked."""
        return song_apart([(turn.score, turn.placement) for turn in self.turns], self.wheel)

    def bars_of(self, turn: int) -> str:
        """The bars of a turn as the score labels them: `bars 9 to 16`."""
        labels = self.turns[turn].score.bar_map.labels
        return bars_name(labels[0], labels[-1])

    def place_of(self, pinning: int) -> str:
        """Where a pinning plays, for headings: `turns 1, 2 and 4, bars 1 to 8`; empty in a song of one turn."""
        if not self.several_turns:
            return ""
        turns = self.turns_of(pinning)
        numbers = listed([str(printed(turn)) for turn in turns])
        return f"turn{'s' if len(turns) > 1 else ''} {numbers}, {self.bars_of(turns[0])}"
