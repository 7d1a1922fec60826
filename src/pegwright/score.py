"""A score as read: notes in exact time with the place each came from."""

from __future__ import annotations

import re
from dataclasses import field, replace
from enum import Enum
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints, looked_up
from pegwright.frozen import frozen
from pegwright.spelling import Spellings, frozen_spellings, moved_spellings, spelled_name
from pegwright.units import fraction_text, pitch_name, printed

if TYPE_CHECKING:
    from collections.abc import Mapping
    from xml.etree.ElementTree import Element


NO_ORNAMENT = -1
LOW_CONFIDENCE = 0.9  # of a note played by hand, below which its hole is doubtful
_PICKUP = re.compile(r"0(?![0-9])")  # the label of a bar before the first, alone or with what goes on after it
NAMED_PARTS = frozenset({1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 16, 24, 32})  # of a beat, which have names; finer has none
DEFAULT_US_PER_QUARTER = 500_000  # Standard MIDI Files 1.0: no tempo event means 120 a minute


def bar_name(label: str) -> str:
    """A bar by what the score prints at it: `bar 14`, or `pickup bar` for bar 0, which no one counts."""
    return _PICKUP.sub("pickup bar", label) if _PICKUP.match(label) else f"bar {label}"


def bars_name(first: str, last: str) -> str:
    """The bars from one to another by their labels: `bar 14`, `bars 9 to 16`, `pickup bar to bar 8`."""
    if first == last:
        return bar_name(first)
    return f"{bar_name(first)} to {bar_name(last)}" if _PICKUP.match(first) else f"bars {first} to {last}"


def beat_name(beat: Fraction) -> str:
    """A beat that counts from 1: `beat 2.5`, `beat 1 2/3`, or `near beat 2.44` where no simple fraction is exact."""
    return f"beat {fraction_text(beat)}" if beat.denominator in NAMED_PARTS else f"near beat {float(beat):.2f}"


@frozen()
class SourceRef:
    """Where a note is in its file; prints as `waltz.mid:Melody:bar 14 beat 2.5`."""

    file: str
    part: str
    bar: str
    beat: Fraction

    def __str__(self) -> str:
        return f"{self.file}:{self.part}:{self.bar_beat}"

    @property
    def in_words(self) -> str:
        """As it is in a sentence: `'Melody' bar 14 beat 2.5`."""
        return f"{self.part!r} {self.bar_beat}"

    @property
    def bar_beat(self) -> str:
        """Where in the song: `bar 14 beat 2.5`."""
        return f"{bar_name(self.bar)} {beat_name(self.beat)}"


@frozen()
class Part:
    """One part (staff, voice group, MIDI track and channel).

    Args:
        name: as the file says, or one made up from its place; never empty, unique in the score.
        percussion: its pitches are General MIDI percussion keys.
        program: General MIDI program, 0-based; None where the file gives none.
        of: name of the part from which notes were put on another channel; empty for a part of the file.
        channel: name of the only channel that sounds it; empty for all that can.

    >>> Part("Melody").percussion
    False
    """

    name: str
    percussion: bool = False
    program: int | None = None
    of: str = ""
    channel: str = ""

    @property
    def written_name(self) -> str:
        """The name of the part in the file."""
        return self.of or self.name


class OrnamentKind(Enum):
    """The ornament that a sign over a note means; the value is its name in words."""

    TRILL = "trill"
    MORDENT = "mordent"  # to the neighbour below
    INVERTED_MORDENT = "inverted mordent"  # to the neighbour above
    TURN = "turn"
    INVERTED_TURN = "inverted turn"
    TREMOLO = "tremolo"


@frozen()
class Ornament:
    """An ornament as it is to sound; a score's notes carry them but are themselves the plain notes.

    Args:
        kind: see there.
        upper_semitones: from the note up to its upper neighbour; 0 repeats the note itself.
        lower_semitones: from the note down to its lower neighbour, counted upwards from 0.
        every_quarters: of a tremolo, from one strike to the next; 0 for as fast as possible.
    """

    kind: OrnamentKind
    upper_semitones: int = 0
    lower_semitones: int = 0
    every_quarters: Fraction = Fraction(0)


@frozen(eq=False)
class TempoMap:
    """Tempo changes in playing order.

    Args:
        ticks: where each tempo begins, rising, the first at 0.
        us_per_quarter: microseconds per quarter note, above 0, one for each tick.
        stated: False when the file gave no tempo and the default was assumed.

    >>> import numpy as np
    >>> steady = TempoMap(ticks=np.array([0]), us_per_quarter=np.array([500_000]))  # 120 a minute throughout
    >>> slower_from_tick_960 = TempoMap(ticks=np.array([0, 960]), us_per_quarter=np.array([500_000, 600_000]))
    """

    ticks: Ints
    us_per_quarter: Ints
    stated: bool = True


@frozen(eq=False)
class BarMap:
    """Bars in playing order, repeats written out.

    Args:
        ticks: where each bar begins, strictly rising, the first at 0 (at the first note for a pickup).
        labels: what a reader finds in the score, such as `12`, `0` for a pickup, or `5, 2nd time`.
        beats: metre numerators.
        beat_types: metre denominators, so a beat is 4 / beat_type quarters.
        end_ticks: where the last bar ends.
        stated: False when the file gave no metre and 4/4 was assumed.
        swing: for each bar the ratio of the first eighth of a pair to the second that the score states, 1 where they
            are even; empty where it states none.
        cut_ticks: how much of the first bar lies before tick 0, where a cut goes through it.

    >>> import numpy as np
    >>> fours = np.array([4, 4])
    >>> bars = BarMap(ticks=np.array([0, 96]), labels=("1", "2"), beats=fours, beat_types=fours, end_ticks=192)
    >>> "bar {}, beat {}".format(*bars.place_of(108, resolution=24))
    'bar 2, beat 3/2'
    """

    ticks: Ints
    labels: tuple[str, ...]
    beats: Ints
    beat_types: Ints
    end_ticks: int
    stated: bool = True
    swing: tuple[Fraction, ...] = ()
    cut_ticks: int = 0

    def place_of(self, tick: int, resolution: int) -> tuple[str, Fraction]:
        """The label of the bar in which a tick falls, and the beat of that bar, counted from 1."""
        bar = self.bar_of(tick)
        return self.labels[bar], self.beat_of(bar, Fraction(tick), resolution)

    def beat_of(self, bar: int, tick: Fraction, resolution: int) -> Fraction:
        """The beat of a bar at which a tick falls, or a part of one, counted from 1.

        Args:
            bar: its index.
            tick: in the bar, or beside it.
            resolution: ticks per quarter.
        """
        into_bar = tick - int(self.ticks[bar]) + (0 if bar else self.cut_ticks)
        return into_bar * int(self.beat_types[bar]) / (4 * resolution) + 1

    def section(self, first: int, past: int, start_ticks: int, end_ticks: int) -> BarMap:
        """Some of the bars, with time counted from a tick in the first of them.

        Args:
            first: index of the first bar.
            past: index after the last one.
            start_ticks: what becomes tick 0; what of the first bar lies before it is cut off.
            end_ticks: where the last bar ends now.
        """
        return BarMap(
            frozen_ints(np.maximum(self.ticks[first:past] - start_ticks, 0)),
            self.labels[first:past],
            frozen_ints(self.beats[first:past]),
            frozen_ints(self.beat_types[first:past]),
            end_ticks - start_ticks,
            self.stated,
            self.swing[first:past],
            start_ticks - int(self.ticks[first]),
        )

    def reaching(self, tick: int, resolution: int) -> BarMap:
        """The same bars, followed by as many more of the last metre as it takes to reach a tick.

        Args:
            tick: where the last bar ends, or after it.
            resolution: ticks per quarter.
        """
        beats, beat_type, count = int(self.beats[-1]), int(self.beat_types[-1]), len(self.ticks)
        bar_ticks = 4 * resolution * beats // beat_type
        more = max(0, -((self.end_ticks - tick) // bar_ticks))
        return replace(
            self,
            ticks=frozen_ints(np.append(self.ticks, self.end_ticks + bar_ticks * np.arange(more))),
            labels=(*self.labels, *(str(printed(bar)) for bar in range(count, count + more))),
            beats=frozen_ints(np.append(self.beats, [beats] * more)),
            beat_types=frozen_ints(np.append(self.beat_types, [beat_type] * more)),
            end_ticks=self.end_ticks + bar_ticks * more,
            swing=(*self.swing, *self.swing[-1:] * more),
        )

    def bar_of(self, tick: int) -> int:
        """Index of the bar that holds `tick`; the last bar for anything later."""
        return max(0, int(self.ticks.searchsorted(tick, side="right")) - 1)


@frozen(eq=False)
class WrittenMusic:
    """The bars of a MusicXML file as they are written, for drawing them.

    Args:
        parts: name, and `measure` elements by 0-based number of the bar, ascending, without bars in which the part
            is absent; `Score.written` counts the `note` elements in them.
        labels: what is printed at every bar, of the longest part.
    """

    parts: tuple[tuple[str, Mapping[int, Element]], ...]
    labels: tuple[str, ...]


@frozen(eq=False)
class Score:
    """The notes of a song, ordered by onset, then part, then pitch; columns are read-only.

    Args:
        title: for headings; never empty.
        file: base name of the file, for `SourceRef`.
        sha256: hash of the file's bytes, in hex.
        resolution: ticks per quarter note of every tick here.
        tolerance_ticks: how far the file's own rounding may have put an onset from its true
            place: such a distance counts as exact. One tick of a MIDI file's own division.
        onset_ticks, duration_ticks: shape (n,); onsets from 0, durations from 0.
        pitch_midi: shape (n,), 0..127; a General MIDI percussion key in a percussion part.
        velocity: shape (n,), 1..127.
        part: shape (n,), index into `parts`.
        parts, tempo_map, bar_map: see there; same resolution.
        ornament: shape (n,), index into `ornaments`, `NO_ORNAMENT` for a plain note; empty where the song has none.
        ornaments: the different ones.
        spelling: shape (n,), the place of each note's name on the line of fifths (see `spelling`), which percussion has
            not; empty where none is known.
        written: shape (n,), the number of each note's element in a MusicXML file, counted from 0 through part after
            part: the same at every time round, the first of those tied together; empty for other formats.
        confidence: shape (n,), 0..1, how probable it is that the player meant the place of each note; empty for songs
            that were not played by hand.

    >>> from pegwright import bundled_songs, read_score
    >>> score, findings = read_score(bundled_songs()[0])
    >>> score.pitch_midi[:3].tolist(), (score.onset_ticks[:3] / score.resolution).tolist()
    ([74, 79, 43], [0.0, 1.0, 1.0])
    >>> str(score.source(1))
    'bathing-machine-minuet.musicxml:Chimes:bar 1 beat 1'
    """

    title: str
    file: str
    sha256: str
    resolution: int
    tolerance_ticks: int
    onset_ticks: Ints
    duration_ticks: Ints
    pitch_midi: Ints
    velocity: Ints
    part: Ints
    parts: tuple[Part, ...]
    tempo_map: TempoMap
    bar_map: BarMap
    ornament: Ints = field(default_factory=lambda: frozen_ints([]))
    ornaments: tuple[Ornament, ...] = ()
    spelling: Spellings = field(default_factory=lambda: frozen_spellings([]))
    written: Ints = field(default_factory=lambda: frozen_ints([]))
    confidence: Floats = field(default_factory=lambda: frozen_floats([]))

    @property
    def doubtful(self) -> Ints:
        """Numbers of the notes played by hand whose hole is in doubt."""
        return np.flatnonzero(self.confidence < LOW_CONFIDENCE)

    @property
    def note_count(self) -> int:
        """Notes in the score."""
        return len(self.onset_ticks)

    @property
    def length_ticks(self) -> int:
        """From tick 0 to the end of the last bar."""
        return self.bar_map.end_ticks

    def with_notes(self, chosen: Ints | NDArray[np.bool_]) -> Score:
        """The score with some of its notes, or all in another order, and nothing else changed.

        Args:
            chosen: numbers of the notes in their new order, or shape (n,) whether each is kept.
        """
        return replace(
            self,
            onset_ticks=frozen_ints(self.onset_ticks[chosen]),
            duration_ticks=frozen_ints(self.duration_ticks[chosen]),
            pitch_midi=frozen_ints(self.pitch_midi[chosen]),
            velocity=frozen_ints(self.velocity[chosen]),
            part=frozen_ints(self.part[chosen]),
            ornament=frozen_ints(self.ornament[chosen]) if len(self.ornament) else self.ornament,
            spelling=frozen_spellings(self.spelling[chosen]) if len(self.spelling) else self.spelling,
            written=frozen_ints(self.written[chosen]) if len(self.written) else self.written,
            confidence=frozen_floats(self.confidence[chosen]) if len(self.confidence) else self.confidence,
        )

    def in_order(self) -> Score:
        """The score with its notes by onset, then part, then pitch."""
        return self.with_notes(np.lexsort((self.pitch_midi, self.part, self.onset_ticks)))

    def in_finer_ticks(self, factor: int) -> Score:
        """The same music in ticks `factor` times as fine."""
        tempi, bars = self.tempo_map, self.bar_map
        return replace(
            self,
            resolution=self.resolution * factor,
            tolerance_ticks=self.tolerance_ticks * factor,
            onset_ticks=frozen_ints(self.onset_ticks * factor),
            duration_ticks=frozen_ints(self.duration_ticks * factor),
            tempo_map=replace(tempi, ticks=frozen_ints(tempi.ticks * factor)),
            bar_map=replace(
                bars,
                ticks=frozen_ints(bars.ticks * factor),
                end_ticks=bars.end_ticks * factor,
                cut_ticks=bars.cut_ticks * factor,
            ),
        )

    def percussion_notes(self) -> NDArray[np.bool_]:
        """Shape (n,): whether each note is in a percussion part."""
        return looked_up(self.part, lambda part: self.parts[part].percussion, np.bool_)

    def source(self, note: int) -> SourceRef:
        """Where note number `note` (0-based) came from."""
        tick = int(self.onset_ticks[note])
        label, beat = self.bar_map.place_of(tick, self.resolution)
        return SourceRef(self.file, self.parts[int(self.part[note])].name, label, beat)

    def pitch_name(self, note: int, semitones: int = 0) -> str:
        """The name of a note's pitch, or of one some semitones above, spelled as in the song where that is known."""
        pitch = int(self.pitch_midi[note]) + semitones
        if not len(self.spelling):
            return pitch_name(pitch)
        return spelled_name(pitch, int(moved_spellings(self.spelling[note], semitones))) or pitch_name(pitch)
