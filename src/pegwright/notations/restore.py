"""Puts back into a MusicXML document what the library leaves out: names, drums, tempi, endings, jumps."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement, tostring

from pegwright.findings import Notices
from pegwright.musicxml.archive import parse_xml
from pegwright.musicxml.drums import key_of_place
from pegwright.musicxml.values import sounding_pitch
from pegwright.notations.losses import NotationLoss
from pegwright.notations.prepared import BarExtra, Drums, PartExtra, Prepared


def restore(musicxml: bytes, prepared: Prepared) -> bytes:
    """The document with everything that was kept aside; what is lost here is added to the losses.

    Args:
        musicxml: as the library wrote it.
        prepared: what it was made of.
    """
    root = parse_xml(musicxml, prepared.losses.file)
    _count_notes(root, prepared)
    _restore_title(root, prepared.title)
    headers = root.findall("part-list/score-part")
    parts = root.findall("part")
    _number_names(root, headers, parts)
    if len(parts) == len(headers) == len(prepared.parts):
        for header, part, extra in zip(headers, parts, prepared.parts, strict=True):
            _restore_part(header, part, extra)
            if extra.drums is not Drums.NONE:
                _make_drums(header, part, extra.drums, prepared.losses)
    if prepared.bars:
        _restore_bars(parts, prepared.bars, prepared.losses)
    first = parts[0].find("measure") if parts else None
    if prepared.tempo is not None and first is not None:
        first.insert(0, _tempo(Fraction(0), prepared.tempo))
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True))


def _count_notes(root: Element, prepared: Prepared) -> None:
    """Count notes that are in the file and not in the document, or the other way round."""
    notes = [note for note in root.iter("note") if note.find("rest") is None]
    ties = sum(any(tie.get("type") == "stop" for tie in note.iterfind("tie")) for note in notes)
    # Notes that the library cut up, at bar lines of its own or for writing, are tied on; they are no new ones.
    arrived = len(notes) - max(0, ties - prepared.tie_count)
    prepared.losses.add(NotationLoss.NOTES, max(0, prepared.note_count - arrived))
    prepared.losses.add(NotationLoss.NOTES_ADDED, max(0, arrived - prepared.note_count))


def _number_names(root: Element, headers: Sequence[Element], parts: Sequence[Element]) -> None:
    """Numbers in place of the library's names for parts and instruments, which are random, and no date."""
    names: dict[str | None, str] = {}
    for number, header in enumerate(headers, start=1):
        names[header.get("id", "")] = f"P{number}"
        for place, instrument in enumerate(header.findall("score-instrument"), start=1):
            names[instrument.get("id", "")] = f"P{number}-I{place}"
    for element in [*(each for header in headers for each in header.iter()), *parts, *root.iter("instrument")]:
        if element.get("id") in names:
            element.set("id", names[element.get("id")])
    _remove(root, "identification")


def _remove(parent: Element, *tags: str) -> None:
    for child in [child for child in parent if child.tag in tags]:
        parent.remove(child)


def _first(parent: Element, tag: str) -> Element:
    """The first child with this tag, made at the beginning where there is none."""
    child = parent.find(tag)
    if child is None:
        child = Element(tag)
        parent.insert(0, child)
    return child


def _restore_title(root: Element, title: str) -> None:
    """The song's own title or none, where the library makes one up."""
    _remove(root, "work", "movement-title")
    if title:
        _first(root, "movement-title").text = title


def _restore_part(header: Element, part: Element, extra: PartExtra) -> None:
    if extra.name:
        _first(header, "part-name").text = extra.name
    bar = part.find("measure")
    if extra.semitones and bar is not None:
        transpose = SubElement(_first(bar, "attributes"), "transpose")
        SubElement(transpose, "chromatic").text = str(extra.semitones)


def _make_drums(header: Element, part: Element, drums: Drums, losses: Notices) -> None:
    """Turn pitches into unpitched notes of the instruments that they stand for."""
    _remove(header, "score-instrument", "midi-instrument")
    part_id = header.get("id", "")
    keys: set[int] = set()
    for note in part.iter("note"):
        pitch = note.find("pitch")
        if pitch is None:
            continue
        key = _drum_key(pitch, drums)
        losses.add(NotationLoss.DRUM_PLACES, drums is Drums.PLACES)
        keys.add(key)
        unpitched = Element("unpitched")
        SubElement(unpitched, "display-step").text = pitch.findtext("step")
        SubElement(unpitched, "display-octave").text = pitch.findtext("octave")
        children = list(note)
        note[children.index(pitch)] = unpitched
        before = next((place for place, child in enumerate(children) if child.tag in ("voice", "type")), len(children))
        note.insert(before, Element("instrument", id=f"{part_id}-X{key}"))
    for key in sorted(keys):
        SubElement(SubElement(header, "score-instrument", id=f"{part_id}-X{key}"), "instrument-name").text = "Drum"
    for key in sorted(keys):
        instrument = SubElement(header, "midi-instrument", id=f"{part_id}-X{key}")
        SubElement(instrument, "midi-unpitched").text = str(key + 1)  # MusicXML 4.0: counted from 1


def _drum_key(pitch: Element, drums: Drums) -> int:
    step, octave = pitch.findtext("step", ""), pitch.findtext("octave", "")
    sounding = sounding_pitch(step, pitch.findtext("alter"), octave, 0) if drums is Drums.KEYS else None
    return key_of_place(step, octave) if sounding is None else sounding[0]


def _restore_bars(parts: Sequence[Element], extras: Sequence[BarExtra], losses: Notices) -> None:
    unmatched = 0
    for number, part in enumerate(parts):
        bars = part.findall("measure")
        if len(bars) != len(extras):
            unmatched = max(unmatched, abs(len(bars) - len(extras)))
            continue
        for bar, extra in zip(bars, extras, strict=True):
            if extra.label:
                bar.set("number", extra.label)
            if number == 0:
                _restore_bar(bar, extra)
    losses.add(NotationLoss.BARS, unmatched)


def _restore_bar(bar: Element, extra: BarExtra) -> None:
    start = 1 if len(bar) and bar[0].tag == "attributes" else 0
    for place, tempo in reversed(extra.tempi):
        bar.insert(start, _tempo(place, tempo))
    for text in extra.words:
        direction = Element("direction")
        SubElement(SubElement(direction, "direction-type"), "words").text = text
        bar.insert(start, direction)
    if extra.ending:
        bar.insert(0, _ending("left", "start", extra.ending))
    if extra.ending_stops:
        bar.append(_ending("right", "stop", extra.ending or "1"))


def _tempo(place: Fraction, quarters_per_minute: Fraction) -> Element:
    sound = Element("sound", tempo=f"{float(quarters_per_minute):.10g}")
    if place:
        # In divisions, of which the library always writes 10,080 to the quarter.
        SubElement(sound, "offset").text = f"{float(place * 10_080):.10g}"
    return sound


def _ending(location: str, kind: str, numbers: str) -> Element:
    barline = Element("barline", location=location)
    SubElement(barline, "ending", number=numbers, type=kind)
    return barline
