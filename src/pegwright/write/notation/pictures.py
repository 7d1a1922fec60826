"""The bars in trouble as music: pictures with their notes marked, and the key to the marks."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np

from pegwright.frozen import frozen
from pegwright.placement import Outcome, Placement
from pegwright.score import Score, WrittenMusic, bar_name, bars_name, beat_name
from pegwright.tell.report import note_name
from pegwright.units import plural
from pegwright.write.notation.document import music_documents
from pegwright.write.notation.engrave import NotEngravedError, can_engrave, engrave
from pegwright.write.notation.marks import LEVELS, Chosen, Mark, Picture, bar_played, choose
from pegwright.write.notation.redraw import NO_DRAWING, Drawn, redraw

INSTALL = "pip install 'pegwright[notation]'"
NOT_SHOWN = "The bars in trouble are not shown as music"


@frozen()
class KeyLine:
    """One line of the key: the outcome of a marked note at one time round.

    Args:
        number: of the mark.
        notes: 0-based, in the score; several where an ornament was written out.
        level: of `LEVELS`.
        name: which note it is.
        what: its outcome.
    """

    number: int
    notes: tuple[int, ...]
    level: str
    name: str
    what: str


@frozen()
class BarsDrawn:
    """Bars as music.

    Args:
        title: `Bar 3`, `Bars 3 to 5`.
        words: the picture in words, for those who cannot see it.
        pages: the picture, mostly on one page.
        key: in order of the marks.
    """

    title: str
    words: str
    pages: tuple[Drawn, ...]
    key: tuple[KeyLine, ...]


@frozen()
class ScorePictures:
    """All pictures of a song, and sentences on what they do not show."""

    pictures: tuple[BarsDrawn, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def glyphs(self) -> dict[str, str]:
        """The glyphs of the music font that the pictures share: name -> path."""
        pages = [page for each in self.pictures for page in each.pages]
        return {name: path for page in pages for name, path in page.glyphs.items()}


def score_pictures(score: Score, placement: Placement, outcomes: Sequence[str], music: WrittenMusic) -> ScorePictures:
    """Draw the bars with notes that are left out or moved so far that it may be audible.

    Args:
        score: read from a MusicXML file.
        placement: its outcome.
        outcomes: of every note, in a word.
        music: the file's bars.
    """
    chosen = choose(score, placement, outcomes, music)
    remarks = tuple(_remarks(chosen, music))
    if not chosen.pictures:
        return ScorePictures(remarks=remarks)
    if not can_engrave():
        return ScorePictures(remarks=(f"To see the bars in trouble as music, install what draws it: {INSTALL}",))
    try:
        engraved = engrave(music_documents(music, chosen.pictures))
        pictures = tuple(
            _bars_drawn(score, placement, outcomes, picture, music.labels, pages)
            for picture, pages in zip(chosen.pictures, engraved, strict=True)
        )
        if not any(page.marked for each in pictures for page in each.pages):
            raise NotEngravedError(NO_DRAWING)
    except NotEngravedError as fault:
        return ScorePictures(remarks=(f"{NOT_SHOWN}: {fault}",))
    return ScorePictures(pictures, remarks)


def _bars_drawn(
    score: Score,
    placement: Placement,
    outcomes: Sequence[str],
    picture: Picture,
    labels: Sequence[str],
    pages: Sequence[str],
) -> BarsDrawn:
    marks = {mark.number: mark for mark in picture.marks}
    drawn = tuple(redraw(page, marks) for page in pages)
    marked = frozenset[int]().union(*(page.marked for page in drawn))
    first, last = labels[picture.first], labels[picture.last]
    title = bars_name(first, last)
    title = title[0].upper() + title[1:]
    names = [
        f"{mark.number} {note_name(score, mark.notes[0])} in {bar_name(labels[mark.bar])}" for mark in picture.marks
    ]
    key = [
        KeyLine(
            mark.number,
            notes,
            LEVELS[min(LEVELS.index(outcomes[note]) for note in notes)],
            _name(score, notes[0], _is_first_time(score, mark, notes[0], labels[mark.bar])),
            _what(placement, outcomes, notes) + ("" if mark.number in marked else "; not in the picture"),
        )
        for mark in picture.marks
        for notes in _by_bar(score, mark)
    ]
    return BarsDrawn(title, f"{title}. Marked: {', '.join(names)}.", drawn, tuple(key))


def _by_bar(score: Score, mark: Mark) -> list[tuple[int, ...]]:
    """The notes of a mark, those of one time round together."""
    return [tuple(notes) for _, notes in groupby(mark.notes, key=lambda note: bar_played(score, note))]


def _is_first_time(score: Score, mark: Mark, note: int, label: str) -> bool:
    """Whether the note comes again at another time round, and `note` is of the first, which its bar does not say."""
    played = {bar_played(score, other) for other in np.flatnonzero(score.written == mark.element).tolist()}
    return len(played) > 1 and score.bar_map.labels[bar_played(score, note)] == label


def _name(score: Score, note: int, first_time: bool) -> str:
    source = score.source(note)
    time = ", 1st time" if first_time else ""
    return f"{note_name(score, note)}, {bar_name(source.bar)}{time} {beat_name(source.beat)}, {source.part}"


def _what(placement: Placement, outcomes: Sequence[str], notes: Sequence[int]) -> str:
    """The outcome of the worst of the notes, and the number of the others."""
    worst = min(notes, key=lambda note: LEVELS.index(outcomes[note]))
    more = f", and {len(notes) - 1} more of its ornament" if len(notes) > 1 else ""
    if outcomes[worst] == "out":
        return f"left out: {Outcome(int(placement.outcome[worst])).words}{more}"
    ms = float(placement.deviation_ms[worst])
    return f"{abs(ms):.1f} ms {'late' if ms > 0 else 'early'}, {outcomes[worst]}{more}"


def _remarks(chosen: Chosen, music: WrittenMusic) -> list[str]:
    remarks = []
    if chosen.unshown_bars:
        trouble = f"with {plural(chosen.unshown_notes, 'note')} in trouble"
        remarks.append(_unshown(chosen.unshown_bars, "more bar", trouble))
    if chosen.unshown_past:
        remarks.append(_unshown(chosen.unshown_past, "note", "further past the end of the turn"))
    elements = (bar for _, bars in music.parts for bar in bars.values())
    if chosen.pictures and any(bar.find("attributes/transpose") is not None for bar in elements):
        remarks.append("Parts for transposing instruments stand as written; the names of their notes are as they sound")
    return remarks


def _unshown(count: int, noun: str, which: str) -> str:
    return f"{plural(count, noun)} {which} {'is' if count == 1 else 'are'} not shown as music"
