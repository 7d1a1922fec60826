"""What verovio and music21 read in a MusicXML file: the order of bars, and the onset of every note.

Bars are numbered anew through the file first, so that every reader names a bar alike, whatever the file calls it.
"""

from __future__ import annotations

import base64
import io
import re
import warnings
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias
from xml.etree import ElementTree

import pytest

from pegwright.findings import Finding
from pegwright.musicxml.archive import xml_tree
from pegwright.musicxml.reader import read_musicxml
from pegwright.units import printed

TOLERANCE_QUARTERS = 1 / 60  # two ticks of verovio's MIDI, which has 120 a quarter
_ENDING = "barline/ending[@type="
_PLAYED_OUT = ("ornaments", "arpeggiate", "non-arpeggiate", "glissando", "slide", "fermata")

Strike: TypeAlias = tuple[float, int]  # onset in quarters, MIDI pitch


@dataclass(frozen=True)
class Reading:
    """A score as one reader plays it.

    Args:
        bars: 1-based numbers of the written bars in playing order.
        starts: where each of them begins, in quarters.
        notes: (onset in quarters, MIDI pitch) of every note struck, sorted.
        findings: what the reader reported, of ours alone.
    """

    bars: list[int]
    starts: list[float]
    notes: list[Strike]
    findings: tuple[Finding, ...] = ()


def corpus() -> Path:
    """The folder of music21's own corpus of scores; tests that need it are left out where music21 is missing."""
    music21 = pytest.importorskip("music21")
    return Path(music21.__file__).parent / "corpus"


def numbered_text(data: bytes, plain: bool = False) -> bytes:
    """The XML of a file, plain or packed, with its bars numbered from 1.

    Args:
        data: the file.
        plain: leave out what the readers play out each in their own way: grace notes, ornaments, arpeggios; and the
            size in which a note is drawn, since verovio takes small ones for cue notes.
    """
    root = xml_tree(data, "score")
    for part in [root] if root.tag == "score-timewise" else root.iterfind("part"):
        for index, measure in enumerate(part.iterfind("measure")):
            measure.set("number", str(printed(index)))
    if plain:
        for measure in root.iter("measure"):
            for note in measure.findall("note"):
                if note.find("grace") is not None:
                    measure.remove(note)
                for kind in note.findall("type"):
                    kind.attrib.pop("size", None)
                for notations in note.findall("notations"):
                    for mark in [mark for mark in notations if mark.tag in _PLAYED_OUT]:
                        notations.remove(mark)
    return b"<?xml version='1.0' encoding='UTF-8'?>" + ElementTree.tostring(root, encoding="unicode").encode()


def our_reading(text: bytes) -> Reading:
    """A numbered text as this project reads it."""
    song, findings = read_musicxml(text, "score.musicxml")
    onsets = (song.onset_ticks / song.resolution).tolist()
    notes = sorted(zip(onsets, song.pitch_midi.tolist(), strict=True))
    starts = (song.bar_map.ticks / song.resolution).tolist()
    return Reading([int(label.split(",")[0]) for label in song.bar_map.labels], starts, notes, findings)


def verovio_reading(text: bytes) -> Reading:
    """A numbered text as verovio reads it: repeats expanded, cue notes left out."""
    import mido
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"midiNoCue": True, "breaks": "none"})  # nobody looks at the pages
    if not toolkit.loadData(text.decode()):
        raise ValueError("verovio does not read this")
    numbers: dict[str, int] = {}
    for tag in re.findall(r"<measure [^>]*>", toolkit.getMEI()):
        name, number = (re.search(rf'\b{key}="([^"]*)"', tag) for key in ("xml:id", "n"))
        if name and number:
            numbers[name[1]] = int(number[1])
    begun = [event for event in toolkit.renderToTimemap({"includeMeasures": True}) if "measureOn" in event]
    bars = [numbers[re.sub(r"-rend\d+$", "", event["measureOn"])] for event in begun]
    file = mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit.renderToMIDI())))
    return Reading(bars, [event["qstamp"] for event in begun], midi_notes(file))


def midi_notes(file: Any) -> list[Strike]:  # noqa: ANN401  # mido has no types
    """(onset in quarters, pitch) of every note-on of a MIDI file, sorted."""
    notes = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                notes.append((tick / file.ticks_per_beat, message.note))
    return sorted(notes)


def music21_reading(text: bytes) -> Reading:
    """A numbered text as music21 reads and expands it, and joins what is tied; chord symbols are no notes.

    music21 joins a note to the one of its pitch that a tie leads to, whether or not that says so, but a chord only as a
    whole; in chords that it does not join, heads that a tie leads to are left out here.
    """
    from music21.chord import ChordBase
    from music21.harmony import Harmony
    from music21.musicxml.xmlToM21 import MusicXMLImporter
    from music21.stream import Measure

    importer = MusicXMLImporter()
    importer.xmlText = text
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # music21 warns of things that do not matter here
        importer.parseXMLText()
        sounding = importer.stream.toSoundingPitch()
        expanded = sounding.expandRepeats().stripTies()
    notes = []
    for part in expanded.parts:
        for element in part.flatten().notes:
            if isinstance(element, Harmony):
                continue
            heads = element.notes if isinstance(element, ChordBase) else [element]
            notes += [
                (float(element.offset), int(head.pitch.midi) if hasattr(head, "pitch") else 0)
                for head in heads
                if head.tie is None or head.tie.type in ("start", "let-ring")
            ]
    longest = max(expanded.parts, key=lambda part: len(part.getElementsByClass(Measure)))
    measures = list(longest.getElementsByClass(Measure))
    starts = [float(measure.offset) for measure in measures]
    return Reading([measure.number for measure in measures], starts, sorted(notes))


def alike(ours: Sequence[Strike], others: Sequence[Strike], tolerance: float = TOLERANCE_QUARTERS) -> int:
    """How many notes have a partner of their pitch within a tolerance in quarters, each partner taken once."""
    theirs: defaultdict[int, list[float]] = defaultdict(list)
    for onset, pitch in sorted(others):
        theirs[pitch].append(onset)
    places: Counter[int] = Counter()
    count = 0
    for onset, pitch in sorted(ours):
        partners, place = theirs[pitch], places[pitch]
        while place < len(partners) and partners[place] < onset - tolerance:
            place += 1
        if place < len(partners) and partners[place] <= onset + tolerance:
            count, place = count + 1, place + 1
        places[pitch] = place
    return count


def alike_in_bars(ours: Reading, others: Reading) -> int:
    """How many notes two readings have at the same place of the same bar, the bars counted as played.

    So a bar that one of them plays longer than the other does not put all behind it at a different time.
    """
    own, their = _by_bar(ours), _by_bar(others)
    return sum(alike(notes, their.get(bar, [])) for bar, notes in own.items())


def _by_bar(reading: Reading) -> dict[int, list[Strike]]:
    bars: defaultdict[int, list[Strike]] = defaultdict(list)
    for onset, pitch in reading.notes:
        bar = max(0, bisect_right(reading.starts, onset + TOLERANCE_QUARTERS / 2) - 1)
        bars[bar].append((onset - reading.starts[bar], pitch))
    return dict(bars)


def explicit_text(text: bytes) -> bytes:
    """A numbered text with that written out which it leaves to its readers: where repeats begin, and their endings.

    A repeat without a beginning begins after the latest double bar line or end of a repeated section, as the ABC
    music standard 2.1 says of the same signs (section 4.8). The bracket of a first ending reaches to its repeat, and is
    one bar long where only its end is marked; a bar after a lone one is the second ending.
    """
    root = xml_tree(text, "score")
    for part in root.iterfind("part"):
        bars = part.findall("measure")
        _write_endings(bars)
        _write_beginnings(bars)
    return b"<?xml version='1.0' encoding='UTF-8'?>" + ElementTree.tostring(root, encoding="unicode").encode()


def _write_endings(bars: list[ElementTree.Element]) -> None:
    """Number and complete the endings beside each backward repeat that has any."""
    for index, bar in enumerate(bars):
        repeat = bar.find("barline/repeat[@direction='backward']/..")
        following = bars[index + 1] if index + 1 < len(bars) else None
        second = following is not None and following.find(f"{_ENDING}'start']") is not None
        if repeat is None or (repeat.find("ending") is None and not second):
            continue
        first = _first_of_ending(bars, index)
        for barline in (each for inside in bars[first : index + 1] for each in inside.findall("barline")):
            for ending in barline.findall("ending"):
                barline.remove(ending)
        _add_ending(bars[first], "left", "1", "start")
        ElementTree.SubElement(repeat, "ending", number="1", type="stop")
        if following is not None and not second:
            _add_ending(following, "left", "2", "start")
            _add_ending(following, "right", "2", "discontinue")


def _first_of_ending(bars: list[ElementTree.Element], last: int) -> int:
    """The bar where the bracket begins that ends with a bar, which is that very bar where no beginning is marked."""
    for first in range(last, -1, -1):
        if bars[first].find(f"{_ENDING}'start']") is not None:
            return first
        before = bars[max(0, first - 1)]
        if before.find("barline/repeat") is not None or before.find(f"{_ENDING}'discontinue']") is not None:
            break
    return last


def _add_ending(bar: ElementTree.Element, location: str, number: str, kind: str) -> None:
    barline = ElementTree.Element("barline", location=location)
    ElementTree.SubElement(barline, "ending", number=number, type=kind)
    bar.insert(0 if location == "left" else len(bar), barline)


def _write_beginnings(bars: list[ElementTree.Element]) -> None:
    """Write a forward repeat where a backward one goes back to, at the left of the bar."""
    start, begun = 0, True
    for index, bar in enumerate(bars):
        for barline in bar.findall("barline"):
            at_end = barline.get("location", "right") == "right"
            repeat, ending = barline.find("repeat"), barline.find("ending")
            backward = repeat is not None and repeat.get("direction") == "backward"
            if repeat is not None and not backward:
                begun |= not at_end
            if backward and not begun:
                opening = ElementTree.Element("barline", location="left")
                ElementTree.SubElement(opening, "repeat", direction="forward")
                bars[start].insert(0, opening)
            closes = at_end and barline.findtext("bar-style") in ("light-light", "light-heavy", "heavy-light")
            if backward or closes or (ending is not None and ending.get("type") != "start"):
                start, begun = index + 1, False
