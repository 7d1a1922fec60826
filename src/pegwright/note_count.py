"""The one count of a song's notes, from which every text, sheet, page and file takes its numbers.

read = sounding (by a pin of their own, or by one that they share) + left out by reason + dropped on request
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace

import numpy as np

from pegwright.errors import InternalError
from pegwright.frozen import frozen
from pegwright.placement import Outcome, Placement

REASONS: tuple[Outcome, ...] = tuple(outcome for outcome in Outcome if outcome != Outcome.PLACED)


@frozen()
class NoteCount:
    """The outcome of the notes of a song, in numbers that add up.

    Args:
        read: notes of the file, and those that written-out ornaments and note edits added.
        own_pin: notes that sound by a pin of their own.
        shared_pin: notes that sound by the pin of another note, being the same strike of the same channel.
        left_out_by_reason: notes that do not sound, for each reason that occurs, in the order of `Outcome`.
        dropped_by_option: notes dropped on request, by the name of the option that dropped any: `beats` (a part of
            taps), `note-edit`, `only`, `without`, `bars`, `thin`; by `edits` after the fit, their pins being removed by
            hand.

    Raises:
        InternalError: they do not add up to the notes read.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> count = fit_file(bundled_songs()[2], load_wheel(bundled_wheel())).count
    >>> count.read, count.sounding, count.left_out, count.dropped
    (204, 203, 1, 0)
    >>> {reason.words: notes for reason, notes in count.left_out_by_reason.items()}
    {'lost at a seam': 1}
    """

    read: int
    own_pin: int
    shared_pin: int = 0
    left_out_by_reason: dict[Outcome, int] = field(default_factory=dict)
    dropped_by_option: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        parts = (self.own_pin, self.shared_pin, self.left_out, self.dropped)
        if self.read != sum(parts) or min(parts) < 0:
            own, shared, left_out, dropped = parts
            message = f"{self.read:,} notes read are not {own:,} with a pin + {shared:,} that share one"
            message += f" + {left_out:,} left out + {dropped:,} dropped on request"
            raise InternalError(message, hint="please report this with the song and the wheel file")

    @property
    def sounding(self) -> int:
        """Notes that sound."""
        return self.own_pin + self.shared_pin

    @property
    def left_out(self) -> int:
        """Notes that were to sound and do not."""
        return sum(self.left_out_by_reason.values())

    @property
    def dropped(self) -> int:
        """Notes dropped on request."""
        return sum(self.dropped_by_option.values())

    def after_edits(self, own_pin: int, shared_pin: int) -> NoteCount:
        """The count after pins were removed by hand: numbers of notes that had their own, and that shared one."""
        if not own_pin + shared_pin:
            return self
        return replace(
            self,
            own_pin=self.own_pin - own_pin,
            shared_pin=self.shared_pin - shared_pin,
            dropped_by_option=self.dropped_by_option | {"edits": own_pin + shared_pin},
        )


def note_count(
    placements: Sequence[Placement], read: int | None = None, dropped_by_option: dict[str, int] | None = None
) -> NoteCount:
    """Count the notes of a song.

    Args:
        placements: of its turns.
        read: notes read; None for those that were fitted.
        dropped_by_option: those of them that were dropped before the fit, by option.

    Raises:
        InternalError: they do not add up.
    """
    reasons = np.zeros(len(Outcome), dtype=np.int64)
    for placement in placements:
        reasons += np.bincount(placement.outcome[~placement.sounding], minlength=len(Outcome))
    return NoteCount(
        read=sum(placement.note_count for placement in placements) if read is None else read,
        own_pin=sum(placement.placed_count for placement in placements),
        shared_pin=sum(int(np.count_nonzero(placement.shared)) for placement in placements),
        left_out_by_reason={reason: int(reasons[reason]) for reason in REASONS if reasons[reason]},
        dropped_by_option={option: notes for option, notes in (dropped_by_option or {}).items() if notes},
    )
