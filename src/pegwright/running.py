"""The running order of a song of several turns: `A A B A` is four turns with two different pinnings."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from itertools import groupby

LONG_TURNS = 24


def running_order(pinnings: Sequence[Hashable]) -> tuple[int, ...]:
    """Number the different pinnings of the turns of a song in order of first appearance."""
    numbers: dict[Hashable, int] = {}
    return tuple(numbers.setdefault(pinning, len(numbers)) for pinning in pinnings)


def letter(pinning: int) -> str:
    """Name of a pinning in a running order: A to Z, then A2 to Z2 and so on."""
    again, place = divmod(pinning, 26)
    return f"{chr(ord('A') + place)}{again + 1 if again else ''}"


def running_text(running: Sequence[int]) -> str:
    """`A A B A`."""
    return " ".join(map(letter, running))


def running_summary(running: Sequence[int]) -> str:
    """The same for people: of a long song, equal turns in a row as `A x 12`."""
    if len(running) <= LONG_TURNS:
        return running_text(running)
    runs = ((letter(pinning), sum(1 for _ in turns)) for pinning, turns in groupby(running))
    return " ".join(name if count == 1 else f"{name} x {count:,}" for name, count in runs)
