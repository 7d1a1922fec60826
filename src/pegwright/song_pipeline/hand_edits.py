"""A song with pins corrected by hand: the edits of an earlier map made again after its fit."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from pegwright.columns import JoinedSequence, frozen_floats, frozen_ints
from pegwright.correct.names import edit_words, with_letter
from pegwright.correct.reapply import Reapplied, reapply
from pegwright.correct.values import WorkingMap
from pegwright.findings import Finding, Severity
from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.read.working_map import working_map
from pegwright.song import FittedSong, FittedTurn
from pegwright.song_pipeline.corrected import file_edits, map_files
from pegwright.tell.audible import Audibility, audibility
from pegwright.write.pin_map.json import pin_map_json

_ROUNDED_MS = 0.001  # deviations are written with three decimals
MADE_CODE, REFUSED_CODE = "edited-by-hand", "edit-no-longer-applies"


@frozen(eq=False)
class HandEdited:
    """A song with edits made to its pins.

    Args:
        song: with the pins as they are now; notes whose pin was removed count as dropped by `edits`.
        maps: of its sets of plates.
        applied: the edits that were made, in words.
        refused: those that no longer apply, in words, each with the reason.
    """

    song: FittedSong
    maps: tuple[WorkingMap, ...]
    applied: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]

    def map_files(self) -> dict[str, bytes]:
        """The maps and CSV files of the song, which list the edits."""
        return map_files(self.maps, self.song.wheel)


def edited_by_hand(song: FittedSong, edits: Path) -> HandEdited:
    """Make the edits of a file to a song that was fitted.

    Args:
        song: on its wheel.
        edits: a file of lines, or a map that lists edits.

    Raises:
        InputError: the file cannot be read.
        UsageError: a line of it is not an edit of this wheel.
    """
    wheel = song.wheel
    wanted = [edit for edit, _ in file_edits(edits, wheel)]
    maps = tuple(
        working_map(json.loads(pin_map_json(song, pinning)), str(edits), wheel) for pinning in range(len(song.pinnings))
    )
    outcome = reapply(maps, wanted, wheel)
    applied = tuple(with_letter(edit.letter, edit_words(wheel, edit)) for edit in outcome.edited.edits)
    turns = tuple(
        _edited_turn(turn, song.pinnings[pinning], outcome.edited.maps[pinning])
        for turn, pinning in zip(song.turns, song.running, strict=True)
    )
    lost = [_removed(before, after) for before, after in zip(song.turns, turns, strict=True)]
    removed = sum(own for own, _ in lost), sum(shared for _, shared in lost)
    findings = _findings(outcome, applied, edits)
    edited = replace(
        song,
        turns=turns,
        removed_by_hand=removed,
        report=replace(
            song.report,
            findings=JoinedSequence([findings, *song.report.findings.parts]),
            audibility_counts=_audibility_counts(song, outcome.edited.maps, turns),
        ),
        findings=JoinedSequence([findings, song.findings]),
    )
    return HandEdited(edited, outcome.edited.maps, applied, outcome.refused)


def _findings(outcome: Reapplied, applied: Sequence[str], edits: Path) -> tuple[Finding, ...]:
    findings = [Finding(MADE_CODE, Severity.CHANGED, edits.name, f"after the fit: {words}") for words in applied]
    others = [
        Finding(REFUSED_CODE, Severity.CHANGED, edits.name, f"not made: {words}: {why}")
        for words, why in outcome.refused
    ]
    return (*others, *findings)


def _edited_turn(turn: FittedTurn, first: FittedTurn, working: WorkingMap) -> FittedTurn:
    """A turn with the pins of a map.

    Args:
        turn: as it was fitted.
        first: the first turn with these pins, whose notes the map gives.
        working: the map.
    """
    numbers = _note_numbers(first.pins, turn.pins)
    pins = working.columns()
    notes = [numbers.get(note - first.first_note, -1) if note >= 0 else -1 for note in pins.note.tolist()]
    columns = {name: getattr(pins, name) for name in ("channel", "plate", "row", "index", "pin_type")}
    return replace(turn, pins=replace(turn.pins, **columns, note=frozen_ints(notes)))


def _audibility_counts(
    song: FittedSong, maps: Sequence[WorkingMap], turns: Sequence[FittedTurn]
) -> dict[Audibility, int]:
    """Notes with a pin of their own by how audible their move is, that by hand included.

    Args:
        song: as it was fitted.
        maps: of its sets of plates, edited.
        turns: with the pins of those maps.
    """
    counts = dict.fromkeys(Audibility, 0)
    for turn, pinning in zip(turns, song.running, strict=True):
        placement, deviation_ms = turn.placement, turn.placement.deviation_ms.copy()
        begun = np.zeros(placement.note_count, dtype=bool)
        for note, pin in zip(turn.pins.note.tolist(), maps[pinning].pins, strict=True):
            late_ms = pin.cells[-1]
            if note >= 0 and isinstance(late_ms, int | float):
                begun[note] = True
                if abs(late_ms - deviation_ms[note]) > _ROUNDED_MS:
                    deviation_ms[note] = late_ms
        level = audibility(turn.score, replace(placement, deviation_ms=frozen_floats(deviation_ms)))[begun]
        for each in Audibility:
            counts[each] += int(np.count_nonzero(level == each))
    return counts


def _note_numbers(first: PinMap, other: PinMap) -> dict[int, int]:
    """The note of another turn for each note of the first turn that has equal pins."""
    return dict(zip(first.note.tolist(), other.note.tolist(), strict=True))


def _removed(before: FittedTurn, after: FittedTurn) -> tuple[int, int]:
    """How many notes of a turn lost their pin, and how many shared it."""
    placement = before.placement
    gone = set(before.pins.note.tolist()) - set(after.pins.note.tolist())  # a note held by several loses all of them
    shared = [note for note in np.flatnonzero(placement.shared).tolist() if int(placement.unison[note]) in gone]
    return len(gone), len(shared)
