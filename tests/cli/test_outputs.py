"""Where commands write: nothing that is read is written over, and what stopped runs left is reported."""

from __future__ import annotations

import hashlib
import shutil
import zipfile
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.bundled import bundled_songs
from pegwright.errors import InternalError
from pegwright.show_pipeline import files as show_files_module
from pegwright.write.names import MAX_NAME_BYTES

MARCH = SONGS / "lamplighters-march.mid"
ROUND = SONGS / "round-the-pier-and-back.mxl"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.mark.parametrize("what", ["song", "wheel file", "file of beats"])
def test_no_page_replaces_what_is_read(pegwright: Command, tmp_path: Path, what: str) -> None:
    song, wheel, beats, out = (tmp_path / name for name in ("a.mid", "wheel.toml", "beats.csv", "out.svg"))
    shutil.copy(MARCH, song)
    shutil.copy(WHEEL, wheel)
    beats.write_text("0,0\n1,1\n", encoding="utf-8")
    inputs = {"song": song, "wheel file": wheel, "file of beats": beats}
    before = {path: path.read_bytes() for path in inputs.values()}
    for by in ("symlink", "hard link"):
        out.unlink(missing_ok=True)
        out.symlink_to(inputs[what]) if by == "symlink" else out.hardlink_to(inputs[what])
        played = ("--performed", "--beats", beats, "--overwrite")
        said = pegwright("pin", song, "--wheel", wheel, "--page", out, *played).refused(2)
        assert f"out.svg: is the {what} itself" in said
    assert {path: path.read_bytes() for path in inputs.values()} == before


def test_sound_does_not_replace_what_is_read(pegwright: Command, tmp_path: Path) -> None:
    wheel = tmp_path / "wheel.mid"
    shutil.copy(WHEEL, wheel)
    assert "is the wheel file itself" in pegwright("hear", MARCH, "--wheel", wheel, "-o", wheel, "--overwrite").refused(
        2
    )
    assert wheel.read_bytes() == WHEEL.read_bytes()


def test_what_a_stopped_run_left_is_put_right_and_reported_by_the_next_command(
    pegwright: Command, tmp_path: Path
) -> None:
    """Also by one that only reads in the folder."""
    assert pegwright("pin", MARCH, "--wheel", WHEEL, "-o", tmp_path / "pins").code == 0
    part = tmp_path / f".pegwright-{hashlib.sha256(b'pins').hexdigest()[:16]}.part"
    (part / "new").mkdir(parents=True)
    (part / "old").mkdir()
    (tmp_path / "pins").rename(part / "old" / "pins")
    ran = pegwright("swap", tmp_path / "pins" / "pin-map.json", MARCH, "--wheel", WHEEL)
    assert ran.code == 0, ran
    assert ran.err == (
        f"pegwright: {part}: a run was stopped while it replaced pins; the earlier files are in place again\n"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["pins"]
    assert pegwright("wheel", WHEEL).err == ""


def test_a_default_folder_is_looked_at_too(pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / ".pegwright-0123456789abcdef.part" / "new").mkdir(parents=True)
    ran = pegwright("pin", MARCH, "--wheel", WHEEL)
    assert ran.err == (
        "pegwright: .pegwright-0123456789abcdef.part: unfinished files of a run that was stopped were removed\n"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["lamplighters-march-pins"]


def test_the_demo_writes_through_no_link_in_its_folder(pegwright: Command, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "out").mkdir()
    for song in bundled_songs():
        (tmp_path / "out" / song.stem).symlink_to(tmp_path / "elsewhere")
    ran = pegwright("demo", "-o", tmp_path / "out")
    assert ran.code == 2
    assert "is a link, and nothing is written through one" in ran.err
    assert list((tmp_path / "elsewhere").iterdir()) == []


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
    data = tmp_path / "show" / "data"
    swaps = sorted(path.stem for path in data.glob("swap-*.json"))
    assert [swap[-2:] for swap in swaps] == ["-a", "-b", "-a", "-b"]
    assert all("жжж" in swap and len(swap.encode()) <= MAX_NAME_BYTES for swap in swaps)
    folders = [path for path in data.iterdir() if path.is_dir()]
    assert len(folders) == 2
    assert all((folder / letter / "pin-map.json").exists() for folder in folders for letter in "AB")
    printed = [path.name for path in (tmp_path / "show" / "songs").iterdir()]
    assert len(printed) == len(set(printed)) == 4  # a document and a page for each song


def test_a_show_that_would_write_one_file_twice_is_our_error(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(show_files_module, "safe_name", lambda _text, ending="": f"same{ending}")
    ran = pegwright("set", show_of(tmp_path, MARCH, SONGS / "shrimpers-jig.mid"), "-o", tmp_path / "show")
    assert ran.code == InternalError.exit_code
    assert "would be written" in ran.err
    assert not (tmp_path / "show").exists()
