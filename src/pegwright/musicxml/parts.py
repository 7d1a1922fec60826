"""The parts of a MusicXML document: their names, instruments and bars, partwise or timewise."""

from __future__ import annotations

from pathlib import PurePath
from xml.etree.ElementTree import Element

from pegwright.errors import InputError
from pegwright.findings import Notices
from pegwright.formats import MAX_NAME_CHARS
from pegwright.frozen import frozen
from pegwright.musicxml.notices import Notice
from pegwright.units import UniqueNames, one_line


@frozen()
class Instrument:
    """One instrument of a part.

    Args:
        name: as written, may be empty.
        key: General MIDI percussion key, 0-based; None where the file gives none.
    """

    name: str
    key: int | None


@frozen()
class PartSource:
    """A part as it stands in the document.

    Args:
        name: unique and not empty.
        program: General MIDI program, 0-based, or None.
        instruments: by id, in the order of the file.
        bars: its `measure` elements by 0-based number of the bar, ascending; without those in which it is absent.
    """

    name: str
    program: int | None
    instruments: dict[str, Instrument]
    bars: dict[int, Element]


def clean(text: str | None) -> str:
    """Text fit for one line: white space collapsed, unprintable characters out, not too long."""
    return one_line(text, MAX_NAME_CHARS)


def score_title(root: Element, file: str) -> str:
    """The work's title, else the movement's, else the file's name without its suffix."""
    return (
        clean(root.findtext("work/work-title"))
        or clean(root.findtext("movement-title"))
        or clean(PurePath(file).stem)
        or "untitled"
    )


def part_sources(root: Element, notices: Notices) -> list[PartSource]:
    """Every part of the document in its order.

    Raises:
        InputError: the root is not a MusicXML score, or it holds no part with a bar in it.
    """
    if root.tag == "score-partwise":
        bars_by_id = [(part.get("id", ""), dict(enumerate(part.iterfind("measure")))) for part in root.iterfind("part")]
    elif root.tag == "score-timewise":
        bars_by_id = _timewise(root)
    else:
        raise InputError(
            f"this XML is <{clean(root.tag)[:40]}>, not a MusicXML <score-partwise> or <score-timewise>",
            where=notices.file,
            hint="export the score as MusicXML",
        )
    if not any(bars for _, bars in bars_by_id):
        raise InputError(
            "the score has no part with a bar in it", where=notices.file, hint="check that this is the right file"
        )
    listed = {element.get("id", ""): element for element in root.iterfind("part-list/score-part")}
    sources: list[PartSource] = []
    names = UniqueNames()
    for number, (part_id, bars) in enumerate(bars_by_id, start=1):
        header = listed.get(part_id)
        if header is None:
            header = Element("score-part")
            notices.add(Notice.UNLISTED_PART)
        name = clean(header.findtext("part-name")) or clean(header.findtext("score-instrument/instrument-name"))
        program = _one_based(header.findtext("midi-instrument/midi-program"))
        sources.append(PartSource(names.take(name or f"Part {number}"), program, _instruments(header), bars))
    return sources


def _timewise(root: Element) -> list[tuple[str, dict[int, Element]]]:
    """Turn measures of parts into parts of measures; only the first part has those in which it is absent, too.

    Source: MusicXML 4.0, score-timewise: the same data as score-partwise with the two levels exchanged.
    """
    turned: dict[str, dict[int, Element]] = {}
    measures = root.findall("measure")
    for number, measure in enumerate(measures):
        for part in measure.iterfind("part"):
            bars = turned.setdefault(part.get("id", ""), {})
            if number not in bars:
                bars[number] = Element("measure", measure.attrib)
            bars[number].extend(part)
    for part_id, bars in list(turned.items())[:1]:
        turned[part_id] = {
            number: bars.get(number, Element("measure", measure.attrib)) for number, measure in enumerate(measures)
        }
    return list(turned.items())


def _one_based(text: str | None) -> int | None:
    """MusicXML counts MIDI programs, keys and channels from 1: 39 is key 38.

    Source: MusicXML 4.0, midi-unpitched and midi-program: "from 1 to 128".
    """
    text = (text or "").strip()
    if text.isascii() and text.isdecimal() and len(text) <= 3 and 1 <= int(text) <= 128:
        return int(text) - 1
    return None


def _instruments(header: Element) -> dict[str, Instrument]:
    keys = {
        element.get("id", ""): _one_based(element.findtext("midi-unpitched"))
        for element in header.iterfind("midi-instrument")
    }
    names = {
        element.get("id", ""): clean(element.findtext("instrument-name"))
        or clean(element.findtext("instrument-sound")).replace(".", " ").replace("-", " ")
        for element in header.iterfind("score-instrument")
    }
    return {id_: Instrument(names.get(id_, ""), keys.get(id_)) for id_ in dict.fromkeys([*names, *keys])}
