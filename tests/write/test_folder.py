from __future__ import annotations

import errno
import hashlib
import os
import shutil
import stat
import subprocess
from pathlib import Path
from typing import Any

import pytest

from pegwright.errors import InternalError, UsageError
from pegwright.write.folder import check_file, check_folder, write_file, write_files, write_folder
from pegwright.write.record import RECORD, read_record

FILES = {"plate-1.csv": b"one", "plate-2.csv": b"two", "pin-map.json": b"{}\n"}


def contents(folder: Path) -> dict[str, bytes]:
    """Every file but the record, which has tests of its own."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != RECORD}


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


@pytest.mark.parametrize(("stands_in_it", "method", "count"), [(False, "rename", 2), (True, "replace", 4)])
@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_half_way_through_overwriting_puts_all_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stands_in_it: bool, method: str, count: int, error: BaseException
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    before = {"plate-1.csv": b"old one", "pin-map.json": b"old map", "notes.txt": b"mine"}
    for name, data in before.items():
        (out / name).write_bytes(data)
    if stands_in_it:
        monkeypatch.chdir(out)
    for after in range(count):
        with monkeypatch.context() as patched:
            failing(patched, method, after, error)
            with pytest.raises(UsageError if isinstance(error, OSError) else KeyboardInterrupt):
                write_folder(out, FILES, overwrite=True)
        assert contents(out) == before
        assert names(tmp_path) == ["out"]
    assert write_folder(out, FILES, overwrite=True) == ("notes.txt",), "no other call could fail half way"


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
    files = (path for path in folder.rglob("*") if path.is_file() and path != folder / RECORD)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def test_names_may_lead_through_folders(tmp_path: Path) -> None:
    assert write_folder(tmp_path / "show", NESTED, overwrite=False) == ()
    assert tree(tmp_path / "show") == NESTED
    assert names(tmp_path) == ["show"]


def test_the_folder_one_stands_in_is_filled_and_left_in_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    here = tmp_path.stat().st_ino
    write_folder(tmp_path, NESTED, overwrite=False)
    write_folder(tmp_path, {"plan.txt": b"new"}, overwrite=True)
    assert tmp_path.stat().st_ino == here
    assert tree(tmp_path) == {"plan.txt": b"new"}
    assert names(tmp_path) == ["pegwright.sha256", "plan.txt"]


def test_what_stays_in_folders_that_are_written_to_is_named(tmp_path: Path) -> None:
    show = tmp_path / "show"
    mine = {"swaps/09.txt": b"mine", "songs/09/pins.json": b"mine", "mine/a": b"", "note": b""}
    write_folder(show, NESTED | mine, False)
    (show / RECORD).unlink()  # as if another had put them there
    others = write_folder(show, NESTED | {"plan.txt": b"new"}, overwrite=True)
    assert others == ("mine", "note", "songs/09", "swaps/09.txt")
    assert tree(show) == NESTED | mine | {"plan.txt": b"new"}


def test_files_of_an_earlier_run_go_and_those_of_the_user_stay(tmp_path: Path) -> None:
    show = tmp_path / "show"
    write_folder(show, NESTED | {"sheets-a3.pdf": b"a3", "songs/07/pins.json": b"7", "songs/08/pins.json": b"8"})
    (show / "songs/08/pins.json").write_bytes(b"changed by hand")
    (show / "songs/02/cue.txt").write_bytes(b"mine")
    (show / "mine").mkdir()
    (show / "mine/link").symlink_to("nowhere")
    (show / "mine").chmod(0o550)
    assert write_folder(show, NESTED | {"sheets-a4.pdf": b"a4"}, overwrite=True) == (
        "mine",
        "songs/02/cue.txt",
        "songs/08",
    )
    changed = {"songs/08/pins.json": b"changed by hand", "songs/02/cue.txt": b"mine"}
    assert tree(show) == NESTED | changed | {"sheets-a4.pdf": b"a4"}
    assert (show / "mine/link").readlink() == Path("nowhere")
    assert stat.S_IMODE((show / "mine").stat().st_mode) == 0o550
    assert not (show / "songs/07").exists()
    assert names(tmp_path) == ["show"]


def test_a_users_file_is_the_same_file_afterwards(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", FILES)
    mine = tmp_path / "out" / "mine.txt"
    mine.write_bytes(b"mine")
    before = mine.stat()
    write_folder(tmp_path / "out", FILES, overwrite=True)
    assert (mine.stat().st_ino, mine.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="needs sha256sum, which reads such records")
def test_the_record_is_what_sha256sum_checks(tmp_path: Path) -> None:
    """Against GNU Coreutils, for names that it escapes as well."""
    files = NESTED | {"back\\slash": b"1", "new\nline": b"2", "back\\new\n": b"3", "Für 港": b"4"}
    write_folder(tmp_path / "show", files)
    listed = read_record(tmp_path / "show" / RECORD)
    assert set(listed) == set(files)
    command = ["sha256sum", "--check", "--strict", "--quiet", RECORD]
    assert subprocess.run(command, cwd=tmp_path / "show", check=False).returncode == 0
    (tmp_path / "show/new\nline").write_bytes(b"changed")
    assert subprocess.run(command, cwd=tmp_path / "show", check=False, capture_output=True).returncode == 1
    write_folder(tmp_path / "again", files)
    assert (tmp_path / "again" / RECORD).read_bytes() == (tmp_path / "show" / RECORD).read_bytes()


@pytest.mark.parametrize("name", ["../mine", "/etc/passwd", "in/../../mine", "", "link/mine"])
def test_a_record_cannot_name_files_of_another_folder(tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    write_folder(out, FILES)
    (tmp_path / "mine").write_bytes(b"mine")
    (out / "link").symlink_to(tmp_path)
    digest = hashlib.sha256(b"mine").hexdigest()
    (out / RECORD).write_text(f"{digest}  {name}\n", encoding="utf-8")
    assert set(write_folder(out, FILES, overwrite=True)) == {"link"}
    assert (tmp_path / "mine").read_bytes() == b"mine"


def test_nothing_is_written_through_a_link_in_the_folder(tmp_path: Path) -> None:
    elsewhere, out = tmp_path / "elsewhere", tmp_path / "out"
    elsewhere.mkdir()
    out.mkdir()
    (out / "swaps").symlink_to(elsewhere)
    with pytest.raises(UsageError, match="swaps is a link, and nothing is written through one"):
        write_folder(out, NESTED, overwrite=True)
    assert names(elsewhere) == []
    assert names(out) == ["swaps"]


def test_the_folder_itself_may_be_a_link(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "out").symlink_to("real")
    write_folder(tmp_path / "out", FILES)
    write_folder(tmp_path / "out", FILES, overwrite=True)
    assert (tmp_path / "out").is_symlink()
    assert contents(tmp_path / "real") == FILES
    assert names(tmp_path) == ["out", "real"]


def test_two_files_of_one_name_are_our_error_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(InternalError, match=r"two files would be written as Air\.txt"):
        write_folder(tmp_path / "out", {"air.txt": b"1", "Air.txt": b"2"})
    assert names(tmp_path) == []


def test_a_file_where_a_folder_should_go_is_refused(tmp_path: Path) -> None:
    (tmp_path / "swaps").write_bytes(b"mine")
    with pytest.raises(UsageError, match="swaps exists and is not a folder"):
        write_folder(tmp_path, NESTED, overwrite=True)
    assert tree(tmp_path) == {"swaps": b"mine"}


def test_several_files_are_written_among_others_all_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pair = {"air.wav": b"sound", "air.mid": b"notes"}
    before = {"air.wav": b"old", "other": b"mine"}
    for name, data in before.items():
        (tmp_path / name).write_bytes(data)
    with pytest.raises(UsageError, match="the file exists"):
        write_files(tmp_path, pair, overwrite=False)
    for after in (0, 1):
        with monkeypatch.context() as patched:
            failing(patched, "replace", after, OSError(errno.EIO, "broken"))
            with pytest.raises(UsageError):
                write_files(tmp_path, pair, overwrite=True)
        assert contents(tmp_path) == before
    write_files(tmp_path, pair, overwrite=True)
    assert contents(tmp_path) == pair | {"other": b"mine"}
    assert RECORD not in names(tmp_path)


def test_a_failure_half_way_leaves_no_new_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write_folder(tmp_path, {"plan.txt": b"old", "songs/01/pins.json": b"old"}, overwrite=True)
    before = sorted(tmp_path.rglob("*"))
    for after in range(5):
        with monkeypatch.context() as patched:
            failing(patched, "replace", after, OSError(errno.EIO, "broken"))
            with pytest.raises(UsageError):
                write_folder(tmp_path, NESTED, overwrite=True)
        assert tree(tmp_path) == {"plan.txt": b"old", "songs/01/pins.json": b"old"}
        assert sorted(tmp_path.rglob("*")) == before
