"""Findings: what a stage reports to the user, as data; and notices, which are counted as they come."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum

from pegwright.units import plural


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


class NoticeKind(Enum):
    """Everything a reader can notice: code, severity, the thing counted (if any), what was done, hint.

    The order of an enumeration is the order of its findings. What was done may have names in braces.
    """


class Notices:
    """Counts what a reader notices; remembers the first place of each kind.

    Args:
        kinds: an enumeration.
        file: name of the file; the place where no other is given.
    """

    def __init__(self, kinds: type[NoticeKind], file: str) -> None:
        self.file = file
        self._kinds = kinds
        self._seen: dict[NoticeKind, tuple[int, str, dict[str, object]]] = {}

    def add(self, kind: NoticeKind, count: int = 1, where: str = "", **words: object) -> None:
        """Count a notice.

        Args:
            kind: one of the enumeration.
            count: how often; 0 adds nothing.
            where: its place; only the first of a kind is kept.
            words: in place of the names in braces; the first of a kind are kept.
        """
        if count:
            so_far, first, known = self._seen.get(kind, (0, where or self.file, words))
            self._seen[kind] = (so_far + count, first, known)

    def findings(self) -> tuple[Finding, ...]:
        """One finding for each kind of notice, in the order of the enumeration."""
        findings = []
        for kind in sorted(self._seen, key=list(self._kinds).index):
            count, where, words = self._seen[kind]
            code, severity, thing, outcome, hint = kind.value
            message = (f"{plural(count, thing)} {outcome}" if thing else outcome).format(**words)
            findings.append(Finding(code, severity, where, message, hint, count))
        return tuple(findings)
