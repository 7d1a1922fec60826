"""A run that is killed at any change of the disk: whole or absent, and put right by the next that comes by."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from pegwright.errors import UsageError
from pegwright.write import part as parts
from pegwright.write.folder import check_folder, write_file, write_files, write_folder
from pegwright.write.part import settle_stopped
from pegwright.write.record import RECORD

OLD = {"plan.txt": b"old plan", "swaps/01.txt": b"old", "sheets-a3.pdf": b"a3"}
NEW = {"plan.txt": b"new plan", "swaps/01.txt": b"new", "songs/01/pins.json": b"{}", "sheets-a4.pdf": b"a4"}
MINE = {"notes.txt": b"mine", "mine/a.txt": b"mine"}
CHANGES = ("mkdir", "rename", "replace", "rmdir", "unlink", "link", "fsync", "rmtree")


class Killed(BaseException):
    """Stands for the end of the process, after which it does nothing more."""


def tree(folder: Path) -> dict[str, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file() and path != folder / RECORD)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def left(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob("*") if path.name.startswith(".pegwright-")]


def killed_at(number: int, work: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether a piece of work came as far as a change of the disk, counted from 0, and was killed before it."""
    calls = iter(range(1_000_000))

    def dies(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any, **named: Any) -> Any:  # noqa: ANN401  # stands in for any function
            if next(calls) >= number:
                raise Killed
            return real(*arguments, **named)

        return call

    with monkeypatch.context() as patched:
        for name in CHANGES:
            for holder in (Path, os, shutil):
                if holder in {Path, os} and hasattr(holder, name) and not (holder is os and hasattr(Path, name)):
                    patched.setattr(holder, name, dies(getattr(holder, name)))
        patched.setattr(shutil, "rmtree", dies(shutil.rmtree))
        try:
            work()
        except Killed:
            return True
    return False


def show_with_files_of_the_user(folder: Path) -> Path:
    show = folder / "show"
    write_folder(show, OLD)
    for name, data in MINE.items():
        (show / name).parent.mkdir(exist_ok=True)
        (show / name).write_bytes(data)
    return show


def stops(tmp_path: Path, work: Callable[[Path], object], monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder for each change at which the work can be killed, after that."""
    for number in range(1000):
        folder = tmp_path / str(number)
        folder.mkdir()
        if not killed_at(number, lambda folder=folder: work(folder), monkeypatch):  # type: ignore[misc]
            assert number > 5
            return
        yield folder


def test_a_new_folder_is_whole_or_absent(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for folder in stops(tmp_path, lambda folder: write_folder(folder / "show", NEW), monkeypatch):
        assert tree(folder / "show") in ({}, NEW)
        parts_left = left(folder)
        assert len(settle_stopped(folder)) == len(parts_left)
        assert left(folder) == []
        assert tree(folder / "show") in ({}, NEW)


def test_a_folder_that_is_replaced_is_the_old_or_the_new_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """At one moment it is aside; then it is put back. Files of the user are in it all the time."""
    aside, outcomes = 0, set()
    for number in range(1000):
        (tmp_path / str(number)).mkdir()
        show = show_with_files_of_the_user(tmp_path / str(number))
        if not killed_at(number, lambda show=show: write_folder(show, NEW, overwrite=True), monkeypatch):  # type: ignore[misc]
            break
        now = tree(show)
        aside += not show.exists()
        assert not show.exists() or now in (OLD | MINE, NEW | MINE)
        outcomes |= {outcome.partition(": ")[2] for outcome in settle_stopped(show.parent)}
        assert tree(show) == (now or OLD | MINE)
        assert left(tmp_path) == []
        assert write_folder(show, NEW, overwrite=True) == ("mine", "notes.txt")
        assert tree(show) == NEW | MINE
    assert aside == 1
    assert outcomes == {
        "unfinished files of a run that was stopped were removed",
        "a run was stopped while it replaced show; the earlier files are in place again",
        "a run was stopped when show was complete; the earlier files that it replaced were removed",
    }


def test_a_folder_filled_in_its_place_gets_its_earlier_files_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mixed = 0
    for number in range(1000):
        (tmp_path / str(number)).mkdir()
        show = show_with_files_of_the_user(tmp_path / str(number))
        monkeypatch.chdir(show)
        if not killed_at(number, lambda show=show: write_folder(show, NEW, overwrite=True), monkeypatch):  # type: ignore[misc]
            break
        seen = {name: data for name, data in tree(show).items() if not name.startswith(".pegwright-")}
        mixed += seen not in (OLD | MINE, NEW | MINE)
        check_folder(show, overwrite=True)
        assert tree(show) in (OLD | MINE, NEW | MINE)
        assert left(show) == []
    assert mixed >= 4, "files were replaced one by one"


def test_one_file_and_several_are_whole_or_absent(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pair = {"air.wav": b"sound", "air.mid": b"notes"}
    for folder in stops(tmp_path, lambda folder: write_files(folder, pair, overwrite=True), monkeypatch):
        settle_stopped(folder)
        assert tree(folder) in ({}, pair)
    (tmp_path / "one").mkdir()
    for folder in stops(tmp_path / "one", lambda folder: write_file(folder / "a", b"a", overwrite=True), monkeypatch):
        assert tree(folder).get("a", b"a") == b"a"
        settle_stopped(folder)
        assert tree(folder) in ({}, {"a": b"a"})


def test_a_run_that_still_writes_is_not_disturbed(tmp_path: Path) -> None:
    with parts.opened_part(tmp_path, "show") as part:
        (part / "new").mkdir()
        assert settle_stopped(tmp_path) == ()
        assert (part / "new").exists()
        with pytest.raises(UsageError, match=r"show: another run of pegwright writes here \(wait"):
            write_folder(tmp_path / "show", NEW)
    assert left(tmp_path) == []
    write_folder(tmp_path / "show", NEW)


def test_of_two_folders_of_one_name_none_is_removed(tmp_path: Path) -> None:
    """The earlier folder is aside, and since then the user has made another of its name."""
    write_folder(tmp_path / "show", OLD)
    part = tmp_path / f".pegwright-{hashlib.sha256(b'show').hexdigest()[:16]}.part"
    (part / "new").mkdir(parents=True)
    (part / "old").mkdir()
    (tmp_path / "show").rename(part / "old" / "show")
    (tmp_path / "show").mkdir()
    (tmp_path / "show" / "mine").write_bytes(b"mine")
    (outcome,) = settle_stopped(tmp_path)
    assert "there is another show now; the earlier files are in" in outcome
    with pytest.raises(UsageError, match="move one of them"):
        write_folder(tmp_path / "show", NEW, overwrite=True)
    assert tree(part / "old" / "show") == OLD
    assert tree(tmp_path / "show") == {"mine": b"mine"}


@pytest.mark.parametrize("name", ["../mine", "mine", "link/mine"])
def test_a_forged_folder_of_unfinished_files_harms_nothing(tmp_path: Path, name: str) -> None:
    """As it could lie among scores from the network: what it names was not written by us."""
    scores, elsewhere = tmp_path / "scores", tmp_path / "elsewhere"
    elsewhere.mkdir()
    part = scores / ".pegwright-0123456789abcdef.part"
    (part / "kept" / "link").mkdir(parents=True)
    (part / "kept" / "link" / "new").write_bytes(b"forged")
    (scores / "link").symlink_to(elsewhere)
    for place in (scores / "mine", tmp_path / "mine", elsewhere / "mine"):
        place.write_bytes(b"mine")
    (part / "written").write_text(f"{hashlib.sha256(b'other').hexdigest()}  {name}\n", encoding="utf-8")
    settle_stopped(scores)
    assert [place.read_bytes() for place in (scores / "mine", tmp_path / "mine", elsewhere / "mine")] == [b"mine"] * 3
    assert [path.name for path in elsewhere.iterdir()] == ["mine"]
    assert left(tmp_path) == []


def test_a_link_in_place_of_the_folder_is_left(tmp_path: Path) -> None:
    (tmp_path / "precious").mkdir()
    (tmp_path / "precious" / "a").write_bytes(b"a")
    (tmp_path / ".pegwright-0123456789abcdef.part").symlink_to(tmp_path / "precious")
    settle_stopped(tmp_path)
    assert tree(tmp_path / "precious") == {"a": b"a"}
