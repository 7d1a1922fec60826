"""Ties of MEI written as elements of their own, put on the notes that they join."""

from __future__ import annotations

from collections import Counter
from xml.etree.ElementTree import Element

from pegwright.notations.losses import NotationLoss


def join_ties(score: Element, losses: Counter[NotationLoss]) -> None:
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
            losses[NotationLoss.TIES] += 1
    for chord in score.iter("chord"):
        for note in chord.iter("note"):
            _mark(note, *_sides(chord, starts, stops))
    for note in score.iter("note"):
        _mark(note, *_sides(note, starts, stops))


def _sides(element: Element, starts: set[str], stops: set[str]) -> tuple[bool, bool]:
    """Whether ties lead on from an element and lead to it."""
    name, own = element.get("xml:id", ""), element.get("tie", "")
    return name in starts or any(side in own for side in "im"), name in stops or any(side in own for side in "mt")


def _mark(note: Element, leads_on: bool, comes_from: bool) -> None:
    before = note.get("tie", "")
    leads_on |= before in ("i", "m")
    comes_from |= before in ("m", "t")
    if leads_on or comes_from:
        note.set("tie", "m" if leads_on and comes_from else "i" if leads_on else "t")
