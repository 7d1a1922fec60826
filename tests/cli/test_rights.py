"""Files that may not be read and folders that may not be written to, at the command line, as an ordinary user."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from ordinary_user import open_folder, ordinary_user, shut

__all__ = ["open_folder"]


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture
def at_hand(open_folder: Path) -> Path:
    """A folder with the demo wheel, a bundled song and beats for it."""
    shutil.copyfile(WHEEL, open_folder / "wheel.toml")
    song = next(path for path in sorted(SONGS.iterdir()) if path.suffix == ".mid")
    shutil.copyfile(song, open_folder / "song.mid")
    (open_folder / "beats.csv").write_text("0,0\n1,0.5\n", encoding="utf-8")
    (open_folder / "set.toml").write_text('title = "Evening"\n\n[[song]]\nfile = "song.mid"\n', encoding="utf-8")
    return open_folder


def test_what_is_open_to_all_can_be_fitted(pegwright: Command, at_hand: Path) -> None:
    """The check below could not tell a shut file from a shut folder otherwise."""
    pegwright("fit", at_hand / "song.mid", "--wheel", at_hand / "wheel.toml")  # loads what it needs as who we are
    with ordinary_user():
        ran = pegwright("fit", at_hand / "song.mid", "--wheel", at_hand / "wheel.toml")
    assert ran.err == ""
    assert ran.code in {0, 3}


@pytest.mark.parametrize(
    ("file", "arguments", "code"),
    [
        ("song.mid", ("fit", "song.mid", "--wheel", "wheel.toml"), 1),
        ("wheel.toml", ("fit", "song.mid", "--wheel", "wheel.toml"), 2),
        ("wheel.toml", ("wheel", "wheel.toml"), 2),
        ("beats.csv", ("fit", "song.mid", "--wheel", "wheel.toml", "--performed", "--beats", "./beats.csv"), 1),
        ("set.toml", ("set", "set.toml"), 2),
    ],
)
def test_a_shut_file_is_refused_in_one_line(
    pegwright: Command,
    at_hand: Path,
    monkeypatch: pytest.MonkeyPatch,
    file: str,
    arguments: tuple[str, ...],
    code: int,
) -> None:
    monkeypatch.chdir(at_hand)
    shut(at_hand / file)
    with ordinary_user():
        said = pegwright(*arguments).refused(code)
    assert file in said
    assert "permission denied" in said.lower()


def test_a_folder_that_may_not_be_written_to_is_refused_and_left(
    pegwright: Command, at_hand: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(at_hand)
    (at_hand / "out").mkdir()
    assert pegwright("pin", "song.mid", "--wheel", "wheel.toml", "-o", "all").err == ""  # loads what it needs
    (at_hand / "out").chmod(0o555)
    with ordinary_user():
        ran = pegwright("pin", "song.mid", "--wheel", "wheel.toml", "-o", "out/pins")
    assert ran.code == 2
    assert ran.err.startswith("pegwright: error: out/pins: cannot be written: permission denied")
    assert len(ran.err.splitlines()) == 1
    assert list((at_hand / "out").iterdir()) == []
