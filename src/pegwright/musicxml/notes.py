"""Notes as written, bar by bar, to notes as played: bars in playing order, ties joined."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, runs
from pegwright.frozen import frozen
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.time import Timeline
from pegwright.musicxml.written import WrittenPart

DEFAULT_VELOCITY = 80


@frozen()
class PlayedPart:
    """The sounding notes of one part in playing order.

    Args:
        onset, duration, pitch, velocity: shape (n,), ticks and MIDI numbers.
        unpitched: shape (n,).
        row: shape (n,), where the note, or the first of those tied together, stands in the written part.
        early_graces, early_notes: grace notes and others that would have come before the song, put on its first tick.
        ties: written rows of notes whose ties are not written as they should be, by what was done about them.
    """

    onset: Ints
    duration: Ints
    pitch: Ints
    velocity: Ints
    unpitched: NDArray[np.bool_]
    row: Ints
    early_graces: int
    early_notes: int
    ties: dict[Notice, list[int]]


def played_count(part: WrittenPart, line: Timeline) -> int:
    """How many notes the part has with its bars in playing order, before ties are joined."""
    return int(line.counts[np.array(part.bar, dtype=np.int64)].sum())


def play_part(part: WrittenPart, line: Timeline) -> PlayedPart:
    """The notes of a part as they sound.

    Ties are joined in playing order, so that a tie into a second ending comes from the bar played
    before it: a note continues the one of its pitch that a tie leads on from and that ends where it begins.
    """
    rows, played_bar = _rows(part, line)
    begin = line.starts[played_bar] + line.ticks(part.onset)[rows]
    length = line.ticks(part.duration)[rows]
    end = begin + length
    keep, ties = _join_ties(part, rows, played_bar, begin, end)
    onset = np.maximum(begin, 0)
    early = rows[begin < 0].tolist()
    early_notes = sum(row in part.early for row in early)
    return PlayedPart(
        onset[keep],
        np.where(end > onset, end - onset, length)[keep],
        np.array(part.pitch, dtype=np.int64)[rows[keep]],
        _velocities(part, line)[rows[keep]],
        np.array(part.unpitched, dtype=bool)[rows[keep]],
        rows[keep],
        len(early) - early_notes,
        early_notes,
        ties,
    )


def _rows(part: WrittenPart, line: Timeline) -> tuple[Ints, Ints]:
    """For every note played, its written row and the played bar it is in.

    Only bars with notes are gone through: there may be as many parts as bars.
    """
    bars, firsts, counts = np.unique(np.array(part.bar, dtype=np.int64), return_index=True, return_counts=True)
    played, which = line.played(bars)
    played_bar = np.repeat(played, counts[which])
    rows = runs(firsts[which], counts[which])
    only = {row: passes for row, passes in part.passes.items() if passes}
    if only:
        sounds = np.ones(len(rows), dtype=bool)
        for place in np.flatnonzero(np.isin(rows, list(only))).tolist():
            sounds[place] = int(line.playings[played_bar[place]]) in only[int(rows[place])]
        rows, played_bar = rows[sounds], played_bar[sounds]
    return rows, played_bar


def _velocities(part: WrittenPart, line: Timeline) -> Ints:
    """The velocity of every written note: its own, else the level in force where it is written."""
    own = np.array(part.velocity, dtype=np.int64)
    ticks = line.written_ticks([bar for bar, _, _ in part.levels], [place for _, place, _ in part.levels])
    order = np.argsort(ticks, kind="stable")
    levels = np.array([DEFAULT_VELOCITY, *(part.levels[event][2] for event in order)], dtype=np.int64)
    level = levels[np.searchsorted(ticks[order], line.written_ticks(part.bar, part.onset), side="right")]
    return np.where(own > 0, own, level)


def _join_ties(
    part: WrittenPart, rows: Ints, played_bar: Ints, begin: Ints, end: Ints
) -> tuple[NDArray[np.bool_], dict[Notice, list[int]]]:
    """Move the end of the first note of every tied chain, in place, to the end of the chain.

    Args:
        part: as written.
        rows: of the notes played.
        played_bar: the number of the bar, counted as played, of each of them.
        begin: of each of them, in ticks.
        end: the same.

    Returns:
        Which notes are still struck, and written rows of ties at fault.

    Source: MusicXML 4.0, tie: "indicates that a tie begins or ends with this note", in sound; `tied` is its picture.
    """
    keep = np.ones(len(rows), dtype=bool)
    faults: defaultdict[Notice, list[int]] = defaultdict(list)
    if not any(part.tie_from) and not any(part.tie_to):
        return keep, faults
    waiting: dict[tuple[int, bool, int], list[tuple[int, int]]] = {}  # (pitch, kind, end) to (chain, place of the tie)
    unbegun: list[int] = []
    # Of notes that begin together those that say they are tied choose first.
    for place in np.lexsort((~np.array(part.tie_from, dtype=bool)[rows], begin)).tolist():
        row = int(rows[place])
        sound = part.pitch[row], part.unpitched[row]
        chain = place
        if ties := waiting.get((*sound, int(begin[place]))):
            # One from the same voice if there is one.
            chosen = next((n for n, (_, other) in enumerate(ties) if part.voice[rows[other]] == part.voice[row]), 0)
            chain, _ = ties.pop(chosen)
            keep[place] = False
            end[chain] = end[place]
            if row in part.ornaments and int(rows[chain]) not in part.ornaments:
                faults[Notice.TIE_ORNAMENT].append(row)
            if not part.tie_from[row]:
                faults[Notice.TIE_UNMARKED].append(row)
        elif part.tie_from[row]:
            unbegun.append(place)
        if part.tie_to[row]:
            waiting.setdefault((*sound, int(end[place])), []).append((chain, place))
    open_ties = sorted((tie for ties in waiting.values() for tie in ties), key=lambda tie: int(begin[tie[1]]))
    torn = _torn_ties(part, rows, played_bar, begin, open_ties, unbegun)
    heads: dict[int, int] = {}  # of chains that were joined to an earlier one
    for place, tie in torn.items():
        chain = open_ties[tie][0]
        heads[place] = chain = heads.get(chain, chain)
        keep[place] = False
        end[chain] = max(end[chain], end[place])
        faults[Notice.TIE_TORN].append(int(rows[place]))
    joined = set(torn.values())
    faults[Notice.TIE_UNBEGUN] = [int(rows[place]) for place in unbegun if place not in torn]
    faults[Notice.TIE_UNENDED] = [int(rows[place]) for tie, (_, place) in enumerate(open_ties) if tie not in joined]
    return keep, faults


def _torn_ties(
    part: WrittenPart,
    rows: Ints,
    played_bar: Ints,
    begin: Ints,
    open_ties: list[tuple[int, int]],
    unbegun: list[int],
) -> dict[int, int]:
    """Notes that say they are tied, with the open ties that they continue though the file's lengths tear them apart.

    Args:
        part: as written.
        rows: of the notes played.
        played_bar: of each of them.
        begin: of each of them, in ticks.
        open_ties: (chain, place of the note) by begin.
        unbegun: places of the notes that say they are tied and to which no tie leads, by begin.

    Returns:
        For each such note the number of the tie: the latest of its pitch before it, in its bar or in the one played
        before, of its own voice if there is one.
    """
    waiting: defaultdict[tuple[object, ...], list[int]] = defaultdict(list)
    torn: dict[int, int] = {}
    taken: set[int] = set()
    upcoming = 0
    for place in unbegun:
        while upcoming < len(open_ties) and begin[open_ties[upcoming][1]] < begin[place]:
            row = int(rows[open_ties[upcoming][1]])
            sound = part.pitch[row], part.unpitched[row]
            waiting[sound].append(upcoming)
            waiting[(*sound, part.voice[row])].append(upcoming)
            upcoming += 1
        row = int(rows[place])
        sound = part.pitch[row], part.unpitched[row]
        for ties in (waiting[(*sound, part.voice[row])], waiting[sound]):
            while ties and ties[-1] in taken:
                ties.pop()
            if ties and played_bar[place] - played_bar[open_ties[ties[-1]][1]] <= 1:
                torn[place] = ties[-1]
                taken.add(ties[-1])
                break
    return torn
