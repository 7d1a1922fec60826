"""The demo songs: the files are what their source writes, and each is the music it says it is.

Two readers outside the project have to agree on the counts, metres and lengths stated below:
symusic and music21 for MIDI, music21 and the standard library's XML parser for MusicXML. None of
pegwright takes part: that pieces go in whole is reckoned here by plain arithmetic on the wheel file.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tomllib
import zipfile
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import music21
import pytest
import symusic

from places import SONGS

WHEEL: dict[str, Any] = tomllib.loads((SONGS / "merrow-sands.toml").read_text())
TURN = Fraction(48)  # 6 plates of 32 sixteenths, in quarters
DRUM_PLACES = {"F4": 36, "C5": 38, "E5": 76, "G5": 54, "A5": 81}  # our staff places, General MIDI keys


@dataclass(frozen=True)
class Facts:
    """What a file must hold: bars as played, metre, sharps, quarter notes a minute, notes by part."""

    bars: int
    metre: str
    sharps: int
    tempo: int
    notes: tuple[int, ...]
    quarters: int = 48


FITTING = {
    "shrimpers-jig.mid": Facts(16, "6/8", 1, 156, (88, 16, 32, 69)),
    "pier-masters-hornpipe.mid": Facts(12, "4/4", 1, 116, (74, 27, 27, 87)),
    "turnstile-tango.mid": Facts(24, "2/4", 0, 104, (83, 95, 97)),
    "lullaby-for-a-lighthouse.mid": Facts(12, "4/4", 0, 63, (30, 69, 23, 6)),
    "rowing-boat-barcarolle.mid": Facts(16, "6/8", 1, 84, (45, 63, 31, 31)),
    "waltz-of-the-empty-deckchairs.musicxml": Facts(16, "3/4", 1, 138, (32, 48, 16, 46)),
    "salt-water-shuffle.musicxml": Facts(12, "4/4", 0, 92, (69, 49, 51)),
    "bathing-machine-minuet.musicxml": Facts(16, "3/4", 1, 112, (50, 31, 32, 48)),
    "donkey-ride-polka.mxl": Facts(24, "2/4", 0, 116, (125, 88, 50, 116)),
    "penny-rocket-galop.musicxml": Facts(24, "2/4", 0, 132, (114, 83, 50, 106)),
    "the-sands-at-evening.musicxml": Facts(16, "3/4", 0, 76, (43, 22, 31)),
    "round-the-pier-and-back.mxl": Facts(24, "4/4", 0, 104, (88, 80, 64, 48, 102), quarters=96),
}
OTHERS = {
    "lamplighters-march.mid": Facts(12, "4/4", 0, 112, (70, 38, 26, 70)),
    "the-committee-regrets.musicxml": Facts(14, "4/4", 0, 126, (93, 51, 37, 66), quarters=56),
    "low-water-slowly.mid": Facts(13, "4/4", 0, 22, (47, 16, 28, 20), quarters=52),
}
ALL = FITTING | OTHERS
PLAYING_ORDER = {  # indexes of the written bars, as the signs say
    "bathing-machine-minuet.musicxml": [*range(5), *range(14)],
    "donkey-ride-polka.mxl": [*range(8), *range(7), *range(8, 17)],
    "penny-rocket-galop.musicxml": [*range(16), *range(8)],
}
TITLES = {
    "shrimpers-jig.mid": "The Shrimpers' Jig",
    "rowing-boat-barcarolle.mid": "Rowing-Boat Barcarolle",
    "donkey-ride-polka.mxl": "Donkey Ride Polka",
    "the-committee-regrets.musicxml": "The Committee Regrets",
}


@dataclass(frozen=True, order=True)
class Note:
    onset: Fraction  # in quarters from the start of the song
    key: int
    drum: bool
    part: int


def test_the_files_are_what_the_source_writes(tmp_path: Path) -> None:
    subprocess.run([sys.executable, str(SONGS / "source" / "make.py"), str(tmp_path)], check=True)
    made = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    kept = {path.name: path.read_bytes() for path in SONGS.iterdir() if path.suffix in {".mid", ".mxl", ".musicxml"}}
    assert made.keys() == kept.keys() == ALL.keys()
    assert [name for name in made if made[name] != kept[name]] == []


def test_every_piece_is_in_the_readme() -> None:
    readme = (SONGS / "README.md").read_text()
    assert [name for name in ALL if f"`{name}`" not in readme] == []


@pytest.mark.parametrize("name", [name for name in ALL if name.endswith(".mid")])
def test_symusic_reads_the_midi_files(name: str) -> None:
    facts, score = ALL[name], symusic.Score(SONGS / name)
    assert tuple(len(track.notes) for track in score.tracks) == facts.notes
    assert [(change.time, round(change.qpm)) for change in score.tempos] == [(0, facts.tempo)]
    assert [f"{change.numerator}/{change.denominator}" for change in score.time_signatures] == [facts.metre]
    assert [change.key for change in score.key_signatures] == [facts.sharps]
    assert [track.is_drum for track in score.tracks] == [False] * (len(score.tracks) - 1) + [True]
    if name != "rowing-boat-barcarolle.mid":  # in format 0 one track holds all channels and one name
        names = [track.name for track in score.tracks]
        assert names[0] == "Chimes"
        assert names[-2:] == ["Bass", "Percussion"]


def test_one_midi_file_is_of_format_0() -> None:
    formats = {path.name: path.read_bytes()[8:10] for path in SONGS.glob("*.mid")}
    assert {name for name, value in formats.items() if value == b"\0\0"} == {"rowing-boat-barcarolle.mid"}
    assert set(formats.values()) == {b"\0\0", b"\0\1"}


@pytest.mark.parametrize("name", ALL)
def test_music21_reads_as_many_notes_bars_and_quarters(name: str) -> None:
    facts, score = ALL[name], parsed(name)
    counts = tuple(len(part) for part in by_part(name))
    if name == "rowing-boat-barcarolle.mid":
        assert sum(counts) == sum(facts.notes)  # format 0: music21 keeps all channels in one part
    else:
        assert counts == facts.notes
    assert {metre.ratioString for metre in score.recurse().getElementsByClass("TimeSignature")} == {facts.metre}
    assert {key.sharps for key in score.recurse().getElementsByClass("KeySignature")} == {facts.sharps}
    assert round(score.recurse().getElementsByClass("MetronomeMark")[0].getQuarterBPM()) == facts.tempo
    if not name.endswith(".mid"):  # a MIDI file has no bars of its own
        for part in score.parts:
            bars = part.expandRepeats().getElementsByClass("Measure")
            assert sum(Fraction(bar.duration.quarterLength) for bar in bars) == facts.quarters


@pytest.mark.parametrize("name", ALL)
def test_bars_of_the_metre_fill_the_length(name: str) -> None:
    facts = ALL[name]
    beats, beat_type = map(int, facts.metre.split("/"))
    assert Fraction(4 * beats * facts.bars, beat_type) == facts.quarters


@pytest.mark.parametrize("name", [name for name in ALL if name.endswith(".mid")])
def test_midi_tracks_end_at_the_last_bar_line(name: str) -> None:
    """A reader then knows how long the last bar is, even where it ends with a rest."""
    data = (SONGS / name).read_bytes()
    division = int.from_bytes(data[12:14], "big")
    assert {Fraction(ticks, division) for ticks in track_lengths(data)} == {Fraction(ALL[name].quarters)}


@pytest.mark.parametrize("name", [name for name in ALL if not name.endswith(".mid")])
def test_written_bars_in_their_playing_order_give_the_same_notes(name: str) -> None:
    """The repeat signs, unfolded by hand here and by music21 above, must come to the same count."""
    for part, expected in zip(xml_root(name).findall("part"), ALL[name].notes, strict=True):
        counts = [sum(is_struck(note) for note in bar.iter("note")) for bar in part.findall("measure")]
        order = PLAYING_ORDER.get(name, list(range(len(counts))))
        assert sum(counts[bar] for bar in order) == expected


@pytest.mark.parametrize("name", [name for name in ALL if not name.endswith(".mid")])
def test_musicxml_durations_fill_every_bar(name: str) -> None:
    """MusicXML 4.0: duration counts in divisions of a quarter; a chord note does not move the position."""
    root = xml_root(name)
    beats, beat_type = map(int, ALL[name].metre.split("/"))
    for part in root.findall("part"):
        divisions = int(part.findtext(".//divisions", ""))
        assert divisions <= 16383  # MusicXML 4.0 bounds divisions so for MIDI's sake
        lengths = [
            Fraction(sum(int(note.findtext("duration", "")) for note in bar if is_step(note)), divisions)
            for bar in part.findall("measure")
        ]
        short = {index for index, length in enumerate(lengths) if length != Fraction(4 * beats, beat_type)}
        assert short == ({0, 4, 5, 13} if name.startswith("bathing") else set())


@pytest.mark.parametrize("name", [name for name in ALL if not name.endswith(".mid")])
def test_every_drum_note_names_an_instrument_with_a_one_based_key(name: str) -> None:
    """MusicXML 4.0, midi-unpitched: 1 to 128, so one more than the General MIDI key."""
    root = xml_root(name)
    keys = {
        element.get("id"): int(element.findtext("midi-unpitched", "")) - 1
        for element in root.iter("midi-instrument")
        if element.find("midi-unpitched") is not None
    }
    for note in root.iter("note"):
        place = note.find("unpitched")
        if place is not None:
            instrument = note.find("instrument")
            assert instrument is not None
            staff = place.findtext("display-step", "") + place.findtext("display-octave", "")
            assert keys[instrument.get("id")] == DRUM_PLACES[staff]


@pytest.mark.parametrize("name", TITLES)
def test_titles(name: str) -> None:
    if name.endswith(".mid"):
        assert TITLES[name].encode() in (SONGS / name).read_bytes()
    else:
        assert parsed(name).metadata.title == TITLES[name]
        assert parsed(name).metadata.composer == "Pegwright project"


@pytest.mark.parametrize("name", FITTING)
def test_fitting_pieces_need_only_holes_that_exist(name: str) -> None:
    assert troubles(name) == Counter()


@pytest.mark.parametrize("name", FITTING)
def test_fitting_pieces_strike_no_semitones_together(name: str) -> None:
    """A check of the music: no minor second, major seventh or their octaves between notes struck at once."""
    together: dict[Fraction, list[int]] = {}
    for note in notes(name):
        if not note.drum:
            together.setdefault(note.onset, []).append(note.key)
    clashes = [
        (onset, low, high)
        for onset, keys in together.items()
        for low in keys
        for high in keys
        if low < high and (high - low) % 12 in {1, 11}
    ]
    assert clashes == []


def test_the_march_crosses_two_seams() -> None:
    lost = [note for note in notes("lamplighters-march.mid") if is_lost(note.onset)]
    assert [(note.onset, note.key, note.drum) for note in lost] == [
        (Fraction(127, 8), 78, False),  # F#5, the last 32nd of bar 4
        (Fraction(255, 8), 38, True),  # snare, the last 32nd of bar 8
    ]
    assert troubles("lamplighters-march.mid") == Counter({"lost at a seam": 2})


def test_the_shuffle_uses_triplet_holes_on_chimes_and_strings_only() -> None:
    in_thirds = [note for note in notes("salt-water-shuffle.musicxml") if note.onset.denominator == 3]
    assert Counter("drum" if note.drum else "string" if note.key < 60 else "chime" for note in in_thirds) == Counter(
        {"chime": 30, "string": 1}
    )


def test_two_pieces_tie_a_note_over_a_bar_line() -> None:
    """In MusicXML two notes and a tie, in MIDI one long note."""
    air = [element.get("type") for element in xml_root("the-sands-at-evening.musicxml").iter("tie")]
    assert air == ["start", "stop"]
    tune = symusic.Score(SONGS / "turnstile-tango.mid").tracks[0]
    assert [(note.time, note.duration) for note in tune.notes if note.time < 11 * 960 < note.time + note.duration] == [
        (11 * 960 - 240, 240 + 120)  # 480 ticks a quarter: an eighth before bar 12 and a sixteenth in it
    ]


def test_the_round_is_a_round() -> None:
    """Each voice is the one before it, four bars later, until the piece ends."""
    voices = [[(note.onset, note.key) for note in part] for part in by_part("round-the-pier-and-back.mxl")[:3]]
    for leader, follower in pairwise(voices):
        assert follower == [(onset + 16, key) for onset, key in leader if onset + 16 < 96]


def test_the_round_sounds_the_same_at_the_end_of_both_turns() -> None:
    """Bars 9 to 12 and 21 to 24 have the same notes: all three strains over the ground."""
    kept = [note for note in notes("round-the-pier-and-back.mxl") if 32 <= note.onset % 48 < 48]
    turns = [sorted((note.onset % 48, note.key) for note in kept if note.onset // 48 == turn) for turn in (0, 1)]
    assert turns[0] == turns[1]
    assert len(turns[0]) > 60


def test_the_committee_meets_every_reason_but_touching_pins() -> None:
    assert troubles("the-committee-regrets.musicxml") == Counter(
        {
            "no channel for this pitch": 3,
            "not on a hole": 14,
            "lost at a seam": 2,
            "hole already used": 1,
            "re-strike too soon": 16,
            "too many at once": 2,
            "past the end of the turn": 33,
        }
    )


def test_two_of_the_sevens_are_off_the_grid() -> None:
    """The wheel's reach, 1/96, is a sixth of a step; no place is further than a quarter from an on or half hole."""
    places = [note.onset * 4 for note in notes("the-committee-regrets.musicxml")]
    distances = [nearest_hole(steps) for steps in places if steps.denominator in {5, 7}]
    assert len(distances) == 14
    assert max(distances) <= Fraction(1, 4)
    assert sum(distance > Fraction(1, 6) for distance in distances) == 2
    assert sum(distance > Fraction(1, 8) for distance in distances) == 8  # with a reach of 1/128


def test_low_water_is_slow_enough_for_pins_to_touch() -> None:
    assert troubles("low-water-slowly.mid") == Counter(
        {
            "pins would touch": 2,
            "re-strike too soon": 1,
            "not on a hole": 6,
            "no channel for this pitch": 1,
            "lost at a seam": 1,
            "hole already used": 1,
            "too many at once": 1,
            "past the end of the turn": 5,
        }
    )


# ---- reading the files, with none of our own code -------------------------------------------


@lru_cache
def parsed(name: str) -> music21.stream.Score:
    score = music21.converter.parse(SONGS / name, forceSource=True, quantizePost=False)
    top, *others = list(score.parts)
    for bar in top.getElementsByClass("Measure"):
        for jump in bar.getElementsByClass("RepeatExpression"):  # printed once, above the top part, and meant for all
            for part in others:
                part.measure(bar.number).append(type(jump)())
    return score


@lru_cache
def notes(name: str) -> tuple[Note, ...]:
    return tuple(sorted(midi_notes(name) if name.endswith(".mid") else xml_notes(name)))


def by_part(name: str) -> list[list[Note]]:
    if not name.endswith(".mid"):
        return [[note for note in notes(name) if note.part == part] for part in range(len(parsed(name).parts))]
    return [list(music21_notes(part, number)) for number, part in enumerate(parsed(name).parts)]


def midi_notes(name: str) -> Iterable[Note]:
    score = symusic.Score(SONGS / name)
    for number, track in enumerate(score.tracks):
        for note in track.notes:
            yield Note(Fraction(note.time, score.ticks_per_quarter), note.pitch, track.is_drum, number)


def xml_notes(name: str) -> Iterable[Note]:
    for number, part in enumerate(parsed(name).parts):
        yield from music21_notes(part.expandRepeats(), number)


def music21_notes(part: music21.stream.Part, number: int) -> Iterable[Note]:
    for written in part.stripTies().flatten().notes:
        onset = Fraction(written.offset).limit_denominator(5040)
        for note in written.notes if hasattr(written, "notes") else [written]:
            if isinstance(note, music21.note.Unpitched):
                place = note.displayStep + str(note.displayOctave)
                yield Note(onset, DRUM_PLACES.get(place, 0), True, number)
            else:
                yield Note(onset, note.pitch.midi, False, number)


def xml_root(name: str) -> ET.Element:
    data = (SONGS / name).read_bytes()
    if name.endswith(".mxl"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            container = ET.fromstring(archive.read("META-INF/container.xml"))  # noqa: S314  # our own file
            path = container.find("rootfiles/rootfile")
            assert path is not None
            data = archive.read(path.get("full-path", ""))
    return ET.fromstring(data)  # noqa: S314  # our own file


def is_step(element: ET.Element) -> bool:
    return element.tag == "note" and element.find("chord") is None


def is_struck(note: ET.Element) -> bool:
    return note.find("rest") is None and note.find("tie[@type='stop']") is None


def track_lengths(data: bytes) -> list[int]:
    """Ticks from start to end of each track, by the byte rules of Standard MIDI Files 1.0 (from memory)."""
    lengths, at = [], 14
    while at < len(data):
        end = at + 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        at, total, status = at + 8, 0, 0
        while at < end:
            delta, at = variable_length(data, at)
            total += delta
            if data[at] >= 0x80:
                status, at = data[at], at + 1
            if status == 0xFF:
                size, at = variable_length(data, at + 1)
                at += size
            else:
                at += 1 if status & 0xF0 in {0xC0, 0xD0} else 2
        lengths.append(total)
    return lengths


def variable_length(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    while True:
        value = value << 7 | data[at] & 0x7F
        at += 1
        if data[at - 1] < 0x80:
            return value, at


# ---- the wheel, by plain arithmetic ----------------------------------------------------------


def channel_of(note: Note) -> dict[str, Any] | None:
    key = "drum_keys" if note.drum else "pitches"
    found = [channel for channel in WHEEL["channel"] if note.key in channel.get(key, [])]
    return WHEEL["channel_defaults"] | found[0] if found else None


def row_at(steps: Fraction) -> str | None:
    return {0: "on", Fraction(1, 2): "half"}.get(steps % 1) or (
        "triplet" if steps % 2 in {Fraction(2, 3), Fraction(4, 3)} else None
    )


def is_lost(onset: Fraction) -> bool:
    return onset * 4 % 32 == Fraction(63, 2)


def nearest_hole(steps: Fraction) -> Fraction:
    """Distance in steps to the nearest hole of a channel with all three rows."""
    phases = (Fraction(phase) for phase in ("0", "1/2", "2/3", "1", "4/3", "3/2", "2"))
    return min(abs(steps % 2 - phase) for phase in phases)


def troubles(name: str) -> Counter[str]:
    """Why notes would be left out or moved if nothing but the score's own places were tried."""
    found: Counter[str] = Counter()
    turns = -(-ALL[name].quarters // 48) if name in FITTING else 1  # the round fills two turns
    pins: dict[tuple[int, str], list[Fraction]] = {}
    drums: Counter[Fraction] = Counter()
    for note in notes(name):
        channel, steps = channel_of(note), note.onset * 4
        if note.onset >= turns * TURN:
            found["past the end of the turn"] += 1
        elif channel is None:
            found["no channel for this pitch"] += 1
        elif row_at(steps) not in channel["rows"]:
            found["not on a hole"] += 1
        elif steps in pins.setdefault((note.onset // TURN, channel["name"]), []):
            found["hole already used"] += 1
        else:
            found["lost at a seam"] += is_lost(note.onset)
            pins[note.onset // TURN, channel["name"]].append(steps)
            drums[note.onset] += note.drum
    found["too many at once"] = sum(count > WHEEL["limit"][0]["strikes"] for count in drums.values())
    step_ms = 60_000 / ALL[name].tempo / 4
    restrike_ms = {
        channel["name"]: (WHEEL["channel_defaults"] | channel)["restrike_ms"] for channel in WHEEL["channel"]
    }
    for (_, channel_name), places in pins.items():
        for here, after in zip(places, [*places[1:], places[0] + 192], strict=True):
            if (after - here) * Fraction(step_ms) < restrike_ms[channel_name]:
                found["re-strike too soon"] += 1
            elif would_touch(here, after):
                found["pins would touch"] += 1
    return +found


def would_touch(here: Fraction, after: Fraction) -> bool:
    sizes = WHEEL["geometry"]
    aside = {row["name"]: row.get("lateral_mm", 0.0) for row in WHEEL["row"]}
    along_mm = float(after - here) * 2 * 3.141592653589793 * sizes["radius_mm"] / 192
    across_mm = aside[row_at(here) or ""] - aside[row_at(after) or ""]
    return bool(along_mm**2 + across_mm**2 < (sizes["pin_diameter_mm"] + sizes["pin_clearance_mm"]) ** 2)
