"""The command line as a whole: help, and every error in one line."""

from __future__ import annotations

import importlib
import subprocess
import sys
from pathlib import Path

import click
import pytest

from pegwright import __version__
from pegwright.cli import main as command_line
from pegwright.cli.main import COMMANDS, main
from pegwright.errors import InputError, InternalError, UsageError


def leave_with(error: BaseException, monkeypatch: pytest.MonkeyPatch) -> int:
    """The exit code of a command that raises `error`."""

    @click.command()
    def failing() -> None:
        raise error

    monkeypatch.setattr(command_line, "COMMANDS", {"fit": (f"{__name__}:failing", "Fails.")})
    monkeypatch.setattr(sys.modules[__name__], "failing", failing, raising=False)
    monkeypatch.setattr(importlib, "import_module", lambda _: sys.modules[__name__])
    with pytest.raises(SystemExit) as leaving:
        main(["fit"])
    assert isinstance(leaving.value.code, int)
    return leaving.value.code


def caused_by(error: BaseException) -> Exception:
    """What a library may make of an error."""
    made = ImportError("initialization failed")
    made.__cause__ = error
    return made


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (UsageError("no such wheel", where="--wheel", hint="name one"), 2, "--wheel: no such wheel (name one)"),
        (InputError("not MIDI", where="a.mid"), 1, "a.mid: not MIDI"),
        (InternalError("a rule was broken"), 70, "a rule was broken"),
        (click.UsageError("no such thing"), 2, "no such thing (try `pegwright fit --help`)"),
        (click.Abort(), 130, "stopped"),
        (KeyboardInterrupt(), 130, "stopped"),
        (ValueError("two\nlines"), 70, "this is a bug in pegwright: ValueError: two lines"),
        (RecursionError(), 70, "this is a bug in pegwright: RecursionError (set PEGWRIGHT_DEBUG=1"),
        (MemoryError(), 1, "this needs more memory than there is"),
        (caused_by(MemoryError()), 1, "this needs more memory than there is"),
        (caused_by(KeyboardInterrupt()), 130, "stopped"),
        (PermissionError(13, "Permission denied", "x.pdf"), 2, "x.pdf: Permission denied"),
    ],
)
def test_every_error_is_one_line_with_its_exit_code(
    error: BaseException,
    code: int,
    line: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.delenv("PEGWRIGHT_DEBUG", raising=False)
    assert leave_with(error, monkeypatch) == code
    told = capsys.readouterr()
    assert told.out == ""
    last = told.err.strip("\n")
    assert last.startswith(f"pegwright: error: {line}")
    assert "\n" not in last


def test_debug_shows_where_a_bug_is(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("PEGWRIGHT_DEBUG", "1")
    assert leave_with(ValueError("odd"), monkeypatch) == 70
    assert "Traceback (most recent call last)" in capsys.readouterr().err


@pytest.mark.parametrize("code", [0, 3])
def test_a_command_may_leave_with_a_code_of_its_own(code: int, monkeypatch: pytest.MonkeyPatch) -> None:
    assert leave_with(SystemExit(code), monkeypatch) == code


def test_help_lists_every_command_with_its_line(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as leaving:
        main(["--help"])
    assert leaving.value.code == 0
    text = " ".join(capsys.readouterr().out.split())
    for name, (_, line) in COMMANDS.items():
        assert f"{name} {line}" in text


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_of_the_table_is_there(name: str) -> None:
    module, _, attribute = COMMANDS[name][0].partition(":")
    command = getattr(importlib.import_module(module), attribute)
    assert isinstance(command, click.Command)
    assert command.name == name


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--version"])
    assert __version__ in capsys.readouterr().out


def test_no_command_shows_help_and_an_unknown_one_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as leaving:
        main([])
    assert leaving.value.code == 2
    assert "Commands:" in capsys.readouterr().err
    with pytest.raises(SystemExit) as leaving:
        main(["whel"])
    assert leaving.value.code == 2
    assert "whel" in capsys.readouterr().err


def shell(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "-c", command.replace("PEGWRIGHT", f"{sys.executable} -m pegwright")],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=60,
    )


def test_a_closed_pipe_is_no_trouble(tmp_path: Path) -> None:
    done = shell("PEGWRIGHT wheel --new >new.txt && PEGWRIGHT wheel --json | head -c 10 >head.txt", tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "head.txt").stat().st_size == 10
    assert shell("set -o pipefail; PEGWRIGHT wheel --json | true", tmp_path).stderr == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_is_told(tmp_path: Path) -> None:
    done = shell("PEGWRIGHT --help >/dev/full", tmp_path)
    assert done.returncode == 2
    assert done.stderr == "pegwright: error: output: No space left on device\n"
