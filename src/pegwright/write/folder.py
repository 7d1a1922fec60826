"""Writing files so that a folder holds all of them or none, and nothing of the user's is lost."""

from __future__ import annotations

import errno
import os
import shutil
import stat
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath

from pegwright.errors import UsageError
from pegwright.write.names import check_distinct
from pegwright.write.part import KEPT, NEW, OLD, WRITTEN, opened_part, remove_empty, settle_stopped, sync_folder
from pegwright.write.record import RECORD, digests_of, is_unchanged, read_record, record_bytes

OVERWRITE_HINT = "choose another name, or add --overwrite to replace what pegwright wrote there"

_HINTS = {
    **dict.fromkeys((errno.ENOSPC, errno.EDQUOT), "free some space, or write to another disk"),
    **dict.fromkeys((errno.EACCES, errno.EPERM, errno.EROFS), "choose a folder you may write to"),
    errno.ENAMETOOLONG: "choose a shorter name",
}


def write_folder(target: Path | str, files: Mapping[str, bytes], overwrite: bool = False) -> tuple[str, ...]:
    """Write files into a folder, all or none, with a record of them (`pegwright.sha256`).

    The folder appears with all its files at once. Into a folder that holds something already nothing is written
    unless `overwrite`; then a new folder takes its place, in which are the files given and everything of the
    earlier one but the files that pegwright wrote there and nobody has changed since. A folder that cannot be moved
    (the current one, the root of a disk) is filled file by file, and emptied again if that fails.

    Args:
        target: the folder; its parent must exist.
        files: file name -> contents; a name may contain folders, as in `swaps/02.txt`.
        overwrite: whether files of an earlier run, and others of the same names, may be replaced.

    Returns:
        names of the other things in the folder, which stay there, sorted; within folders that files are written
        to, each by itself.

    Raises:
        UsageError: the folder exists and may not be overwritten, or cannot be written.
        InternalError: two files have one name.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     others = write_folder(f"{folder}/pins", {"report.txt": b"All 3 notes are in."})
    ...     print(others, (Path(folder) / "pins" / "report.txt").read_text())
    () All 3 notes are in.
    """
    target = Path(target)
    check_distinct(files)
    check_folder(target, overwrite)
    with _as_usage_error(target) as typed:
        folder = typed.resolve()  # the folder may be a link, but nothing in it is written through one
        whole = {**files, RECORD: record_bytes(digests_of(files))}
        _check_replaceable(folder, whole, target)
        gone = _no_longer_written(folder, whole)
        others = tuple(sorted(set(_entries(folder, {*whole, *gone})) - {*whole, *gone}))
        if _can_be_moved(folder):
            _write_whole(folder, whole, others)
        else:
            _write_into(folder, whole, gone)
        return others


def write_files(folder: Path, files: Mapping[str, bytes], overwrite: bool) -> None:
    """Write several files into a folder that may hold other things, all or none, without a record of them.

    Args:
        folder: the folder; its parent must exist.
        files: file name -> contents.
        overwrite: whether files may be replaced.

    Raises:
        UsageError: a file exists and may not be overwritten, or cannot be written.
    """
    with _as_usage_error(folder) as typed:
        _check_parent(typed, folder)
        if not typed.exists():
            _write_whole(typed.resolve(), files, ())
            return
    for name in files:
        check_file(folder / name, overwrite)
    with _as_usage_error(folder) as typed:
        _write_into(typed.resolve(), files, ())


def write_file(path: Path, data: bytes, overwrite: bool) -> None:
    """Write one file, whole or not at all.

    Args:
        path: the file; its folder must exist.
        data: its contents.
        overwrite: whether the file may be replaced.

    Raises:
        UsageError: the file exists and may not be overwritten, or cannot be written.
    """
    check_file(path, overwrite)
    with _as_usage_error(path) as file, opened_part(file.parent, file.name) as part:
        (_write_all(part, {file.name: data}) / file.name).replace(file)
        sync_folder(file.parent)


def check_folder(target: Path, overwrite: bool) -> None:
    """Refuse before any work a folder that `write_folder` would refuse after it.

    What a run that was stopped left beside it or in it is put right first.

    Raises:
        UsageError: it exists and may not be overwritten, or it cannot be one.
    """
    with _as_usage_error(target) as typed:
        _check_parent(typed, target)
        folder = typed.resolve()
        for place in (folder.parent, folder):
            settle_stopped(place)
        if not folder.exists():
            return
        if not folder.is_dir():
            raise UsageError("is a file, not a folder", where=str(target), hint="choose another name")
        names = sorted(entry.name for entry in folder.iterdir())
        if names and not overwrite:
            some = names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
            raise UsageError(f"the folder exists and is not empty ({some})", where=str(target), hint=OVERWRITE_HINT)
        if not os.access(folder, os.W_OK | os.X_OK, effective_ids=os.access in os.supports_effective_ids):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))


def check_file(path: Path, overwrite: bool) -> None:
    """Refuse before any work a file that `write_file` would refuse after it.

    Raises:
        UsageError: it exists and may not be overwritten, or it cannot be one.
    """
    with _as_usage_error(path) as file:
        _check_parent(file, path)
        if file.is_dir():
            raise UsageError("is a folder, not a file", where=str(path), hint="name a file in it")
        if os.path.lexists(file) and not overwrite:
            raise UsageError("the file exists", where=str(path), hint=OVERWRITE_HINT)
        _check_replaceable(file.parent, [file.name], path)


@contextmanager
def _as_usage_error(target: Path) -> Iterator[Path]:
    """The absolute path; any failure of the file system is raised as a `UsageError`."""
    try:
        yield target.absolute()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        hint = _HINTS.get(error.errno or 0, "nothing was changed; choose another place")
        raise UsageError(f"cannot be written: {reason}", where=str(target), hint=hint) from error
    except ValueError as error:  # a path with a NUL in it
        raise UsageError(f"cannot be written: {error}", where=repr(str(target)), hint="choose another name") from error


def _check_parent(path: Path, typed: Path) -> None:
    if "\0" in str(path):  # Python 3.13 and later refuse it only when the folder is renamed, after all the work
        raise ValueError("embedded null byte")
    if path.parent.is_dir():
        return
    if path.parent.exists():
        raise UsageError(f"{path.parent} is a file, not a folder", where=str(typed), hint="choose another place")
    raise UsageError(f"the folder {path.parent} does not exist", where=str(typed), hint="make it first")


def _check_replaceable(folder: Path, names: Iterable[str], typed: Path) -> None:
    hint = "choose another name"
    for name in names:
        for parent in list(PurePosixPath(name).parents)[:-1]:
            if (folder / parent).is_symlink():
                raise UsageError(f"{parent} is a link, and nothing is written through one", where=str(typed), hint=hint)
            if os.path.lexists(folder / parent) and not (folder / parent).is_dir():
                raise UsageError(f"{parent} exists and is not a folder", where=str(typed), hint=hint)
        if os.path.lexists(folder / name) and not (folder / name).is_file():
            raise UsageError(f"{name} exists and is not a plain file", where=str(typed), hint=hint)


def _no_longer_written(folder: Path, names: Collection[str]) -> tuple[str, ...]:
    """Names of files that an earlier run wrote, that nobody has changed since, and that this run does not write."""
    record = read_record(folder / RECORD).items()
    return tuple(name for name, digest in record if name not in names and is_unchanged(folder, name, digest))


def _entries(folder: Path, names: Iterable[str]) -> Iterator[str]:
    """Names of what is in a folder, relative to it; a folder that files go into is opened, any other is one name."""
    if not folder.exists():
        return
    ours = {parent.as_posix() for name in names for parent in PurePosixPath(name).parents}
    waiting = [folder]
    while waiting:
        for entry in waiting.pop().iterdir():
            name = entry.relative_to(folder).as_posix()
            if name in ours and entry.is_dir() and not entry.is_symlink():
                waiting.append(entry)
            else:
                yield name


def _can_be_moved(folder: Path) -> bool:
    """Whether a folder can be replaced by renaming, which leaves no one who works in it in a folder that is gone."""
    with suppress(OSError):
        here = Path.cwd()
        if folder == here or folder in here.parents:
            return False
    beside = os.access(folder.parent, os.W_OK | os.X_OK, effective_ids=os.access in os.supports_effective_ids)
    return not folder.exists() or (beside and not folder.is_mount())


def _write_whole(folder: Path, files: Mapping[str, bytes], others: Iterable[str]) -> None:
    """Put a new folder in the place of one, with the files given and other things of the earlier one."""
    with opened_part(folder.parent, folder.name) as part:
        new = _write_all(part, files)
        if folder.exists():
            for name in others:
                _carry(folder / name, new / name, folder.stat().st_dev)
            shutil.copymode(folder, new)
            (part / OLD).mkdir()
            folder.rename(part / OLD / folder.name)
        new.rename(folder)
        sync_folder(folder.parent)


def _write_into(folder: Path, files: Mapping[str, bytes], gone: Iterable[str]) -> None:
    """Replace files one after another, and take out those that are no longer written; if one fails, restore all."""
    with opened_part(folder, "") as part:
        new, digests = _write_all(part, files), digests_of(files)
        for name in [*files, *gone]:
            if os.path.lexists(folder / name):
                _carry(folder / name, part / KEPT / name, folder.stat().st_dev)
        _write_all(part, {WRITTEN: record_bytes(digests)}, "begun")
        (part / "begun" / WRITTEN).rename(part / WRITTEN)
        for name in files:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (new / name).replace(folder / name)
        for name in gone:
            (folder / name).unlink()
        remove_empty(folder, dict.fromkeys(gone, ""))
        sync_folder(folder)
        (part / WRITTEN).unlink()


def _write_all(part: Path, files: Mapping[str, bytes], inside: str = NEW) -> Path:
    new = part / inside
    new.mkdir()
    for name, data in files.items():
        (new / name).parent.mkdir(parents=True, exist_ok=True)
        with (new / name).open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())  # before the rename, or a power cut could leave an empty file under the name
    return new


def _carry(source: Path, place: Path, device: int) -> None:
    """Let a file, link or folder of the user be in another folder too, without a copy of its bytes where possible."""
    status = source.lstat()
    place.parent.mkdir(parents=True, exist_ok=True)
    if status.st_dev != device:
        raise OSError(errno.EXDEV, f"{source.name} in it is another disk")
    if stat.S_ISDIR(status.st_mode):
        place.mkdir()
        for entry in source.iterdir():
            _carry(entry, place / entry.name, device)
        shutil.copystat(source, place)
    elif stat.S_ISLNK(status.st_mode):
        place.symlink_to(source.readlink())
    else:
        try:
            os.link(source, place, follow_symlinks=False)
        except OSError:
            if not stat.S_ISREG(status.st_mode):
                raise
            shutil.copy2(source, place)
