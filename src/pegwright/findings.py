"""Findings: what a stage reports to the user, as data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Severity(IntEnum):
    """How much a finding matters; higher is worse.

    >>> Severity.LOST > Severity.NOTE
    True
    """

    NOTE = 10  # worth knowing, nothing changed
    MENDED = 20  # the input broke a rule and was read nevertheless
    CHANGED = 30  # a note sounds differently from the score
    LOST = 40  # a note is left out


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    Args:
        code: a short stable name in kebab case, for programs and tests.
        severity: how much it matters.
        where: the place, as a `SourceRef` or key path prints; may be empty.
        message: one plain sentence without a full stop.
        hint: what the user can do, or empty.
        count: how often it occurs.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> fitted = fit_file(bundled_songs()[2], load_wheel(bundled_wheel()))
    >>> lost = [finding for finding in fitted.findings if finding.severity == Severity.LOST]
    >>> lost[0].where
    'lamplighters-march.mid:Percussion:bar 8 beat 4 7/8'
    """

    code: str
    severity: Severity
    where: str
    message: str
    hint: str = ""
    count: int = 1
