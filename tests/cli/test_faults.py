"""Names, files and moments that are not as expected: one harmless line each, and never a bug."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import SONGS, WHEEL, Command, runner
from midi_bytes import tracks_of_notes
from pegwright import __main__ as beginning
from pegwright.cli import progress
from pegwright.cli.say import MAX_LINE_CHARS, harmless, say_line
from pegwright.errors import EXIT_INTERRUPTED
from places import ROOT

MARCH = SONGS / "lamplighters-march.mid"
EVIL = "a\x1b]0;owned\x07\x9b31m\u202e[red]b"
ACTS = re.compile("[\0-\x08\x0b-\x1f\x7f-\x9f\u202e]")
CLI = ROOT / "src" / "pegwright" / "cli"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def test_no_name_reaches_a_terminal_with_what_acts_on_it(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    song, scores = tmp_path / f"{EVIL}.mid", tmp_path / f"{EVIL}-scores"
    song.write_bytes(MARCH.read_bytes())
    scores.mkdir()
    bars = ("--bars", "1-2", "--wheel", WHEEL)
    commands: list[tuple[str | Path, ...]] = [
        ("fit", song, *bars), ("fit", song, *bars, "--json"), ("fit", f"{EVIL}.gone", *bars),
        ("pin", song, *bars), ("pin", song, *bars, "-o", f"{EVIL}-pins"), ("pin", song, *bars, "-o", f"{EVIL}-pins"),
        ("hear", song, *bars, "-o", f"{EVIL}.wav"), ("wheel", "--new", f"{EVIL}.toml"), ("wheel", f"{EVIL}.gone"),
        ("survey", scores, "--wheel", WHEEL), ("survey", song, "--wheel", WHEEL), (f"{EVIL}",), ("fit", f"--{EVIL}"),
        ("swap", f"{EVIL}-pins/pin-map.json", song, "--wheel", WHEEL, "-o", f"{EVIL}-swap"), ("set", f"{EVIL}.toml"),
    ]  # fmt: skip
    for command in commands:
        ran = pegwright(*command)
        assert ran.code != 70, ran
        assert not ACTS.search(ran.out + ran.err), (command, ran)


def test_json_stays_json_and_text_stays_text() -> None:
    assert harmless("a\tb\nÄrger 港 👩‍💻") == "a\tb\nÄrger 港 👩‍💻"
    assert harmless("\x1b[31m\x9b\u202e") == "\\u001b[31m\\u009b\\u202e"


def test_every_command_prints_by_the_one_function_that_is_harmless() -> None:
    assert [
        path.name
        for path in sorted(CLI.glob("*.py"))
        if "click.echo(" in path.read_text(encoding="utf-8") and path.name not in {"say.py", "main.py"}
    ] == ["completion.py"]


def test_the_moving_mark_shows_a_name_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[str] = []

    class Console:
        def __init__(self, stderr: bool) -> None:
            assert stderr

        def status(self, message: str, **_: str) -> Console:
            shown.append(message)
            return self

        def __enter__(self) -> None: ...

        def __exit__(self, *_: object) -> None: ...

    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    monkeypatch.setattr("rich.console.Console", Console)
    with progress.working(f"Fitting {EVIL}\n"):
        pass
    assert shown == ["Fitting a\\u001b]0;owned\\u0007\\u009b31m\\u202e\\[red]b\\n"]


def test_an_error_is_cut_to_one_line_that_keeps_its_beginning_and_what_to_do(
    pegwright: Command, tmp_path: Path
) -> None:
    for name in ("n/" * 900 + "x.mid", "two\nlines.mid"):
        said = pegwright("fit", name, "--wheel", WHEEL).refused(1)
        assert len(said) <= MAX_LINE_CHARS
        assert said.endswith("(check the name and the folder)")
    wheel = tmp_path / "wheel.toml"
    wheel.write_text("".join(f'{"k" * 400}{number} = "{"v" * 400}"\n' for number in range(3)), encoding="utf-8")
    ran = pegwright("wheel", wheel)
    assert ran.code == 2
    assert len(ran.err.splitlines()) > 3
    assert all(len(line) <= MAX_LINE_CHARS for line in ran.err.splitlines())


@given(st.text("ab ,;", max_size=700))
def test_an_error_is_cut_between_words_where_it_has_any(text: str) -> None:
    with patch("click.echo") as echo:
        say_line(text)
    (said,) = echo.call_args.args
    assert len(said) <= MAX_LINE_CHARS
    if len(text) <= MAX_LINE_CHARS:
        assert said == text
        return
    head, _, tail = said.partition(" … ")
    assert text.startswith(head)
    assert text.endswith(tail)
    for piece, beside in (
        (text[:199], text[len(head) : len(head) + 1]),
        (text[-98:], text[-len(tail) - 1 : -len(tail)]),
    ):
        if max(map(len, piece.split(" "))) < 49:  # there is a space in the half that is looked through
            assert beside in {" ", ",", ";"}


NOT_PLAIN = "not a plain file"


@pytest.mark.parametrize("kind", ["pipe", "device"])
@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("fit", "ODD", "--wheel", WHEEL), 1),
        (("fit", MARCH, "--wheel", "ODD"), 2),
        (("wheel", "ODD"), 2),
        (("fit", MARCH, "--wheel", WHEEL, "--performed", "--beats", "./ODD"), 1),
        (("swap", "ODD", MARCH, "--wheel", WHEEL), 1),
        (("swap", "map.json", "ODD", "--wheel", WHEEL), 1),
        (("set", "ODD"), 2),
        (("hear", MARCH, "--wheel", WHEEL, "--seams", "ODD"), 2),
    ],
)
def test_a_pipe_or_device_is_refused_and_not_waited_for(
    pegwright: Command,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    kind: str,
    arguments: tuple[str, ...],
    code: int,
) -> None:
    monkeypatch.chdir(tmp_path)
    if kind == "pipe":
        os.mkfifo("ODD")
    else:
        Path("ODD").symlink_to("/dev/zero")
    if "map.json" in arguments:
        assert pegwright("pin", MARCH, "--wheel", WHEEL, "-o", "pins").code == 0
        Path("map.json").symlink_to("pins/pin-map.json")
    said = pegwright(*arguments).refused(code)
    assert "ODD" in said
    assert NOT_PLAIN in said


@pytest.mark.parametrize("length", [0, 1, 14, 2**32 - 1])
def test_a_riff_whose_length_is_wrong_is_read_all_the_same(pegwright: Command, tmp_path: Path, length: int) -> None:
    """Source: RP-029, a MIDI file in a RIFF of form RMID (from memory)."""
    song = tmp_path / "a.rmi"
    notes = tracks_of_notes([[(0, 48, 72, 80, 0), (96, 48, 74, 80, 0)]], running=False, zero_offs=False)
    song.write_bytes(b"RIFF\0\0\0\0RMIDdata" + length.to_bytes(4, "little") + notes)
    ran = pegwright("fit", song, "--wheel", WHEEL, "--json")
    assert ran.code == 0, ran
    assert '"read": 2,' in ran.out


@pytest.mark.parametrize("seconds", ["3601", "1e9", "1e300"])
def test_beats_without_end_are_refused(pegwright: Command, tmp_path: Path, seconds: str) -> None:
    beats = tmp_path / "beats.csv"
    beats.write_text(f"0,0\n{seconds},1\n", encoding="utf-8")
    said = pegwright("fit", MARCH, "--wheel", WHEEL, "--performed", "--beats", beats).refused(2)
    assert "lasts" in said
    assert "more than 3,600 s" in said


INTERRUPTED = """
import os, signal, sys
from importlib.abc import MetaPathFinder
from pegwright.__main__ import start
module = sys.argv.pop(1)
class Stop(MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name == module:
            os.kill(os.getpid(), signal.SIGINT)
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.meta_path.insert(0, Stop())
start()
"""


@pytest.mark.parametrize(
    "module", ["pegwright.cli.main", "click", "pegwright.errors", "pegwright.cli.wheel", "pegwright.config", "numpy"]
)
def test_control_c_is_one_line_from_the_first_import_on(tmp_path: Path, module: str) -> None:
    ran = subprocess.run(
        [sys.executable, "-c", INTERRUPTED, module, "wheel", str(WHEEL)],
        cwd=tmp_path, capture_output=True, encoding="utf-8", check=False, timeout=60,
    )  # fmt: skip
    assert (ran.returncode, ran.stdout) == (EXIT_INTERRUPTED, "")
    assert ran.stderr.lstrip("\n") == "pegwright: error: stopped\n"  # click ends the line with the terminal's ^C first


def test_the_exit_code_is_one() -> None:
    assert beginning._EXIT_INTERRUPTED == EXIT_INTERRUPTED
