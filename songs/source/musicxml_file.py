"""A piece as MusicXML 4.0, plain or in its zip wrapping."""

from __future__ import annotations

import io
import math
import zipfile
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from notation import DRUM_KEYS, LOUDNESS, Event, Piece, Voice, alteration, length_of

_TYPES = {"w": "whole", "h": "half", "q": "quarter", "e": "eighth", "s": "16th", "t": "32nd"}
_BEAMS = {"e": 1, "s": 2, "t": 3}
_DRUM_NAMES = {"BD": "Bass drum", "SN": "Snare", "WB": "Wood block", "TB": "Tambourine", "TR": "Triangle"}
_DRUM_PLACES = {"BD": "F4", "SN": "C5", "WB": "E5", "TB": "G5", "TR": "A5"}  # on the staff only
_SHARPS = "FCGDAEB"
_PRELUDE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
    '<rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>'
    "</rootfiles></container>\n"
)
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time a zip can hold: the same bytes on every day


def musicxml_bytes(piece: Piece) -> bytes:
    """The whole score, uncompressed."""
    root = Element("score-partwise", version="4.0")
    _leaf(SubElement(root, "work"), "work-title", piece.title)
    identification = SubElement(root, "identification")
    _leaf(identification, "creator", "Pegwright project", type="composer")
    _leaf(identification, "rights", "MIT licence")
    part_list = SubElement(root, "part-list")
    for number, voice in enumerate(piece.voices):
        _score_part(part_list, number, voice)
    for number in range(len(piece.voices)):
        _part(SubElement(root, "part", id=f"P{number + 1}"), piece, number)
    indent(root, space=" ")
    return (_PRELUDE + tostring(root, encoding="unicode") + "\n").encode()


def mxl_bytes(piece: Piece) -> bytes:
    """The same in a zip archive."""
    members = {
        "mimetype": b"application/vnd.recordare.musicxml",
        "META-INF/container.xml": _CONTAINER.encode(),
        "score.musicxml": musicxml_bytes(piece),
    }
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, data in members.items():
            member = zipfile.ZipInfo(name, _EPOCH)  # stored, since two builds of zlib may deflate differently
            member.create_system = 3
            member.external_attr = 0o644 << 16
            archive.writestr(member, data)
    return buffer.getvalue()


def _leaf(parent: Element, tag: str, text: object = None, **attributes: str) -> Element:
    element = SubElement(parent, tag, attributes)
    if text is not None:
        element.text = str(text)
    return element


def _score_part(part_list: Element, number: int, voice: Voice) -> None:
    part_id = f"P{number + 1}"
    part = SubElement(part_list, "score-part", id=part_id)
    _leaf(part, "part-name", voice.name)
    if not voice.sound.drums:
        _leaf(SubElement(part, "score-instrument", id=f"{part_id}-I1"), "instrument-name", voice.sound.name)
        midi = SubElement(part, "midi-instrument", id=f"{part_id}-I1")
        _leaf(midi, "midi-channel", number + 1)
        _leaf(midi, "midi-program", voice.sound.program + 1)
        return
    for drum, name in _DRUM_NAMES.items():
        _leaf(SubElement(part, "score-instrument", id=f"{part_id}-{drum}"), "instrument-name", name)
    for drum in _DRUM_NAMES:
        midi = SubElement(part, "midi-instrument", id=f"{part_id}-{drum}")
        _leaf(midi, "midi-channel", 10)
        _leaf(midi, "midi-program", 1)
        _leaf(midi, "midi-unpitched", DRUM_KEYS[drum] + 1)


def _part(part: Element, piece: Piece, number: int) -> None:
    bars = piece.bars(piece.voices[number])
    divisions = math.lcm(*(event.length.denominator for bar in bars for event in bar))
    for index, (events, label) in enumerate(zip(bars, _labels(piece, len(bars)), strict=True)):
        measure = SubElement(part, "measure", number=label)
        if not label.isdigit() or label == "0":
            measure.set("implicit", "yes")
        signs = piece.repeats.get(index, ())
        _left_barline(measure, signs)
        if index == 0:
            _attributes(measure, piece, piece.voices[number], divisions)
            if number == 0:
                _tempo(measure, piece)
        beams = _beams(events, Fraction(3, 2) if piece.metre[1] == 8 else Fraction(1))
        altered: dict[str, int] = {}
        for place, event in enumerate(events):
            if event.loudness:
                direction = SubElement(measure, "direction", placement="below")
                SubElement(SubElement(SubElement(direction, "direction-type"), "dynamics"), event.loudness)
                _leaf(direction, "sound", dynamics=f"{LOUDNESS[event.loudness] / 0.9:.2f}")
            _event(measure, event, f"P{number + 1}", divisions, beams[place], altered, piece.fifths)
        _right_signs(measure, signs, last=index == len(bars) - 1, first_part=number == 0)


def _labels(piece: Piece, bar_count: int) -> list[str]:
    """Bar numbers: `0` for a pickup, and `X1` for one inside, which fills up the short bar before it."""
    labels: list[str] = []
    number = 0
    for index in range(bar_count):
        if index in piece.bar_lengths and (index == 0 or index - 1 in piece.bar_lengths):
            labels.append("X1" if index else "0")
        else:
            number += 1
            labels.append(str(number))
    return labels


def _attributes(measure: Element, piece: Piece, voice: Voice, divisions: int) -> None:
    attributes = SubElement(measure, "attributes")
    _leaf(attributes, "divisions", divisions)
    if not voice.sound.drums:
        key = SubElement(attributes, "key")
        _leaf(key, "fifths", piece.fifths)
        _leaf(key, "mode", piece.mode)
    time = SubElement(attributes, "time")
    _leaf(time, "beats", piece.metre[0])
    _leaf(time, "beat-type", piece.metre[1])
    bass = "bass" in voice.name.lower()
    clef = SubElement(attributes, "clef")
    _leaf(clef, "sign", "percussion" if voice.sound.drums else "F" if bass else "G")
    if not voice.sound.drums:
        _leaf(clef, "line", 4 if bass else 2)


def _tempo(measure: Element, piece: Piece) -> None:
    direction = SubElement(measure, "direction", placement="above")
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    letter, dots = piece.tempo_beat[0], piece.tempo_beat.count(".")
    _leaf(metronome, "beat-unit", _TYPES[letter])
    if dots:
        _leaf(metronome, "beat-unit-dot")
    per_minute = piece.tempo / length_of(letter, dots)
    _leaf(metronome, "per-minute", f"{float(per_minute):g}")
    _leaf(direction, "sound", tempo=str(piece.tempo))


def _event(
    measure: Element, event: Event, part_id: str, divisions: int, beams: list[str], altered: dict[str, int], fifths: int
) -> None:
    for place, name in enumerate(event.names or ("",)):
        note = SubElement(measure, "note")
        if place:
            _leaf(note, "chord")
        _pitch(note, name, whole_bar=not event.letter)
        _leaf(note, "duration", int(event.length * divisions))
        if name and event.tied:
            _leaf(note, "tie", type="stop")
        if name and event.ties:
            _leaf(note, "tie", type="start")
        if name in DRUM_KEYS:
            _leaf(note, "instrument", id=f"{part_id}-{name}")
        _leaf(note, "voice", 1)
        if event.letter:
            _leaf(note, "type", _TYPES[event.letter])
            for _ in range(event.dots):
                _leaf(note, "dot")
        if name and name not in DRUM_KEYS and not event.tied:
            _accidental(note, name, altered, fifths)
        if event.tuplet:
            modification = SubElement(note, "time-modification")
            _leaf(modification, "actual-notes", event.tuplet[0])
            _leaf(modification, "normal-notes", event.tuplet[1])
        if not place:
            for level, beam in enumerate(beams):
                _leaf(note, "beam", beam, number=str(level + 1))
        _notations(note, event, first=not place)


def _pitch(note: Element, name: str, *, whole_bar: bool) -> None:
    if not name:
        _leaf(note, "rest", **({"measure": "yes"} if whole_bar else {}))
    elif name in DRUM_KEYS:
        unpitched = SubElement(note, "unpitched")
        _leaf(unpitched, "display-step", _DRUM_PLACES[name][0])
        _leaf(unpitched, "display-octave", _DRUM_PLACES[name][1])
    else:
        pitch = SubElement(note, "pitch")
        _leaf(pitch, "step", name[0])
        if alteration(name):
            _leaf(pitch, "alter", alteration(name))
        _leaf(pitch, "octave", name[-1])


def _accidental(note: Element, name: str, altered: dict[str, int], fifths: int) -> None:
    line = name[0] + name[-1]
    signature = int(name[0] in _SHARPS[:fifths])
    if alteration(name) != altered.get(line, signature):
        _leaf(note, "accidental", {1: "sharp", 0: "natural", -1: "flat"}[alteration(name)])
        altered[line] = alteration(name)


def _notations(note: Element, event: Event, *, first: bool) -> None:
    notations = Element("notations")
    if event.names and event.tied:
        _leaf(notations, "tied", type="stop")
    if event.names and event.ties:
        _leaf(notations, "tied", type="start")
    if first and event.opens:
        _leaf(notations, "tuplet", type="start", bracket="yes")
    if first and event.closes:
        _leaf(notations, "tuplet", type="stop")
    if first and event.accent:
        _leaf(SubElement(notations, "articulations"), "accent")
    if len(notations):
        note.append(notations)


def _beams(events: tuple[Event, ...], beat: Fraction) -> list[list[str]]:
    """The beams of each event: neighbours within one beat are joined."""
    beams: list[list[str]] = [[] for _ in events]

    def joined(place: int, other: int, level: int) -> bool:
        if not 0 <= other < len(events):
            return False
        same_beat = events[place].onset // beat == events[other].onset // beat
        return same_beat and bool(events[other].names) and _BEAMS.get(events[other].letter, 0) > level

    for place, event in enumerate(events):
        if not event.names or not (joined(place, place - 1, 0) or joined(place, place + 1, 0)):
            continue
        for level in range(_BEAMS.get(event.letter, 0)):
            before, after = joined(place, place - 1, level), joined(place, place + 1, level)
            hook = "backward hook" if joined(place, place - 1, 0) else "forward hook"
            beams[place].append("continue" if before and after else "end" if before else "begin" if after else hook)
    return beams


def _left_barline(measure: Element, signs: tuple[str, ...]) -> None:
    endings = [sign.split()[1] for sign in signs if sign.startswith("ending")]
    if "open" not in signs and not endings:
        return
    barline = SubElement(measure, "barline", location="left")
    if "open" in signs:
        _leaf(barline, "bar-style", "heavy-light")
    for number in endings:
        _leaf(barline, "ending", number=number, type="start")
    if "open" in signs:
        _leaf(barline, "repeat", direction="forward")


def _right_signs(measure: Element, signs: tuple[str, ...], *, last: bool, first_part: bool) -> None:
    for sign, words, attribute in (("fine", "Fine", "fine"), ("da capo", "D.C. al Fine", "dacapo")):
        if sign in signs and first_part:
            direction = SubElement(measure, "direction", placement="above")
            _leaf(SubElement(direction, "direction-type"), "words", words)
            _leaf(direction, "sound", **{attribute: "yes"})
    endings = [sign.split()[1] for sign in signs if sign.startswith("ending")]
    if not (last or endings or "close" in signs):
        return
    barline = SubElement(measure, "barline", location="right")
    if last or "close" in signs:
        _leaf(barline, "bar-style", "light-heavy")
    for number in endings:
        _leaf(barline, "ending", number=number, type="stop" if "close" in signs else "discontinue")
    if "close" in signs:
        _leaf(barline, "repeat", direction="backward")
