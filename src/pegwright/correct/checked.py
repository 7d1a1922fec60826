"""What a check of a map found, and what a correction made of it."""

from __future__ import annotations

from pegwright.correct.faults import MapFault
from pegwright.correct.values import Edit, WorkingMap
from pegwright.frozen import frozen


@frozen(eq=False)
class Checked:
    """Maps that were checked.

    Args:
        maps: of a song, with what its CSV files change.
        edits: what differs in CSV files from the maps.
        faults: every rule that is broken.
    """

    maps: tuple[WorkingMap, ...]
    edits: tuple[Edit, ...]
    faults: tuple[MapFault, ...]

    @property
    def pin_count(self) -> int:
        """Pins on all sets of plates."""
        return sum(len(working.pins) for working in self.maps)

    @property
    def untimed(self) -> bool:
        """Whether the tempo is not known, so that no time was checked."""
        return not all(working.us_per_quarter for working in self.maps)


@frozen(eq=False)
class Correction:
    """Maps before and after some edits.

    Args:
        before: of the song.
        after: the same, edited; those with faults that were kept list them.
        edits: as they were made, which say the type of every pin.
        kept: rules that the edits broke, which were kept on request.
    """

    before: tuple[WorkingMap, ...]
    after: tuple[WorkingMap, ...]
    edits: tuple[Edit, ...]
    kept: tuple[MapFault, ...]
