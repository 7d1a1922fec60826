"""Places that a command writes to: what stopped runs left there is put right, and nothing read is written over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from pegwright.cli.say import say_line
from pegwright.errors import UsageError


def report_stopped(path: Path) -> None:
    """Put right what is left at a path, beside it and in the current folder, with a line on stderr for each."""
    from pegwright.write.part import settle_stopped  # noqa: PLC0415  # not for --help

    for folder in dict.fromkeys((Path(), path.parent.parent, path.parent, path)):
        for outcome in settle_stopped(folder):
            say_line(f"pegwright: {outcome}")


def refuse_inputs(outputs: Iterable[Path], inputs: Mapping[str, Path | None]) -> None:
    """Refuse to write over what is read, by this name or another, also where files may be overwritten.

    Args:
        outputs: the files to write.
        inputs: what is read, such as `song` -> its path; None for what is not given.

    Raises:
        UsageError: an output is one of the inputs.
    """
    for output in outputs:
        for what, path in inputs.items():
            if path and path.exists() and output.exists() and output.samefile(path):
                raise UsageError(f"is the {what} itself", where=str(output), hint="choose another name")


def toml_path(path: Path) -> Path:
    """A path of a new TOML file: one that does not end in `.toml` gets it."""
    return path if path.suffix.lower() == ".toml" else path.with_name(f"{path.name}.toml")
