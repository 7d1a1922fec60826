"""Puts back into a MusicXML document what the library leaves out: names, drums, tempi, endings, jumps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement, tostring

from pegwright.musicxml.archive import parse_xml
from pegwright.musicxml.drums import key_of_place
from pegwright.musicxml.values import sounding_pitch
from pegwright.notations.losses import NotationLoss
from pegwright.notations.prepared import BarExtra, Drums, PartExtra, Prepared


def restore(musicxml: bytes, prepared: Prepared, file: str) -> tuple[bytes, Counter[NotationLoss]]:
    """The document with everything that was kept aside.

    Args:
        musicxml: as the library wrote it.
        prepared: what it was made of.
        file: for messages.

    Returns:
        The document, and what is lost here.
    """
    root = parse_xml(musicxml, file)
    losses = _note_losses(root, prepared)
    _restore_title(root, prepared.title)
    headers = root.findall("part-list/score-part")
    parts = root.findall("part")
    _number_names(root, headers, parts)
    if len(parts) == len(headers) == len(prepared.parts):
        for header, part, extra in zip(headers, parts, prepared.parts, strict=True):
            _restore_part(header, part, extra, losses)
    if prepared.bars:
        _restore_bars(parts, prepared.bars, losses)
    first = parts[0].find("measure") if parts else None
    if prepared.tempo is not None and first is not None:
        first.insert(0, _tempo(Fraction(0), prepared.tempo))
    return tostring(root, encoding="utf-8", xml_declaration=True), losses


def _note_losses(root: Element, prepared: Prepared) -> Counter[NotationLoss]:
    """Notes that are in the file and not in the document, or the other way round."""
    notes = [note for note in root.iter("note") if note.find("rest") is None]
    ties = sum(any(tie.get("type") == "stop" for tie in note.iterfind("tie")) for note in notes)
    # Notes that the library cut up, at bar lines of its own or for writing, are tied on; they are no new ones.
    arrived = len(notes) - max(0, ties - prepared.tie_count)
    lost = prepared.note_count - arrived
    return Counter({NotationLoss.NOTES: max(0, lost), NotationLoss.NOTES_ADDED: max(0, -lost)})


def _number_names(root: Element, headers: Sequence[Element], parts: Sequence[Element]) -> None:
    """Numbers in place of the library's names for parts and instruments, which are random, and no date."""
    names: dict[str, str] = {}
    for number, header in enumerate(headers, start=1):
        names[header.get("id", "")] = f"P{number}"
        for place, instrument in enumerate(header.findall("score-instrument"), start=1):
            names[instrument.get("id", "")] = f"P{number}-I{place}"
    for element in [*(each for header in headers for each in header.iter()), *parts, *root.iter("instrument")]:
        if element.get("id") in names:
            element.set("id", names[element.get("id", "")])
    for identification in root.findall("identification"):
        root.remove(identification)


def _restore_title(root: Element, title: str) -> None:
    """The song's own title or none, where the library makes one up."""
    for path in ("work", "movement-title"):
        for child in root.findall(path):
            root.remove(child)
    if title:
        child = Element("movement-title")
        child.text = title
        root.insert(0, child)


def _restore_part(header: Element, part: Element, extra: PartExtra, losses: Counter[NotationLoss]) -> None:
    if extra.name:
        name = header.find("part-name")
        if name is None:
            name = Element("part-name")
            header.insert(0, name)
        name.text = extra.name
    if extra.semitones:
        attributes = _first_attributes(part)
        if attributes is not None:
            SubElement(SubElement(attributes, "transpose"), "chromatic").text = str(extra.semitones)
    if extra.drums is not Drums.NONE:
        _make_drums(header, part, extra.drums, losses)


def _first_attributes(part: Element) -> Element | None:
    """The attributes at the beginning of a part, made where there are none."""
    bar = part.find("measure")
    if bar is None:
        return None
    attributes = bar.find("attributes")
    if attributes is None:
        attributes = Element("attributes")
        bar.insert(0, attributes)
    return attributes


def _make_drums(header: Element, part: Element, drums: Drums, losses: Counter[NotationLoss]) -> None:
    """Turn pitches into unpitched notes of the instruments that they stand for."""
    for child in [*header.findall("score-instrument"), *header.findall("midi-instrument")]:
        header.remove(child)
    part_id = header.get("id", "")
    keys: set[int] = set()
    for note in part.iter("note"):
        pitch = note.find("pitch")
        if pitch is None:
            continue
        key = _drum_key(pitch, drums)
        losses[NotationLoss.DRUM_PLACES] += drums is Drums.PLACES
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
    if drums is Drums.KEYS:
        sounding = sounding_pitch(step, pitch.findtext("alter"), octave, 0)
        if sounding is not None:
            return sounding[0]
    return key_of_place(step, octave)


def _restore_bars(parts: Sequence[Element], extras: Sequence[BarExtra], losses: Counter[NotationLoss]) -> None:
    for number, part in enumerate(parts):
        bars = part.findall("measure")
        if len(bars) != len(extras):
            losses[NotationLoss.BARS] = max(losses[NotationLoss.BARS], abs(len(bars) - len(extras)))
            continue
        for bar, extra in zip(bars, extras, strict=True):
            if extra.label:
                bar.set("number", extra.label)
            if number == 0:
                _restore_bar(bar, extra)


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
