"""The command line as a user runs it, but in this process, which is quick."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import pytest

from pegwright.bundled import songs_folder
from pegwright.cli.main import main

SONGS = songs_folder()
WHEEL = SONGS / "merrow-sands.toml"


@dataclass(frozen=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str

    def refused(self, code: int) -> str:
        """The one line it was refused with; fails if there was anything but one."""
        assert self.code == code, self
        assert self.out == "", self
        lines = self.err.splitlines()
        assert len(lines) == 1, self.err
        assert lines[0].startswith("pegwright: error: "), self.err
        assert "Traceback" not in self.err
        return lines[0]


Command: TypeAlias = Callable[..., Ran]


def runner(capsys: pytest.CaptureFixture[str]) -> Command:
    """A function that runs `pegwright` with arguments."""

    def run(*arguments: str | Path) -> Ran:
        with pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return Ran(left.value.code, out, err)

    return run
