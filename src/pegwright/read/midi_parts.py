"""Parts of a MIDI file: one for each track and channel that has notes, with its name and program."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

from pegwright.read.limits import MAX_NAME_CHARS
from pegwright.score import Part
from pegwright.units import printed

PERCUSSION_CHANNEL = 9  # printed as 10


@dataclass(frozen=True, slots=True)
class Labels:
    """What the events say about tracks and channels.

    Args:
        track_names, instrument_names: by track; the first that says anything.
        programs: (tick, program) changes in time order, by (track, channel), and of all tracks by (None, channel).
    """

    track_names: dict[int, str]
    instrument_names: dict[int, str]
    programs: dict[tuple[int | None, int], list[tuple[int, int]]]


def clean_name(text: str) -> str:
    """A name as the file has it, fit to print: in UTF-8 if it is that, else Latin-1; one line of visible letters.

    Args:
        text: the bytes of the name, each as the Latin-1 letter of that value.
    """
    with suppress(UnicodeDecodeError):
        text = text.encode("latin-1").decode("utf-8")
    spaced = "".join(letter if letter.isprintable() or letter.isspace() else "" for letter in text)
    return " ".join(spaced.split())[:MAX_NAME_CHARS].rstrip()


def read_labels(others: Sequence[tuple[int, int, Any]]) -> Labels:
    """Names and programs from (track, tick, mido message) events."""
    tracks: dict[int, str] = {}
    instruments: dict[int, str] = {}
    programs: defaultdict[tuple[int | None, int], list[tuple[int, int]]] = defaultdict(list)
    for track, tick, message in others:
        kind = message.type
        if kind == "track_name":
            tracks[track] = tracks.get(track) or clean_name(message.name)
        elif kind == "instrument_name":
            instruments[track] = instruments.get(track) or clean_name(message.name)
        elif kind == "program_change":
            for key in (track, message.channel), (None, message.channel):
                programs[key].append((tick, message.program))
    for changes in programs.values():
        changes.sort(key=itemgetter(0))
    return Labels(tracks, instruments, dict(programs))


def name_parts(voices: Sequence[int], first_onsets: Sequence[int], labels: Labels, single_track: bool) -> list[Part]:
    """The parts, named apart.

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
    names: Counter[str] = Counter()
    taken: set[str] = set()
    parts = []
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
        parts.append(Part(_apart(name, names, taken), percussion, program))
    return parts


def _apart(name: str, names: Counter[str], taken: set[str]) -> str:
    """The name, with a number behind it where another part has it already."""
    unique = name
    while unique in taken:
        names[name] += 1
        unique = f"{name} ({printed(names[name])})"
    taken.add(unique)
    return unique


def _program(labels: Labels, track: int, channel: int, onset: int) -> int | None:
    """The program at a part's first note: the track's own change if it has one, else another track's."""
    for key in (track, channel), (None, channel):
        changes = labels.programs.get(key, [])
        place = bisect_right(changes, onset, key=itemgetter(0))
        if place:
            return changes[place - 1][1]
    return None
