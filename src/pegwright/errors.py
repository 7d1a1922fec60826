"""Every error that a user can see, as one tree.

    PegwrightError
    ├── InputError       a score that cannot be read                          exit code 1
    ├── ConfigError      a faulty wheel or song set file                       exit code 2
    ├── UsageError       options or paths that cannot be used                  exit code 2
    └── InternalError    a rule of our own was broken: a bug in pegwright      exit code 70

A note without a hole is never an error: it is a `Finding` and a left-out note.
"""

from __future__ import annotations

from collections.abc import Sequence

EXIT_ALL_PLACED = 0
EXIT_UNREADABLE = 1
EXIT_BAD_USAGE = 2
EXIT_LEFT_OUT = 3
EXIT_BUG = 70
EXIT_INTERRUPTED = 130  # what a shell reports for a program stopped by Ctrl-C


class PegwrightError(Exception):
    """An error in one line: where, what with the value and its bound, and what to do.

    Args:
        message: what is wrong, with the value seen and the bound it broke.
        where: the file, key path or option; may be empty.
        hint: what the user can do about it; may be empty.

    >>> try:
    ...     raise PegwrightError("pitch is 200, outside 0 to 127", where="song.mid", hint="transpose it")
    ... except PegwrightError as error:
    ...     print(error)
    song.mid: pitch is 200, outside 0 to 127 (transpose it)
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
    """A score file cannot be read as music.

    >>> from pegwright import read_score
    >>> read_score(b"RIFF, a sound")
    Traceback (most recent call last):
    pegwright.errors.InputError: ...
    """

    exit_code = EXIT_UNREADABLE


class UsageError(PegwrightError):
    """An option, argument or output path cannot be used as given.

    >>> from pegwright import load_wheel
    >>> load_wheel("no-such-wheel.toml")
    Traceback (most recent call last):
    pegwright.errors.UsageError: ...
    """

    exit_code = EXIT_BAD_USAGE


class ConfigError(PegwrightError):
    """A TOML file has one or more faults, each with its key path; all are listed.

    Args:
        faults: one error for each fault, its `where` being the key path inside the file.
        where: the file.

    >>> fault = PegwrightError("-1 is below 0", where="channel[2].restrike_ms")
    >>> error = ConfigError([fault], where="wheel.toml")
    >>> str(error), error.faults[0].where
    ('wheel.toml: channel[2].restrike_ms: -1 is below 0', 'channel[2].restrike_ms')
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
    """The program broke one of its own rules; the result is withheld.

    >>> InternalError("the placement broke 1 of its own rules", where="song.mid").exit_code
    70
    """

    exit_code = EXIT_BUG


def check_limit(count: int, limit: int, things: str, where: str, hint: str = "cut the song into shorter files") -> None:
    """Refuse a file that holds more than is read of one.

    Args:
        count: of the things in the file.
        limit: the maximum that is read.
        things: in the plural.
        where: the file.
        hint: what the user can do.

    Raises:
        InputError: `count` exceeds `limit`.
    """
    if count > limit:
        raise InputError(f"{count:,} {things}; at most {limit:,} are read", where=where, hint=hint)


def refuse_broken(broken: Sequence[str], where: str = "", outcome: str = "") -> None:
    """Refuse a placement that the independent verifier found broken.

    Args:
        broken: the sentences of the verifier.
        where: the song.
        outcome: of the command, with which the hint begins.

    Raises:
        InternalError: there are some.
    """
    if broken:
        message = f"the placement broke {len(broken)} of its own rules, the first: {broken[0]}"
        raise InternalError(message, where=where, hint=f"{outcome}please report this with the song and the wheel file")
