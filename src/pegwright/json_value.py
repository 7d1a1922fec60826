"""The type of what a JSON file can hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

Json: TypeAlias = "Mapping[str, Json] | Sequence[Json] | str | int | float | bool | None"
