"""Where commands write."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.errors import InternalError
from pegwright.show_pipeline import files as show_files_module
from pegwright.write.names import MAX_NAME_BYTES

MARCH = SONGS / "lamplighters-march.mid"
ROUND = SONGS / "round-the-pier-and-back.mxl"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def show_of(folder: Path, *songs: Path) -> Path:
    path = folder / "set.toml"
    listed = "".join(f'[[song]]\nscore = "{song}"\nstart = 1\n' for song in songs)
    work = "[work]\npull_s = 1\nset_s = 2\nfind_s = 0.5\npeople = 2\n"
    path.write_text(f'title = "Evening"\nwheel = "{WHEEL}"\n{work}{listed}', encoding="utf-8")
    return path


def test_long_titles_and_equal_ones_have_files_of_their_own(pegwright: Command, tmp_path: Path) -> None:
    """Two songs of one title, each of two pinnings; its 64 Cyrillic letters are more bytes than a name may have."""
    with zipfile.ZipFile(ROUND) as archive:
        (member,) = (name for name in archive.namelist() if name.endswith(".musicxml"))
        text = archive.read(member).decode()
    assert "Round the Pier and Back" in text
    songs = [tmp_path / "one.musicxml", tmp_path / "two.musicxml"]
    for song in songs:
        song.write_text(text.replace("Round the Pier and Back", "ж" * 64), encoding="utf-8")
    ran = pegwright("set", show_of(tmp_path, *songs), "-o", tmp_path / "show")
    assert ran.code == 0, ran
    swaps = sorted(path.stem for path in (tmp_path / "show" / "swaps").glob("*.json"))
    assert [swap[-2:] for swap in swaps] == ["-a", "-b", "-a", "-b"]
    assert all("жжж" in swap and len(swap.encode()) <= MAX_NAME_BYTES for swap in swaps)
    folders = list((tmp_path / "show" / "songs").iterdir())
    assert len(folders) == 2
    assert all((folder / letter / "pin-map.json").exists() for folder in folders for letter in "AB")


def test_a_show_that_would_write_one_file_twice_is_our_error(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(show_files_module, "safe_name", lambda _text, ending="": f"same{ending}")
    ran = pegwright("set", show_of(tmp_path, MARCH, SONGS / "shrimpers-jig.mid"), "-o", tmp_path / "show")
    assert ran.code == InternalError.exit_code
    assert "would be written" in ran.err
    assert not (tmp_path / "show").exists()
