"""The running order of a song of several turns: `A A B A` is four turns with two different pinnings."""

from __future__ import annotations

from collections.abc import Hashable, Sequence


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
