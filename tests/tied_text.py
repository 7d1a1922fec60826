"""MusicXML with its ties written out as this project reads them, so that another reader can be asked for the rest.

The times of notes are added up here, bar by bar and without the readers of the project.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple
from xml.etree import ElementTree

from pegwright.musicxml.archive import xml_tree

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NEAR_QUARTERS = 1e-6


class _Timed(NamedTuple):
    """A written note, the bar it is in, and where it begins and ends in quarters."""

    bar: int
    begin: float
    end: float
    note: ElementTree.Element


def tied_text(text: bytes) -> bytes:
    """A numbered text in which each tie has both its marks and each end a beginning.

    A note that a tie of its pitch and part leads to says so, whatever its voice; one that says so without any tie
    before it no longer does. What `tie` says, `tied` says too. (MusicXML 4.0: `tie` is sound, `tied` its picture.)
    """
    root = xml_tree(text, "score")
    for part in root.iterfind("part"):
        open_notes: defaultdict[float, list[_Timed]] = defaultdict(list)
        for timed in sorted(_timed(part), key=lambda timed: timed.begin):
            note, ends = timed.note, open_notes[_pitch_midi(timed.note)]
            ends[:] = [other for other in ends if other.bar >= timed.bar - 1]  # a longer gap ends a tie
            before = next((other for other in ends if abs(other.end - timed.begin) < _NEAR_QUARTERS), None)
            stops = note.find("tie[@type='stop']") is not None
            if stops and not ends:
                _unmark(note, "stop")
            elif stops or before is not None:
                _mark(note, "stop")
                ends.remove(ends[0] if before is None else before)
            if note.find("tie[@type='start']") is not None:
                _mark(note, "start")
                ends.append(timed)
    return b"<?xml version='1.0' encoding='UTF-8'?>" + ElementTree.tostring(root, encoding="unicode").encode()


def _timed(part: ElementTree.Element) -> Iterator[_Timed]:
    """The pitched notes of a part; a bar is as long as its notes, whatever rests stick out, or as its rests."""
    bar_begin, divisions = 0.0, 1.0
    for bar, measure in enumerate(part.iterfind("measure")):
        cursor = begin = notes_end = rests_end = 0.0
        for element in measure:
            divisions = float(element.findtext("divisions") or divisions)
            length = float(element.findtext("duration") or 0) / divisions
            if element.tag == "backup":
                cursor -= length
            elif element.tag == "forward":
                cursor += length
            elif element.tag == "note" and element.find("grace") is None:
                if element.find("chord") is None:
                    begin, cursor = cursor, cursor + length
                if element.find("pitch") is not None:
                    notes_end = max(notes_end, begin + length)
                    yield _Timed(bar, bar_begin + begin, bar_begin + begin + length, element)
            rests_end = max(rests_end, cursor)
        bar_begin += notes_end or rests_end


def _pitch_midi(note: ElementTree.Element) -> float:
    step, alter, octave = (note.findtext(f"pitch/{key}") for key in ("step", "alter", "octave"))
    return _STEPS[step or "C"] + float(alter or 0) + 12 * int(octave or 0)


def _mark(note: ElementTree.Element, kind: str) -> None:
    """Let `tie` and `tied` say that a tie begins or ends with a note."""
    if note.find(f"tie[@type='{kind}']") is None:
        after_duration = [child.tag for child in note].index("duration") + 1
        note.insert(after_duration, ElementTree.Element("tie", type=kind))
    if note.find(f"notations/tied[@type='{kind}']") is None:
        notations = note.find("notations")
        if notations is None:
            notations = ElementTree.SubElement(note, "notations")
        ElementTree.SubElement(notations, "tied", type=kind)


def _unmark(note: ElementTree.Element, kind: str) -> None:
    for above in (note, *note.findall("notations")):
        for mark in [mark for mark in above if mark.tag in ("tie", "tied") and mark.get("type") == kind]:
            above.remove(mark)
