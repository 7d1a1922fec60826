"""Paper sizes."""

from __future__ import annotations

from pegwright.errors import UsageError
from pegwright.frozen import frozen

MAX_ZOOM = 1.35  # of letters, against those on A4


@frozen()
class Paper:
    """A sheet of paper, held with its long side across.

    Args:
        name: as a user types it, in lower case.
        long_mm, short_mm: its sides.
    """

    name: str
    long_mm: float
    short_mm: float

    @property
    def zoom(self) -> float:
        """How much larger letters are than on A4."""
        return min(max(1.0, self.short_mm / A4.short_mm), MAX_ZOOM)


# Source: ISO 216 for A4 and A3 (as listed in SOURCES, section 4); ANSI/ASME Y14.1 for US Letter, 11 x 8.5 inches, and
# Tabloid, 17 x 11 inches (from memory); US Legal is 14 x 8.5 inches: common practice, no source.
A4 = Paper("a4", 297.0, 210.0)
A3 = Paper("a3", 420.0, 297.0)
LETTER = Paper("letter", 279.4, 215.9)
LEGAL = Paper("legal", 355.6, 215.9)
TABLOID = Paper("tabloid", 431.8, 279.4)
PAPERS = (A4, A3, LETTER, LEGAL, TABLOID)


def paper_named(name: str) -> Paper:
    """The paper of that name, in any case.

    Raises:
        UsageError: no such paper is known.

    >>> paper_named("A3").long_mm
    420.0
    """
    for paper in PAPERS:
        if paper.name == name.strip().lower():
            return paper
    known = ", ".join(paper.name for paper in PAPERS)
    raise UsageError(f"no paper is called '{name}'", where="paper", hint=f"choose one of {known}")
