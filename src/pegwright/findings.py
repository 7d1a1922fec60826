"""Findings: what a stage reports to the user, as data; and notices, which are counted as they come."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import field, replace
from enum import Enum, IntEnum

from pegwright.frozen import frozen
from pegwright.units import plural

_BARS_NAMED = 12
_BEAT = re.compile(r" (near )?beat .*$")


class Severity(IntEnum):
    """How much a finding matters; higher is worse.

    >>> Severity.LOST > Severity.NOTE
    True
    """

    NOTE = 10  # worth knowing, nothing changed
    MENDED = 20  # the input broke a rule and was read nevertheless
    CHANGED = 30  # a note sounds differently from the score
    LOST = 40  # a note is left out


@frozen()
class Occurrences:
    """What a finding counts, from which its message is made, for all its places or for some.

    Args:
        thing: the thing counted, in the singular; empty leaves the number out.
        outcome: what was done, with words in braces; `{bars}` lists the bars.
        words: in place of those in braces.
        places: where, each with how often there.
    """

    thing: str
    outcome: str
    words: tuple[tuple[str, object], ...]
    places: tuple[tuple[str, int], ...]

    @property
    def count(self) -> int:
        """Over all places."""
        return sum(count for _, count in self.places)

    @property
    def message(self) -> str:
        """The number of things, and what was done."""
        words = {"bars": _listed_bars(where for where, _ in self.places), **dict(self.words)}
        return (f"{plural(self.count, self.thing)} {self.outcome}" if self.thing else self.outcome).format(**words)


@frozen()
class Finding:
    """One finding.

    Args:
        code: a short stable name in kebab case, for programs and tests.
        severity: how much it matters.
        where: the place, as a `SourceRef` or key path prints; may be empty.
        message: one plain sentence without a full stop.
        hint: what the user can do, or empty.
        count: how often it occurs.
        counted: what it counts and where, where that is known for each place.

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
    counted: Occurrences | None = field(default=None, compare=False, repr=False)

    @property
    def sentence(self) -> str:
        """Where, what and what can be done, as a sentence."""
        return f"{self.where}: {self.message}{'; ' if self.hint else ''}{self.hint}."

    @property
    def kind(self) -> tuple[object, ...]:
        """Alike for two findings that differ in their numbers and places alone, and may be added."""
        counted = self.counted
        return (
            self.code,
            self.severity,
            self.where,
            self.hint,
            counted and (counted.thing, counted.outcome, counted.words),
        )

    def plus(self, other: Finding) -> Finding:
        """One finding of this and another of its `kind`, with the sum of both numbers."""
        if self.counted is None or other.counted is None:
            raise ValueError("only findings that count something can be added")
        counted = replace(self.counted, places=(*self.counted.places, *other.counted.places))
        return replace(self, message=counted.message, count=counted.count, counted=counted)

    def only_where(self, is_kept: Callable[[str], bool]) -> Finding | None:
        """The finding for some of its places alone; None where it is of none of them.

        Args:
            is_kept: whether a place is one of them.
        """
        if self.counted is None:
            return self if is_kept(self.where) else None
        places = tuple(place for place in self.counted.places if is_kept(place[0]))
        if not places:
            return None
        counted = replace(self.counted, places=places)
        where = self.where if is_kept(self.where) else places[0][0]
        return replace(self, where=where, message=counted.message, count=counted.count, counted=counted)


def bar_of_place(where: str) -> str:
    """The bar that a place names, whichever time round: `bar 14`, `pickup bar`; empty where it names none."""
    _, colon, last = where.rpartition(":")
    bar = _BEAT.sub("", last).partition(",")[0]
    return bar if colon and bar.startswith(("bar ", "pickup bar")) else ""


def _listed_bars(places: Iterable[str]) -> str:
    """The bars of some places in a few words: `bar 2`, `bars 2, 5 and 3 more`, `pickup bar, bars 3, 5`."""
    bars = list(dict.fromkeys(bar_of_place(where) for where in places))
    pickups = [bar for bar in bars[:_BARS_NAMED] if not bar.startswith("bar ")]
    numbers = [bar.removeprefix("bar ") for bar in bars[:_BARS_NAMED] if bar not in pickups]
    word = "bar" if len(bars) - len(pickups) == 1 else "bars"
    listed = ", ".join([*pickups, *([f"{word} {', '.join(numbers)}"] if numbers else [])])
    return f"{listed} and {len(bars) - _BARS_NAMED:,} more" if len(bars) > _BARS_NAMED else listed


class NoticeKind(Enum):
    """Everything a reader can notice: code, severity, the thing counted (if any), what was done, hint.

    The order of an enumeration is the order of its findings. What was done may have names in braces.
    """


class Notices:
    """Counts what a reader notices, by place.

    Args:
        kinds: an enumeration.
        file: name of the file; the place where no other is given.
    """

    def __init__(self, kinds: type[NoticeKind], file: str) -> None:
        self.file = file
        self._kinds = kinds
        self._seen: dict[NoticeKind, tuple[dict[str, int], dict[str, object]]] = {}

    def add(self, kind: NoticeKind, count: int = 1, where: str = "", **words: object) -> None:
        """Count a notice.

        Args:
            kind: one of the enumeration.
            count: how often; 0 adds nothing.
            where: its place; empty for the file as a whole.
            words: in place of the names in braces; the first of a kind are kept.
        """
        if count:
            places, _ = self._seen.setdefault(kind, ({}, words))
            place = where or self.file
            places[place] = places.get(place, 0) + count

    def findings(self) -> tuple[Finding, ...]:
        """One finding for each kind of notice, in the order of the enumeration."""
        findings = []
        for kind in sorted(self._seen, key=list(self._kinds).index):
            places, words = self._seen[kind]
            code, severity, thing, outcome, hint = kind.value
            counted = Occurrences(thing, outcome, tuple(words.items()), tuple(places.items()))
            where = counted.places[0][0]
            findings.append(Finding(code, severity, where, counted.message, hint, counted.count, counted))
        return tuple(findings)
