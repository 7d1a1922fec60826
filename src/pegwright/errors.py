"""Every error a user can meet, as one tree.

    PegwrightError
    ├── InputError       a score that cannot be read                          exit code 1
    ├── ConfigError      a wheel or song set file that does not hold together  exit code 2
    ├── UsageError       options or paths that cannot be used                  exit code 2
    └── InternalError    a rule of our own was broken: a bug in pegwright      exit code 70

A note that finds no hole is never an error: it is a `Finding` and a left-out note.
"""

from __future__ import annotations

from collections.abc import Sequence

EXIT_ALL_PLACED = 0
EXIT_UNREADABLE = 1
EXIT_BAD_USAGE = 2
EXIT_LEFT_OUT = 3
EXIT_BUG = 70


class PegwrightError(Exception):
    """An error told in one line: where, what with the value and its bound, and what to do.

    Args:
        message: what is wrong, with the value seen and the bound it broke.
        where: the file, key path or option concerned; may be empty.
        hint: what the user can do about it; may be empty.
    """

    exit_code: int = EXIT_UNREADABLE

    def __init__(self, message: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        return f"{text} ({self.hint})" if self.hint else text


class InputError(PegwrightError):
    """A score file cannot be read as music."""

    exit_code = EXIT_UNREADABLE


class UsageError(PegwrightError):
    """An option, argument or output path cannot be used as given."""

    exit_code = EXIT_BAD_USAGE


class ConfigError(PegwrightError):
    """A TOML file has one or more faults, each with its key path; all are told at once.

    Args:
        faults: one error for each fault, its `where` being the key path inside the file.
        where: the file.
    """

    exit_code = EXIT_BAD_USAGE

    def __init__(self, faults: Sequence[PegwrightError], *, where: str) -> None:
        count = len(faults)
        super().__init__("1 fault" if count == 1 else f"{count} faults", where=where)
        self.faults = tuple(faults)

    def __str__(self) -> str:
        if len(self.faults) == 1:
            return f"{self.where}: {self.faults[0]}"
        return "\n".join([super().__str__(), *(f"  {fault}" for fault in self.faults)])


class InternalError(PegwrightError):
    """The program broke one of its own rules; the result is withheld."""

    exit_code = EXIT_BUG
