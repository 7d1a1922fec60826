"""The pin count as a printed page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pegwright.draw.paper import Paper
from pegwright.drawing import Page


@dataclass(frozen=True, slots=True)
class CountTable:
    """One table of a pin count, all of it words.

    Args:
        head: names of its columns; the first column holds names, the others numbers.
        rows: as many cells each as there are columns.
        total: the last line, as many cells.
        remark: a line below, or empty.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...]
    remark: str = ""


def count_pages(title: str, facts: str, verdict: str, tables: Sequence[CountTable], paper: Paper) -> tuple[Page, ...]:
    """The tables one after another, in columns, on as many upright pages as they need.

    Args:
        title: the song or the show.
        facts: such as the wheel and the share of spares.
        verdict: what is to buy, in a few words.
        tables: in order.
        paper: held upright.
    """
    raise NotImplementedError
