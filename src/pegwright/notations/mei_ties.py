"""Ties of MEI written as elements of their own, put on the notes that they join."""

from __future__ import annotations

from xml.etree.ElementTree import Element

from pegwright.findings import Notices
from pegwright.notations.losses import NotationLoss


def join_ties(score: Element, losses: Notices) -> None:
    """Give every note its `tie` attribute, from `tie` elements and from chords.

    The library overwrites the first half of a note's ties with the second, and loses those of chords.

    Args:
        score: the movement, changed in place.
        losses: counts ties that name no notes.
    """
    starts: set[str] = set()
    stops: set[str] = set()
    for tie in score.iter("tie"):
        begin, end = tie.get("startid", "").lstrip("#"), tie.get("endid", "").lstrip("#")
        if begin and end:
            starts.add(begin)
            stops.add(end)
        else:
            losses.add(NotationLoss.TIES)
    carriers = {note: [note] for note in score.iter("note")}
    for chord in score.iter("chord"):
        for note in chord.iter("note"):
            carriers[note].append(chord)
    for note, elements in carriers.items():
        signs = "".join(element.get("tie", "") for element in elements)
        names = {element.get("xml:id", "") for element in elements}
        leads_on = bool(names & starts or set(signs) & {"i", "m"})
        comes_from = bool(names & stops or set(signs) & {"m", "t"})
        if leads_on or comes_from:
            note.set("tie", "m" if leads_on and comes_from else "i" if leads_on else "t")
