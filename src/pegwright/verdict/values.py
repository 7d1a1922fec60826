"""The values of one piece: the counts at a choice, and the verdict."""

from __future__ import annotations

from pegwright.frozen import frozen
from pegwright.note_count import NoteCount
from pegwright.remedy.additions import Addition


@frozen()
class Sounding:
    """The outcome of the notes of a piece at one choice.

    Args:
        count: of its notes.
        moved: notes with a pin whose hole is beyond what counts as exact.
        farthest_ms: the maximum distance of those.
    """

    count: NoteCount
    moved: int
    farthest_ms: float

    @property
    def share(self) -> float:
        """Share of the notes that sound, 0 to 1; 1 of no notes."""
        return 1.0 - self.count.left_out / self.count.read if self.count.read else 1.0


@frozen()
class Verdict:
    """One piece on a wheel, over all its turns.

    Args:
        title: of the piece.
        bars, turns: played bars, and turns of the wheel that they take.
        us_per_quarter: the one tempo of all turns.
        as_is: as it is written, every turn beginning on the first step.
        transpose_semitones, start_steps: the best choice, each turn beginning on that step.
        at_best: at that choice.
        lacks: what the notes left out there lack, sorted; without what no addition would remedy.
        let_in: whether these things, added, let the whole piece in.
        weight_gap: how much more weight another choice could place at most, where the search was stopped before it was
            proved that none can; 0 means as much, with less deviation. None where the choice is proved the best.
        by_hand: whether it was played by hand, or not to the file's own beat.
        lack_notes: for each of `lacks`, the notes that lack it.
    """

    title: str
    bars: int
    turns: int
    us_per_quarter: int
    as_is: Sounding
    transpose_semitones: int
    start_steps: int
    at_best: Sounding
    lacks: tuple[Addition, ...]
    let_in: bool
    weight_gap: int | None = None
    by_hand: bool = False
    lack_notes: tuple[int, ...] = ()

    @property
    def fits_as_is(self) -> bool:
        """Every note sounds as written."""
        return self.as_is.count.left_out == 0

    @property
    def fits(self) -> bool:
        """Every note sounds at the best choice."""
        return self.at_best.count.left_out == 0


@frozen()
class SurveyRow:
    """What a survey reports of one path.

    Args:
        path: relative to the surveyed folder, parts joined by `/`; bytes that are no text are kept as surrogates.
        verdict: None where there is none.
        error: why there is none, in one line; else empty.
    """

    path: str
    verdict: Verdict | None
    error: str = ""
