"""Finding score files in folders that were not made to be easy."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from ordinary_user import open_folder, ordinary_user, shut
from pegwright.errors import InputError, UsageError
from pegwright.survey.files import list_scores

__all__ = ["open_folder"]


def names(folder: Path) -> list[str]:
    return [listed.name for listed in list_scores(folder)[0]]


def problems(folder: Path) -> dict[str, str]:
    return {listed.name: listed.problem for listed in list_scores(folder)[0] if listed.problem}


def test_suffixes_of_scores_in_any_case_in_all_folders(tmp_path: Path) -> None:
    kinds = [".mid", ".MIDI", ".kar", ".rmi", ".xml", ".MusicXML", ".mxl"]
    for number, suffix in enumerate(kinds):
        folder = tmp_path / ("deep/" * (number % 3))
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{number}{suffix}").write_bytes(b"x" * number)
    for other in ("notes.txt", "mid", "song.mid.bak", "deep/cover.png"):
        (tmp_path / other).write_bytes(b"")
    (tmp_path / "folder.mid").mkdir()
    scores, passed_over = list_scores(tmp_path)
    assert [(listed.name, listed.size) for listed in scores] == [
        ("0.mid", 0),
        ("3.rmi", 3),
        ("6.mxl", 6),
        ("deep/1.MIDI", 1),
        ("deep/4.xml", 4),
        ("deep/deep/2.kar", 2),
        ("deep/deep/5.MusicXML", 5),
    ]
    assert passed_over == 4
    assert all(listed.path.stat().st_mtime_ns == listed.mtime_ns for listed in scores)


def test_links_are_followed_but_never_round_in_circles(tmp_path: Path) -> None:
    inside, outside = tmp_path / "inside", tmp_path / "outside"
    (inside / "b").mkdir(parents=True)
    outside.mkdir()
    (inside / "b" / "air.mid").write_bytes(b"")
    (outside / "jig.mid").write_bytes(b"")
    (inside / "a-up").symlink_to(inside)  # to a folder that it is in
    (inside / "b" / "round").symlink_to(inside / "b")
    (inside / "c-out").symlink_to(outside)
    (outside / "back").symlink_to(inside)
    (inside / "d-again").symlink_to(outside)
    (inside / "air.mid").symlink_to(inside / "b" / "air.mid")
    (inside / "itself.mid").symlink_to(inside / "itself.mid")
    (inside / "nowhere.mid").symlink_to(inside / "gone.mid")
    (inside / "nowhere").symlink_to(inside / "gone")
    assert names(inside) == [
        "a-up/",
        "air.mid",
        "b/air.mid",
        "b/round/",
        "c-out/back/",
        "c-out/jig.mid",
        "d-again/",
        "itself.mid",
        "nowhere.mid",
    ]
    told = problems(inside)
    assert all("has been through" in told[name] for name in ("a-up/", "b/round/", "c-out/back/", "d-again/"))
    assert "too many levels of symbolic links" in told["itself.mid"]
    assert "no such file" in told["nowhere.mid"]


def test_pipes_and_sockets_are_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    os.mkfifo(tmp_path / "pipe.mid")
    monkeypatch.chdir(tmp_path)  # a socket's path must be short
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("socket.mid")
        told = problems(tmp_path)
    assert set(told) == {"pipe.mid", "socket.mid"}
    assert all("no plain file" in problem for problem in told.values())


def test_a_folder_that_may_not_be_read_is_told_and_left(open_folder: Path) -> None:
    (open_folder / "open").mkdir()
    (open_folder / "open" / "air.mid").write_bytes(b"")
    (open_folder / "shut").mkdir()
    shut(open_folder / "shut")
    with ordinary_user():
        assert problems(open_folder) == {"shut/": "the folder cannot be read: permission denied"}
        assert names(open_folder) == ["open/air.mid", "shut/"]


def test_names_may_be_anything_a_disk_holds(tmp_path: Path) -> None:
    made = [b"new\nline.mid", b"not \xff utf-8.mid", b"=cmd.mid", b"  .mid", b"-o.mid", "ж…🎵.mid".encode()]
    for name in made:
        Path(os.fsdecode(os.path.join(os.fsencode(tmp_path), name))).write_bytes(b"")  # noqa: PTH118  # bytes
    scores, _ = list_scores(tmp_path)
    assert sorted(os.fsencode(listed.name) for listed in scores) == sorted(made)
    assert not any(listed.problem for listed in scores)


def test_what_is_no_folder_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "air.mid"
    file.write_bytes(b"")
    with pytest.raises(UsageError, match="is not a folder"):
        list_scores(file)
    with pytest.raises(UsageError, match="no such file"):
        list_scores(tmp_path / "gone")
    with pytest.raises(UsageError, match="cannot be read"):
        list_scores(Path("nul\0l"))


def test_a_folder_without_scores_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no score file in this folder"):
        list_scores(tmp_path)
