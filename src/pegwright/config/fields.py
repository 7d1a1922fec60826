"""Reads TOML tables key by key, gathering every fault with its key path instead of stopping at the first."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TypeVar

from pegwright.config.checks import TEXT_MOST, Check, seen
from pegwright.config.lines import line_numbers
from pegwright.errors import ConfigError, PegwrightError, UsageError
from pegwright.units import plural, printed

BYTES_MOST = 500_000
LINE_MOST = 10_000  # characters; a longer key with dots would keep the TOML parser busy for ever
FAULTS_MOST = 100
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"

T = TypeVar("T")


class TooManyFaultsError(Exception):
    """Enough faults were found: further ones help nobody."""


class Faults:
    """The faults of a file so far.

    Args:
        lines: line numbers by key path.
    """

    def __init__(self, lines: Mapping[str, int]) -> None:
        self._lines = lines
        self._paths: list[str] = []
        self.found: list[PegwrightError] = []

    def add(self, path: str, message: str, hint: str) -> None:
        """Note one fault at a key path.

        Raises:
            TooManyFaultsError: this was one more than anyone wants to read.
        """
        if len(self.found) == FAULTS_MOST:
            self.found.append(PegwrightError(f"more than {FAULTS_MOST} faults", hint="mend these first"))
            raise TooManyFaultsError
        self._paths.append(path)
        self.found.append(PegwrightError(message, where=self._place(path), hint=hint))

    def none_in(self, *paths: str) -> bool:
        """Whether no fault lies at or inside these key paths."""
        return not any(_inside(fault, path) for fault in self._paths for path in paths)

    def _place(self, path: str) -> str:
        line = self._lines.get(path) or self._lines.get(path.rpartition("[")[0]) or self._lines.get(parent(path))
        return f"{path} (line {line})" if line else path


def parent(path: str) -> str:
    """The key path of the table that holds `path`; empty for the file's top."""
    return path.rpartition(".")[0]


def _inside(path: str, outer: str) -> bool:
    return path == outer or path.startswith((f"{outer}.", f"{outer}["))


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

    def at(self, key: str) -> str:
        """Key path of a key of this table."""
        return f"{self.path}.{key}" if self.path else key

    def fault(self, key: str, message: str, hint: str) -> None:
        """Note a fault at a key of this table."""
        self.faults.add(self.at(key), message, hint)

    def has(self, key: str) -> bool:
        """Whether the key is there; makes it a known one."""
        if key not in self._known:
            self._known.append(key)
        return key in self.values

    def value(self, key: str, check: Check[T], instead: T, default: T | None = None) -> T:
        """The checked value of a key; `default` if it is left out (None: it must be there), `instead` if faulty."""
        if not self.has(key):
            if default is None:
                self.fault(key, "is missing", f"give {check.wanted}")
            return instead if default is None else default
        return self._checked(self.at(key), self.values[key], check, instead)

    def several(self, key: str, check: Check[T], instead: T, most: int, least: int = 1) -> tuple[T, ...]:
        """The checked items of a list, each one once; empty if the key is left out where `least` is 0."""
        items = self.items(key, check, instead, most, least)
        path = self.at(key)
        sound = [n for n in range(len(items)) if self.faults.none_in(f"{path}[{printed(n)}]")]
        for place, n in enumerate(sound):
            first = next((m for m in sound[:place] if items[m] == items[n]), None)
            if first is not None:
                found = self.values[key]
                told = f"{seen(found[n] if isinstance(found, list) else found)} is there already"
                self.faults.add(f"{path}[{printed(n)}]", f"{told} as {key}[{printed(first)}]", "take one out")
        return items

    def items(self, key: str, check: Check[T], instead: T, most: int, least: int = 0) -> tuple[T, ...]:
        """The checked items of a list, in which any may come again; empty if left out where `least` is 0."""
        if not self.has(key):
            if least:
                self.fault(key, "is missing", f"give a list in [...], each item {check.wanted}")
            return ()
        found = self.values[key]
        if not isinstance(found, list):
            self.fault(key, f"{seen(found)} is not a list", f"write a list in [...], each item {check.wanted}")
            return ()
        if len(found) < least:
            self.fault(key, "is empty", f"give {check.wanted}")
        if len(found) > most:
            self.fault(key, f"{plural(len(found), 'item')}, above the most, {most}", "shorten the list")
            return ()
        path = self.at(key)
        return tuple(self._checked(f"{path}[{printed(n)}]", item, check, instead) for n, item in enumerate(found))

    def table(self, key: str, needed: bool = True) -> Table:
        """The table under a key; an empty one if there is none."""
        found = self.values[key] if self.has(key) else None
        if found is None and needed:
            self.fault(key, "is missing", f"add a table [{key}]")
        elif found is not None and not isinstance(found, dict):
            self.fault(key, f"{seen(found)} is not a table", f"write it as a table: [{key}]")
        return Table(found if isinstance(found, dict) else {}, self.at(key), self.faults)

    def tables(self, key: str, most: int, least: int = 0) -> list[Table]:
        """The tables of a list of tables."""
        found = self.values[key] if self.has(key) else []
        if not isinstance(found, list) or not all(isinstance(item, dict) for item in found):
            self.fault(key, f"{seen(found)} is not a list of tables", f"head each one with [[{key}]]")
            return []
        if len(found) < least:
            self.fault(key, "is missing", f"add at least {plural(least, 'table')} headed [[{key}]]")
        if len(found) > most:
            self.fault(key, f"{plural(len(found), 'table')}, above the most, {most:,}", "take some out")
        path = self.at(key)
        return [Table(item, f"{path}[{printed(n)}]", self.faults) for n, item in enumerate(found[:most])]

    def close(self) -> None:
        """Note every key that was never asked for, with the nearest known one."""
        for key in self.values:
            if key in self._known:
                continue
            near = difflib.get_close_matches(key[:TEXT_MOST], self._known, n=1)
            known = f"did you mean `{near[0]}`?" if near else f"known here: {', '.join(self._known)}"
            self.fault(_shown(key), "is not a known key", known)

    def _checked(self, path: str, value: object, check: Check[T], instead: T) -> T:
        try:
            return check(value)
        except PegwrightError as fault:
            self.faults.add(path, fault.message, fault.hint)
            return instead


def _shown(key: str) -> str:
    return key if key.replace("-", "").replace("_", "").isalnum() and len(key) <= TEXT_MOST else seen(key)


def unique_names(tables: Sequence[Table], names: Sequence[str]) -> None:
    """Note every name that an earlier table has already."""
    for n, (table, name) in enumerate(zip(tables, names, strict=True)):
        if name in names[:n] and table.faults.none_in(table.at("name")):
            first = tables[names.index(name)].path
            table.fault("name", f'"{name}" is the name of {first} already', "give each its own name")


def read_bytes(path: Path, hint: str) -> bytes:
    """The bytes of a file that a person wrote, and one too many where it is too large for `parse_toml`.

    Raises:
        UsageError: the file cannot be read; `hint` says what to do.
    """
    try:
        with path.open("rb") as file:
            return file.read(BYTES_MOST + 1)
    except (OSError, ValueError) as error:  # ValueError: a path that no system can hold
        told = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise UsageError(f"cannot be read: {told}", where=str(path), hint=hint) from error


def parse_toml(data: bytes, where: str) -> tuple[dict[str, object], Faults]:
    """The top table of a TOML file, and a place for its faults.

    Raises:
        ConfigError: it is no TOML at all.
    """
    if len(data) > BYTES_MOST:
        raise _no_toml(where, f"larger than {BYTES_MOST:,} bytes", "name a wheel or song set file")
    try:
        text = data.removeprefix(_BYTE_ORDER_MARK).decode()
    except UnicodeDecodeError as error:
        number = printed(data.count(b"\n", 0, error.start))
        raise _no_toml(
            where, f"byte {printed(error.start)} (line {number}) is not UTF-8", "save it as UTF-8"
        ) from error
    for number, line in enumerate(text.splitlines(), start=1):
        if len(line) > LINE_MOST:
            raise _no_toml(
                where, f"line {number} has more than {LINE_MOST:,} characters", "break it into shorter lines"
            )
    try:
        return tomllib.loads(text), Faults(line_numbers(text))
    except (ValueError, RecursionError) as error:
        told = (
            " ".join(str(error).split())[:200] if isinstance(error, tomllib.TOMLDecodeError) else "too deep or too long"
        )
        hint = "texts need quotes, lists need commas, each key stands once"
        raise _no_toml(where, f"not valid TOML: {told}", hint) from error


def _no_toml(where: str, message: str, hint: str) -> ConfigError:
    return ConfigError([PegwrightError(message, hint=hint)], where=where)
