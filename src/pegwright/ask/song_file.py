"""A song with all that its pins need, as a song file or a table of a song set holds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from pathlib import Path

from pegwright.ask.convert import request_of
from pegwright.ask.request import Request
from pegwright.ask.table import BY_NAME, OPTIONS, Value, opens
from pegwright.frozen import frozen


@frozen()
class SongFile:
    """What a song file holds.

    Args:
        path: the file.
        score: the score file.
        sha256: hash of the score when the file was written, in hex; empty where it is not given.
        wheel: the wheel file, or None.
        given: the written values of its options, by their names; without those that are not given.
        taken: the remedies that were taken, in words.
    """

    path: Path
    score: Path
    sha256: str = ""
    wheel: Path | None = None
    given: Mapping[str, Value] = field(default_factory=dict)
    taken: tuple[str, ...] = ()


def request_of_values(values: Mapping[str, Value]) -> Request:
    """The request of written values by the names of their options; what is not there is not given.

    Raises:
        UsageError: a value is out of its bounds.
    """
    return request_of(lambda option: values.get(option.name))


def in_effect(values: Mapping[str, Value]) -> dict[str, Value]:
    """The values that say something, in the order of `--help`: without those that need another one that is not open."""
    return {
        option.name: values[option.name]
        for option in OPTIONS
        if values.get(option.name) not in (None, ())
        and (not option.goes_with or opens(values.get(option.goes_with, BY_NAME[option.goes_with].default)))
    }
