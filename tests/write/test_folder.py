from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import Any

import pytest

from pegwright.errors import UsageError
from pegwright.write.folder import check_file, check_folder, write_file, write_folder

FILES = {"plate-1.csv": b"one", "plate-2.csv": b"two", "pin-map.json": b"{}\n"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def refused(target: Path, overwrite: bool = False) -> str:
    with pytest.raises(UsageError) as caught:
        write_folder(target, FILES, overwrite)
    assert caught.value.exit_code == 2
    assert caught.value.where == str(target)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def failing(monkeypatch: pytest.MonkeyPatch, name: str, after: int, error: BaseException) -> None:
    """Make a method of `Path` fail on its call number `after`, counted from 0."""
    real = getattr(Path, name)
    calls = iter(range(1000))

    def method(self: Path, *arguments: Any) -> Any:  # noqa: ANN401  # stands in for any method
        if next(calls) == after:
            raise error
        return real(self, *arguments)

    monkeypatch.setattr(Path, name, method)


def test_a_new_folder_holds_the_files_and_nothing_else(tmp_path: Path) -> None:
    assert write_folder(tmp_path / "out", FILES, overwrite=False) == ()
    assert contents(tmp_path / "out") == FILES
    assert names(tmp_path) == ["out"]


def test_folders_and_files_have_the_rights_of_any_other(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.mkdir()
    (plain / "file").write_bytes(b"")
    write_folder(tmp_path / "out", FILES, overwrite=False)
    assert stat.S_IMODE((tmp_path / "out").stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)
    assert stat.S_IMODE((tmp_path / "out/plate-1.csv").stat().st_mode) == stat.S_IMODE((plain / "file").stat().st_mode)


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    assert write_folder(tmp_path, FILES, overwrite=False) == ()
    assert contents(tmp_path) == FILES


def test_the_folder_one_stands_in_can_be_named_by_a_dot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write_folder(Path(), FILES, overwrite=False)
    assert contents(tmp_path) == FILES


def test_a_folder_with_something_in_it_is_left_alone_unless_told(tmp_path: Path) -> None:
    (tmp_path / "plate-1.csv").write_bytes(b"mine")
    (tmp_path / "notes.txt").write_bytes(b"mine too")
    told = refused(tmp_path)
    assert "is not empty (notes.txt and 1 more)" in told
    assert "--overwrite" in told
    assert contents(tmp_path) == {"plate-1.csv": b"mine", "notes.txt": b"mine too"}


def test_overwriting_replaces_files_of_the_same_name_and_keeps_the_others(tmp_path: Path) -> None:
    (tmp_path / "plate-1.csv").write_bytes(b"old")
    (tmp_path / "plate-7.csv").write_bytes(b"of a larger wheel")
    (tmp_path / "notes.txt").write_bytes(b"mine")
    assert write_folder(tmp_path, FILES, overwrite=True) == ("notes.txt", "plate-7.csv")
    assert contents(tmp_path) == {**FILES, "plate-7.csv": b"of a larger wheel", "notes.txt": b"mine"}


def test_a_link_to_a_file_is_replaced_and_what_it_led_to_is_not(tmp_path: Path) -> None:
    (tmp_path / "precious").write_bytes(b"precious")
    out = tmp_path / "out"
    out.mkdir()
    (out / "plate-1.csv").symlink_to(tmp_path / "precious")
    write_folder(out, FILES, overwrite=True)
    assert contents(out) == FILES
    assert (tmp_path / "precious").read_bytes() == b"precious"


def test_a_folder_where_a_file_should_go_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    (tmp_path / "plate-1.csv").write_bytes(b"old")
    (tmp_path / "plate-2.csv").mkdir()
    assert "plate-2.csv exists and is not a plain file" in refused(tmp_path, overwrite=True)
    assert (tmp_path / "plate-1.csv").read_bytes() == b"old"
    assert names(tmp_path) == ["plate-1.csv", "plate-2.csv"]


def test_paths_that_cannot_be_folders_are_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"x")
    assert "is a file, not a folder" in refused(tmp_path / "file", overwrite=True)
    assert "file is a file, not a folder" in refused(tmp_path / "file" / "out")
    assert "none does not exist (make it first)" in refused(tmp_path / "none" / "out")
    assert "name too long (choose a shorter name)" in refused(tmp_path / ("x" * 300))
    with pytest.raises(UsageError, match="null byte"):
        write_folder(tmp_path / "a\0b", FILES, overwrite=False)
    with pytest.raises(UsageError, match="null byte"):
        check_folder(tmp_path / "a\0b", overwrite=False)
    with pytest.raises(UsageError, match="null byte"):
        check_file(tmp_path / "a\0b", overwrite=False)
    assert names(tmp_path) == ["file"]


@pytest.mark.skipif(os.name != "posix", reason="needs a file system of the kernel's own")
def test_a_place_that_takes_no_folders_is_told_without_any_pretending() -> None:
    assert "cannot be written" in refused(Path("/proc/pegwright-out"))


@pytest.mark.parametrize(
    ("number", "hint"),
    [
        (errno.ENOSPC, "free some space"),
        (errno.EDQUOT, "free some space"),
        (errno.EACCES, "choose a folder you may write to"),
        (errno.EROFS, "choose a folder you may write to"),
        (errno.EIO, "nothing was changed"),
    ],
)
@pytest.mark.parametrize("method", ["mkdir", "open", "rename"])
def test_a_failure_on_the_way_to_a_new_folder_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, method: str, number: int, hint: str
) -> None:
    failing(monkeypatch, method, 0, OSError(number, os.strerror(number)))
    told = refused(tmp_path / "out")
    assert os.strerror(number).lower() in told
    assert hint in told
    assert names(tmp_path) == []


@pytest.mark.parametrize("after", [0, 1, 2])
@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_half_way_through_overwriting_puts_all_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: int, error: BaseException
) -> None:
    before = {"plate-1.csv": b"old one", "pin-map.json": b"old map", "notes.txt": b"mine"}
    for name, data in before.items():
        (tmp_path / name).write_bytes(data)
    failing(monkeypatch, "replace", after, error)
    with pytest.raises(UsageError if isinstance(error, OSError) else KeyboardInterrupt):
        write_folder(tmp_path, FILES, overwrite=True)
    assert contents(tmp_path) == before


def test_a_disk_that_fills_up_while_writing_leaves_the_old_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "plate-1.csv").write_bytes(b"old")

    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("pegwright.write.folder.os.fsync", full)
    assert "no space left on device (free some space" in refused(tmp_path, overwrite=True)
    assert contents(tmp_path) == {"plate-1.csv": b"old"}
    with pytest.raises(UsageError):
        write_file(tmp_path / "plate-1.csv", b"new", overwrite=True)
    assert contents(tmp_path) == {"plate-1.csv": b"old"}


def test_one_file_is_written_whole_and_replaced_only_when_told(tmp_path: Path) -> None:
    file = tmp_path / "report.json"
    write_file(file, b"first", overwrite=False)
    with pytest.raises(UsageError, match=r"report\.json: the file exists .*--overwrite"):
        write_file(file, b"second", overwrite=False)
    assert file.read_bytes() == b"first"
    write_file(file, b"second", overwrite=True)
    assert contents(tmp_path) == {"report.json": b"second"}


def test_a_device_or_folder_is_never_replaced_by_a_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path, told in ((tmp_path / "pipe", "exists and is not a plain file"), (tmp_path, "is a folder, not a file")):
        with pytest.raises(UsageError, match=told):
            write_file(path, b"data", overwrite=True)
    assert names(tmp_path) == ["pipe"]


def test_a_file_in_no_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="none does not exist"):
        write_file(tmp_path / "none" / "report.json", b"", overwrite=False)


NESTED = {"plan.txt": b"plan", "swaps/01.txt": b"one", "songs/01/pins.json": b"{}", "songs/02/pins.json": b"[]"}


def tree(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_names_may_lead_through_folders(tmp_path: Path) -> None:
    assert write_folder(tmp_path / "show", NESTED, overwrite=False) == ()
    assert tree(tmp_path / "show") == NESTED
    assert names(tmp_path) == ["show"]


def test_what_stays_in_folders_that_are_written_to_is_named(tmp_path: Path) -> None:
    show = tmp_path / "show"
    write_folder(
        show, NESTED | {"swaps/09.txt": b"old", "songs/09/pins.json": b"old", "mine/a": b"", "note": b""}, False
    )
    others = write_folder(show, NESTED | {"plan.txt": b"new"}, overwrite=True)
    assert others == ("mine", "note", "songs/09", "swaps/09.txt")
    assert (show / "plan.txt").read_bytes() == b"new"
    assert (show / "swaps/09.txt").read_bytes() == b"old"


def test_a_file_where_a_folder_should_go_is_refused(tmp_path: Path) -> None:
    (tmp_path / "swaps").write_bytes(b"mine")
    with pytest.raises(UsageError, match="swaps exists and is not a folder"):
        write_folder(tmp_path, NESTED, overwrite=True)
    assert tree(tmp_path) == {"swaps": b"mine"}


@pytest.mark.parametrize("after", range(4))
def test_a_failure_half_way_leaves_no_new_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: int) -> None:
    write_folder(tmp_path, {"plan.txt": b"old", "songs/01/pins.json": b"old"}, overwrite=True)
    before = sorted(tmp_path.rglob("*"))
    failing(monkeypatch, "replace", after, OSError(errno.EIO, "broken"))
    with pytest.raises(UsageError):
        write_folder(tmp_path, NESTED, overwrite=True)
    monkeypatch.undo()
    assert tree(tmp_path) == {"plan.txt": b"old", "songs/01/pins.json": b"old"}
    assert sorted(tmp_path.rglob("*")) == before
