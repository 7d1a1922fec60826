"""Parts of a MIDI file: one for each track and channel that has notes, with its name and program."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from contextlib import suppress
from operator import itemgetter

from pegwright.formats import MAX_NAME_CHARS
from pegwright.frozen import frozen
from pegwright.read.midi.events import Meta, Program
from pegwright.read.midi.scan import INSTRUMENT_NAME, TRACK_NAME
from pegwright.score import Part
from pegwright.units import UniqueNames, one_line, printed

PERCUSSION_CHANNEL = 9  # printed as 10


@frozen()
class Labels:
    """What the events say about tracks and channels.

    Args:
        track_names, instrument_names: by track; the first that says anything.
        programs: (tick, program) changes in time order, by (track, channel), and of all tracks by (None, channel).
    """

    track_names: dict[int, str]
    instrument_names: dict[int, str]
    programs: dict[tuple[int | None, int], list[tuple[int, int]]]


def clean_name(data: bytes) -> str:
    """A name as the file has it, made printable: from UTF-8 if valid, else Latin-1; one line of visible letters."""
    text = data.decode("latin-1")
    with suppress(UnicodeDecodeError):
        text = data.decode("utf-8")
    return one_line(text, MAX_NAME_CHARS)


def read_labels(metas: Sequence[Meta], programs: Sequence[Program]) -> Labels:
    """Names from meta events, and programs."""
    tracks: dict[int, str] = {}
    instruments: dict[int, str] = {}
    for track, _, kind, data in metas:
        if kind == TRACK_NAME:
            tracks[track] = tracks.get(track) or clean_name(data)
        elif kind == INSTRUMENT_NAME:
            instruments[track] = instruments.get(track) or clean_name(data)
    changes: defaultdict[tuple[int | None, int], list[tuple[int, int]]] = defaultdict(list)
    for track, tick, channel, program in sorted(programs, key=itemgetter(1)):
        for key in (track, channel), (None, channel):
            changes[key].append((tick, program))
    return Labels(tracks, instruments, dict(changes))


def name_parts(
    voices: Sequence[int], first_onsets: Sequence[int], labels: Labels, single_track: bool
) -> Iterator[Part]:
    """The parts, each with a name of its own.

    A part is called by its track, then by the track's instrument, then by the track's number; with the channel
    where the track plays on several. In a file of a single track that track's name is the song's, and parts are
    called by their channels.

    Args:
        voices: track x 16 + channel of each part, rising.
        first_onsets: tick of each part's first note.
        labels: see there.
        single_track: the file has one track.
    """
    channel_counts = Counter(voice >> 4 for voice in voices)
    names = UniqueNames()
    for voice, onset in zip(voices, first_onsets, strict=True):
        track, channel = voice >> 4, voice & 15
        own_name = "" if single_track else labels.track_names.get(track, "")
        name = own_name or labels.instrument_names.get(track, "")
        if not name and single_track:
            name = f"Channel {printed(channel)}"
        else:
            name = name or f"Track {printed(track)}"
            name += f", channel {printed(channel)}" if channel_counts[track] > 1 else ""
        percussion = channel == PERCUSSION_CHANNEL
        program = None if percussion else _program(labels, track, channel, onset)
        yield Part(names.take(name), percussion, program)


def _program(labels: Labels, track: int, channel: int, onset: int) -> int | None:
    """The program at a part's first note: the track's own change if it has one, else another track's."""
    for key in (track, channel), (None, channel):
        changes = labels.programs.get(key, [])
        place = bisect_right(changes, onset, key=itemgetter(0))
        if place:
            return changes[place - 1][1]
    return None
