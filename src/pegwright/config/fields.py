"""Reads TOML tables key by key, gathering every fault with its key path instead of stopping at the first."""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar

from pegwright.config.checks import MAX_TEXT_CHARS, Check, seen
from pegwright.config.file_kinds import FileKind, refuse_other, refuse_other_kind
from pegwright.config.lines import line_numbers
from pegwright.config.slips import slip_in
from pegwright.errors import ConfigError, PegwrightError, UsageError
from pegwright.plain_file import plain_bytes, reason_of
from pegwright.units import listed, plural, printed

MAX_BYTES = 500_000
MAX_LINE_CHARS = 10_000  # characters; a longer key with dots would keep the TOML parser busy without end
MAX_FAULTS = 100
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"

T = TypeVar("T")


class TooManyFaultsError(Exception):
    """There are more than `MAX_FAULTS` faults; the rest of the file is not read."""


class Faults:
    """The faults of a file so far.

    Args:
        lines: line numbers by key path.
    """

    def __init__(self, lines: Mapping[str, int]) -> None:
        self._lines = lines
        self._paths: list[str] = []
        self._noted: set[tuple[str, str]] = set()
        self._absent: dict[str, list[str]] = {}  # tables that are not there, and their keys that are needed
        self.errors: list[PegwrightError] = []

    def add(self, path: str, message: str, hint: str) -> None:
        """Note one fault.

        Args:
            path: the key path at which it is.
            message: what is wrong, with the value and the bound.
            hint: what to do about it.

        Raises:
            TooManyFaultsError: this is one more than `MAX_FAULTS`.
        """
        if (path, message) in self._noted:  # of channels written in short: once for all of them
            return
        self._noted.add((path, message))
        if len(self.errors) == MAX_FAULTS:
            self.errors.append(PegwrightError(f"more than {MAX_FAULTS} faults", hint="correct these first"))
            raise TooManyFaultsError
        self._paths.append(path)
        self.errors.append(PegwrightError(message, where=self._place(path), hint=hint))

    def add_absent(self, path: str, message: str, hint: str) -> None:
        """Note that a table is not there; its own keys are then not missing one by one. Arguments as for `add`."""
        self._absent[path] = []
        self.add(path, message, hint)

    def needs(self, path: str, key: str) -> bool:
        """Name a key in the hint of a table that is not there; False, and nothing is done, where the table is there."""
        if path not in self._absent:
            return False
        keys = self._absent[path]
        keys.append(key)
        for noted, error in zip(self._paths, self.errors, strict=False):  # the last may be of no path
            if noted == path:
                error.hint = f"{error.hint.partition(' with ')[0]} with {listed(keys)}"
        return True

    def drop(self, path: str) -> None:
        """Forget what was noted at exactly this key path, because another fault is the cause of it."""
        kept = [number for number, noted in enumerate(self._paths) if noted != path]
        self._paths, self.errors = [self._paths[n] for n in kept], [self.errors[n] for n in kept]

    def in_order(self) -> list[PegwrightError]:
        """All faults by the line they are in; those in no line, such as missing tables, come last."""
        lines = [self._line(path) or math.inf for path in self._paths]
        order = sorted(range(len(lines)), key=lines.__getitem__)
        return [self.errors[number] for number in order] + self.errors[len(lines) :]

    def in_file_order(self, paths: Sequence[str], top: Table) -> list[str]:
        """The key paths of tables of several lists, such as `channel[1]` and `channels[1]`, in the order of the file.

        Args:
            paths: of tables, those of one list in order.
            top: of the file.
        """
        heads = dict.fromkeys(path.partition("[")[0] for path in paths)
        if all(path in self._lines for path in paths):
            return sorted(paths, key=self._lines.__getitem__)
        if len(heads) > 1 and not any(head in self._lines for head in heads):
            names = " and ".join(f"[[{head}]]" for head in heads)
            message = f"its order among {names} is not known, for the file has texts of several lines"
            top.fault(next(iter(heads)), message, 'write texts in single quotes or "..." on one line each')
        of_file = list(top.values)
        return sorted(paths, key=lambda path: of_file.index(path.partition("[")[0]))

    def none_in(self, *paths: str) -> bool:
        """Whether no fault lies at or inside these key paths."""
        inside = tuple(f"{path}{mark}" for path in paths for mark in ".[")
        absent = any(f"{path}.".startswith(f"{table}.") for path in paths for table in self._absent)
        return not absent and not any(fault in paths or fault.startswith(inside) for fault in self._paths)

    def _place(self, path: str) -> str:
        line = self._line(path)
        return f"{path} (line {line})" if line else path

    def _line(self, path: str) -> int | None:
        places = (path, path.rpartition("[")[0], path.rpartition(".")[0])  # itself, its list, its table
        return next((self._lines[place] for place in places if place in self._lines), None)


class Table:
    """One TOML table; every key that is read becomes a known one.

    Args:
        values: as TOML gave them.
        path: its key path; empty for the file's top.
        faults: where faults go. A faulty value is replaced by a harmless one, so that reading goes on.
    """

    def __init__(self, values: Mapping[str, object], path: str, faults: Faults) -> None:
        self.values = values
        self.path = path
        self.faults = faults
        self._known: list[str] = []
        self._missing: set[str] = set()

    def at(self, key: str) -> str:
        """Key path of a key of this table."""
        return f"{self.path}.{key}" if self.path else key

    def fault(self, key: str, message: str, hint: str) -> None:
        """Note a fault at a key of this table; arguments as for `Faults.add`, with the key for its path."""
        self.faults.add(self.at(key), message, hint)

    def has(self, key: str) -> bool:
        """Whether the key is there; makes it a known one."""
        if key not in self._known:
            self._known.append(key)
        return key in self.values

    def value(self, key: str, check: Check[T], instead: T, default: T | None = None) -> T:
        """The checked value of a key.

        Args:
            key: of this table.
            check: of its value.
            instead: stands in for a faulty value, so that reading goes on.
            default: the value if the key is left out; None if it is required.
        """
        if not self.has(key):
            if default is None:
                self._miss(key, f"give {check.wanted}")
            return instead if default is None else default
        return self.checked(key, self.values[key], check, instead)

    def several(self, key: str, check: Check[T], instead: T, maximum: int, minimum: int = 1) -> tuple[T, ...]:
        """The checked items of a list without duplicates; arguments as for `items`."""
        items = self.items(key, check, instead, maximum, minimum)
        listed: Any = self.values.get(key)
        first_at: dict[T, int] = {}
        for n, item in enumerate(items):
            path = f"{self.at(key)}[{printed(n)}]"
            if self.faults.none_in(path) and first_at.setdefault(item, n) != n:
                message = f"{seen(listed[n])} is a duplicate of {key}[{printed(first_at[item])}]"
                self.faults.add(path, message, "take one out")
        return items

    def items(self, key: str, check: Check[T], instead: T, maximum: int, minimum: int = 0) -> tuple[T, ...]:
        """The checked items of a list, which may hold duplicates.

        Args:
            key: of this table; may be left out if `minimum` is 0.
            check: of each item.
            instead: stands in for a faulty item.
            maximum: number of items.
            minimum: number of items.
        """
        if not self.has(key):
            if minimum:
                self._miss(key, f"give a list in [...], each item {check.wanted}")
            return ()
        value = self.values[key]
        if not isinstance(value, list):
            self.fault(key, f"{seen(value)} is not a list", f"write a list in [...], each item {check.wanted}")
            return ()
        if len(value) < minimum:
            self.fault(key, "is empty", f"give {check.wanted}")
        if len(value) > maximum:
            self.fault(key, f"{plural(len(value), 'item')}, above the maximum, {maximum}", "shorten the list")
            return ()
        return tuple(self.checked(f"{key}[{printed(n)}]", item, check, instead) for n, item in enumerate(value))

    def table(self, key: str, needed: bool = True) -> Table:
        """The table under a key; an empty one if there is none."""
        value = self.values[key] if self.has(key) else None
        if value is None and needed:
            self._missing.add(key)
            self.faults.add_absent(self.at(key), "is missing", f"add a table [{key}]")
        elif value is not None and not isinstance(value, dict):
            self.faults.add_absent(self.at(key), f"{seen(value)} is not a table", f"write it as a table: [{key}]")
        return Table(value if isinstance(value, dict) else {}, self.at(key), self.faults)

    def tables(self, key: str, maximum: int, minimum: int = 0) -> list[Table]:
        """The tables of a list of tables.

        Args:
            key: of this table.
            maximum: number of tables; further ones are not read.
            minimum: number of tables.
        """
        value = self.values[key] if self.has(key) else []
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.fault(key, f"{seen(value)} is not a list of tables", f"head each one with [[{key}]]")
            return []
        if len(value) < minimum:
            self._miss(key, f"add at least {plural(minimum, 'table')} headed [[{key}]]")
        if len(value) > maximum:
            self.fault(key, f"{plural(len(value), 'table')}, above the maximum, {maximum:,}", "take some out")
        path = self.at(key)
        return [Table(item, f"{path}[{printed(n)}]", self.faults) for n, item in enumerate(value[:maximum])]

    def close(self) -> None:
        """Note every key that is not known, with the nearest known one, in place of that being missing."""
        for key in self.values:
            if key in self._known:
                continue
            near = self._nearest(key)
            known = f"did you mean `{near}`?" if near else f"known here: {', '.join(self._known)}"
            self.fault(_shown(key), "is not a known key", known)
            if near in self._missing:
                self.faults.drop(self.at(near))

    def misspelt(self, key: str) -> bool:
        """Whether a key that is not known, as far as keys have been read, is likely to be this one misspelt."""
        return any(self._nearest(other) == key for other in self.values if other not in self._known)

    def _nearest(self, key: str) -> str:
        """The nearest known key to one that is not known, or nothing."""
        from difflib import get_close_matches  # noqa: PLC0415  # loaded for faults

        return next(iter(get_close_matches(key[:MAX_TEXT_CHARS], self._known, n=1)), "")

    def _miss(self, key: str, hint: str) -> None:
        self._missing.add(key)
        if not self.faults.needs(self.path, key):
            self.fault(key, "is missing", hint)

    def checked(self, key: str, value: object, check: Check[T], instead: T) -> T:
        """A value at a key of this table, checked; further arguments as for `value`."""
        try:
            return check(value)
        except PegwrightError as fault:
            self.fault(key, fault.message, fault.hint)
            return instead


def _shown(key: str) -> str:
    return key if key.replace("-", "").replace("_", "").isalnum() and len(key) <= MAX_TEXT_CHARS else seen(key)


def read_bytes(path: Path, hint: str) -> bytes:
    """The bytes of a TOML file; of one that is too large for `toml_table`, one byte more than its limit.

    Raises:
        UsageError: the file cannot be read; `hint` says what to do, unless its name alone lacks the ending.
    """
    try:
        return plain_bytes(path, MAX_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a path that no system can hold
        ended = f"{path}.toml"
        if isinstance(error, FileNotFoundError) and os.path.isfile(ended):  # noqa: PTH113  # a name may get too long
            hint = f"name {ended}"
        raise UsageError(f"cannot be read: {reason_of(error)}", where=str(path), hint=hint) from error


@contextmanager
def toml_table(data: bytes, where: str, kind: FileKind) -> Iterator[Table]:
    """The top table of a TOML file, to be read within the block.

    Args:
        data: of the file.
        where: its name, for faults.
        kind: what it should be.

    Raises:
        ConfigError: it is not TOML, or has faults; all of them, when the block ends.
    """
    try:
        refuse_other(data, kind, where)
        values, lines = _parsed(data)
        refuse_other_kind(values, kind, where)
    except PegwrightError as fault:
        raise ConfigError([fault], where=where) from fault
    faults = Faults(lines)
    with suppress(TooManyFaultsError):
        yield Table(values, "", faults)
    if faults.errors:
        raise ConfigError(faults.in_order(), where=where)


def _parsed(data: bytes) -> tuple[dict[str, object], dict[str, int]]:
    """The values of a file, and its line numbers by key path."""
    if len(data) > MAX_BYTES:
        raise PegwrightError(f"larger than {MAX_BYTES:,} bytes", hint="name a wheel or song set file")
    try:
        text = data.removeprefix(_BYTE_ORDER_MARK).decode()
    except UnicodeDecodeError as error:
        number = printed(data.count(b"\n", 0, error.start))
        message = f"byte {printed(error.start)} (line {number}) is not UTF-8"
        raise PegwrightError(message, hint="save it as UTF-8") from error
    for number, line in enumerate(text.splitlines(), start=1):
        if len(line) > MAX_LINE_CHARS:
            message = f"line {number} has more than {MAX_LINE_CHARS:,} characters"
            raise PegwrightError(message, hint="break it into shorter lines")
    try:
        return tomllib.loads(text), line_numbers(text)
    except (ValueError, RecursionError) as error:
        raise slip_in(text, error) from error
