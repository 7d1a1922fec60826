"""A MusicXML document for the engraver: only the bars to be drawn, only what belongs to notation, marked notes named.

Nothing goes to the engraver that is not on a list here: no pictures, links, scripts, layout or long texts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import takewhile
from typing import TypeAlias
from xml.etree.ElementTree import Element, SubElement, tostring

from pegwright.score import WrittenMusic
from pegwright.write.notation.marks import Mark, Picture

MARK_ID = "mark-"  # and the mark's number: the id of its note
LABEL = "M"  # and the mark's number: the words over its note, which reserve the room for what is drawn there
MAX_PARTS = 4  # of a larger score only parts with marked notes are drawn
MAX_TEXT_CHARS = 40
MAX_NAME_CHARS = 24
MAX_STAVES = 8  # in one part: an organ has three
MAX_DEPTH = 8  # of elements in a bar; notation needs half
MAX_DIGITS = 3  # of numbers that are no durations

_DURATIONS = frozenset({"divisions", "duration"})
_KEPT = _DURATIONS | frozenset(
    """
    attributes key fifths mode key-step key-alter time beats beat-type senza-misura staves clef sign line
    clef-octave-change staff-details staff-lines transpose diatonic chromatic octave-change
    note grace chord cue pitch step alter octave unpitched display-step display-octave rest tie voice type
    dot accidental time-modification actual-notes normal-notes normal-type normal-dot stem notehead staff
    beam notations tied tuplet fermata arpeggiate articulations accent strong-accent staccato tenuto
    staccatissimo detached-legato ornaments trill-mark turn inverted-turn mordent inverted-mordent tremolo
    lyric syllabic text backup forward barline bar-style repeat ending
    direction direction-type rehearsal segno coda octave-shift offset
    """.split()  # noqa: SIM905  # eighty names in quotes are no easier to read
)
_ATTRIBUTES = ("divisions", "key", "time", "staves", "clef", "staff-details", "transpose")  # as the format orders them
_TIMED = frozenset({"note", "backup", "forward"})
_KEPT_ATTRIBUTES = frozenset(
    {"number", "type", "symbol", "print-object", "bracket", "measure", "location", "direction", "size", "placement"}
)

_InForce: TypeAlias = dict[tuple[str, str | None], Element]


def music_documents(music: WrittenMusic, pictures: Sequence[Picture]) -> list[bytes]:
    """One document to engrave for every picture.

    Args:
        music: the song as written.
        pictures: in the order of the score.
    """
    marks = {mark.element: mark for picture in pictures for mark in picture.marks}
    roots = [Element("score-partwise", version="4.0") for _ in pictures]
    lists = [SubElement(root, "part-list") for root in roots]
    next_element = 0
    for number, (name, bars) in enumerate(music.parts):
        first = next_element
        next_element += sum(len(bar.findall("note")) for bar in bars.values())
        if len(music.parts) > MAX_PARTS and not any(first <= element < next_element for element in marks):
            continue
        labelled = [
            (bars.get(index, Element("measure")), music.labels[index]) for index in range(max(bars, default=-1) + 1)
        ]
        measures = _measures(labelled, first, pictures, marks)
        for listed, root, content in zip(lists, roots, measures, strict=True):
            header = SubElement(listed, "score-part", id=f"P{number}")
            SubElement(header, "part-name").text = name[:MAX_NAME_CHARS]
            SubElement(root, "part", id=f"P{number}").extend(content)
    return [tostring(root, encoding="utf-8", xml_declaration=True) for root in roots]


def _measures(
    bars: Sequence[tuple[Element, str]], first: int, pictures: Sequence[Picture], marks: Mapping[int, Mark]
) -> list[list[Element]]:
    """The bars of one part in every picture.

    Args:
        bars: all of the part with their labels.
        first: the number of the part's first `note` element.
        pictures: in the order of the score.
        marks: by element.
    """
    picture_of = {bar: number for number, each in enumerate(pictures) for bar in range(each.first, each.last + 1)}
    measures: list[list[Element]] = [[] for _ in pictures]
    in_force: _InForce = {}
    element = first
    for index, (bar, label) in enumerate(bars):
        number = picture_of.get(index)
        if number is not None:
            opening = []
            if not measures[number]:
                for child in takewhile(lambda child: child.tag not in _TIMED, bar):
                    if child.tag == "attributes":
                        _take_in(child, in_force)
                opening = [_attributes(in_force)]
            measure = Element("measure", number=label)
            measure.extend([*opening, *_drawn_bar(bar, element, marks, without_attributes=bool(opening))])
            measures[number].append(measure)
        for attributes in bar.findall("attributes"):
            _take_in(attributes, in_force)
        element += len(bar.findall("note"))
    for picture, content in zip(pictures, measures, strict=True):  # a part may end before the others
        content += [Element("measure") for _ in range(picture.last + 1 - picture.first - len(content))]
    return measures


def _take_in(attributes: Element, in_force: _InForce) -> None:
    """Record the clefs, keys and other attributes that an element sets; without a staff's number, for all staves."""
    for child in (kept for copy in _cleaned(attributes) for kept in copy if kept.tag in _ATTRIBUTES):
        staff = child.get("number")
        for name in [name for name in in_force if name[0] == child.tag and staff in {None, name[1]}]:
            del in_force[name]
        in_force[child.tag, staff] = child


def _attributes(in_force: _InForce) -> Element:
    """What is in force where a picture begins."""
    attributes = Element("attributes")
    attributes.extend(sorted(in_force.values(), key=lambda child: _ATTRIBUTES.index(child.tag)))
    return attributes


def _drawn_bar(bar: Element, first: int, marks: Mapping[int, Mark], *, without_attributes: bool) -> list[Element]:
    """A bar to be drawn.

    Args:
        bar: as written.
        first: the number of its first `note` element.
        marks: by element.
        without_attributes: leave out those before its first note.
    """
    content: list[Element] = []
    chord_at, element = 0, first
    for child in bar:
        without_attributes &= child.tag not in _TIMED
        if without_attributes and child.tag == "attributes":
            continue
        cleaned = list(_cleaned(child))
        if child.tag == "note":
            if child.find("chord") is None:
                chord_at = len(content)
            mark = marks.get(element)
            if mark is not None:
                for note in cleaned:
                    note.attrib.pop("print-object", None)
                    note.set("id", f"{MARK_ID}{mark.number}")
                content.insert(chord_at, _label(mark, child.findtext("staff")))
                chord_at += 1
            element += 1
        content += cleaned
    return content


def _label(mark: Mark, staff: str | None) -> Element:
    direction = Element("direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), "words").text = f"{LABEL}{mark.number}"
    if staff is not None and _is_small_number(staff):
        SubElement(direction, "staff").text = staff
    return direction


def _cleaned(element: Element, depth: int = 0) -> Iterator[Element]:
    """A copy of an element with only what is kept of it; nothing where it is not kept itself."""
    text = _short(element.text)
    if depth > MAX_DEPTH or element.tag not in _KEPT or (element.tag not in _DURATIONS and _is_large_number(text)):
        return
    if element.tag == "staves" and not (_is_small_number(text) and 0 < int(text) <= MAX_STAVES):
        return
    copy = Element(
        element.tag,
        {
            name: _short(value)
            for name, value in element.attrib.items()
            if name in _KEPT_ATTRIBUTES and not _is_large_number(_short(value))
        },
    )
    copy.text = text
    for child in element:
        copy.extend(_cleaned(child, depth + 1))
    if element.tag in {"direction", "direction-type"} and not len(copy):
        return
    if element.tag == "direction" and copy.find("direction-type") is None:
        return
    if element.tag == "time" and not _is_metre(copy):
        return
    yield copy


def _is_metre(time: Element) -> bool:
    """Whether every fraction of a metre is one; the engraver divides by it."""
    if time.find("senza-misura") is not None:
        return True
    beats, types = ([child.text or "" for child in time.findall(name)] for name in ("beats", "beat-type"))
    whole = all(_is_small_number(text) and int(text) for text in types)
    return len(beats) == len(types) > 0 and whole and all(any(digit in "123456789" for digit in text) for text in beats)


def _short(text: str | None) -> str:
    line = " ".join((text or "")[: 4 * MAX_TEXT_CHARS].split())
    return "".join(character for character in line if character.isprintable())[:MAX_TEXT_CHARS]


def _is_small_number(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) <= MAX_DIGITS


def _is_large_number(text: str) -> bool:
    return sum(character.isdecimal() for character in text) > MAX_DIGITS
