"""Findings: what a stage noticed and the user must be told, as data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Severity(IntEnum):
    """How much a finding matters; higher is worse."""

    NOTE = 10  # worth knowing, nothing changed
    MENDED = 20  # the input broke a rule and was read all the same
    CHANGED = 30  # a note sounds otherwise than the score says
    LOST = 40  # a note is left out


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed.

    Args:
        code: a short stable name in kebab case, for programs and tests.
        severity: how much it matters.
        where: the place, as a `SourceRef` or key path prints; may be empty.
        message: one plain sentence without a full stop.
        hint: what the user can do, or empty.
        count: how many times the same thing happened.
    """

    code: str
    severity: Severity
    where: str
    message: str
    hint: str = ""
    count: int = 1
