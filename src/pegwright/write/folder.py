"""Writing files so that a folder holds all of them or none, and nothing of the user's is lost."""

from __future__ import annotations

import errno
import os
import shutil
import uuid
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from pegwright.errors import UsageError
from pegwright.write.names import check_distinct

OVERWRITE_HINT = "choose another name, or add --overwrite to replace files of the same names"

_HINTS = {
    **dict.fromkeys((errno.ENOSPC, errno.EDQUOT), "free some space, or write to another disk"),
    **dict.fromkeys((errno.EACCES, errno.EPERM, errno.EROFS), "choose a folder you may write to"),
    errno.ENAMETOOLONG: "choose a shorter name",
}


def write_folder(target: Path | str, files: Mapping[str, bytes], overwrite: bool = False) -> tuple[str, ...]:
    """Write files into a folder, all or none.

    A new folder appears with all its files at once. Into a folder that holds something already
    nothing is written unless `overwrite`; then files of the same name are replaced, and restored
    if the writing fails part of the way. Other files are never touched.

    Args:
        target: the folder; its parent must exist.
        files: file name -> contents; a name may contain folders, as in `swaps/02.txt`.
        overwrite: whether files of the same name may be replaced.

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
    with _as_usage_error(target) as folder:
        if not folder.exists():
            with _temporary(folder.parent) as temporary:
                _write_all(temporary, files).rename(folder)
            return ()
        _check_replaceable(folder, files, target)
        others = tuple(sorted(set(_entries(folder, files)) - set(files)))
        with _temporary(folder) as temporary:
            _move_in(_write_all(temporary, files), _keep(temporary, folder, files), folder, files)
        return others


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
    with _as_usage_error(path) as file, _temporary(file.parent) as temporary:
        (_write_all(temporary, {file.name: data}) / file.name).replace(file)


def check_folder(target: Path, overwrite: bool) -> None:
    """Refuse before any work a folder that `write_folder` would refuse after it.

    Raises:
        UsageError: it exists and may not be overwritten, or it cannot be one.
    """
    with _as_usage_error(target) as folder:
        _check_parent(folder, target)
        if not folder.exists():
            return
        if not folder.is_dir():
            raise UsageError("is a file, not a folder", where=str(target), hint="choose another name")
        names = sorted(entry.name for entry in folder.iterdir())
        if names and not overwrite:
            some = names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
            raise UsageError(f"the folder exists and is not empty ({some})", where=str(target), hint=OVERWRITE_HINT)


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


def _entries(folder: Path, files: Iterable[str]) -> Iterator[str]:
    """Names of what is in a folder, relative to it; a folder that files go into is opened, any other is one name."""
    ours = {parent.as_posix() for name in files for parent in PurePosixPath(name).parents}
    waiting = [folder]
    while waiting:
        for entry in waiting.pop().iterdir():
            name = entry.relative_to(folder).as_posix()
            if name in ours and entry.is_dir() and not entry.is_symlink():
                waiting.append(entry)
            else:
                yield name


def _check_replaceable(folder: Path, names: Iterable[str], typed: Path) -> None:
    for name in names:
        for parent in list(PurePosixPath(name).parents)[:-1]:
            if os.path.lexists(folder / parent) and not (folder / parent).is_dir():
                raise UsageError(f"{parent} exists and is not a folder", where=str(typed), hint="choose another name")
        if os.path.lexists(folder / name) and not (folder / name).is_file():
            raise UsageError(f"{name} exists and is not a plain file", where=str(typed), hint="choose another name")


@contextmanager
def _temporary(parent: Path) -> Iterator[Path]:
    """A folder for unfinished files on the same disk as their target."""
    temporary = parent / f".pegwright-{uuid.uuid4().hex}.part"
    temporary.mkdir()
    try:
        yield temporary
    finally:
        shutil.rmtree(temporary, ignore_errors=True)


def _write_all(temporary: Path, files: Mapping[str, bytes]) -> Path:
    new = temporary / "new"
    new.mkdir()
    for name, data in files.items():
        (new / name).parent.mkdir(parents=True, exist_ok=True)
        with (new / name).open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())  # before the rename, or a power cut could leave an empty file under the name
    return new


def _keep(temporary: Path, folder: Path, names: Iterable[str]) -> Path:
    kept = temporary / "kept"
    kept.mkdir()
    for name in names:
        if os.path.lexists(folder / name):
            (kept / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(folder / name, kept / name, follow_symlinks=False)
    return kept


def _move_in(new: Path, kept: Path, folder: Path, names: Iterable[str]) -> None:
    """Replace files one after another; if one fails, restore everything."""
    new_folders: list[Path] = []
    try:
        for name in names:
            _make_parents(folder, name, new_folders)
            (new / name).replace(folder / name)
    except BaseException:
        for name in names:
            if os.path.lexists(kept / name):
                (kept / name).replace(folder / name)
            elif not os.path.lexists(new / name):
                (folder / name).unlink()
        for parent in reversed(new_folders):
            parent.rmdir()
        raise


def _make_parents(folder: Path, name: str, new_folders: list[Path]) -> None:
    """Make the folders in a name, and list those that are new."""
    for parent in reversed(list(PurePosixPath(name).parents)[:-1]):
        if not (folder / parent).is_dir():
            (folder / parent).mkdir()
            new_folders.append(folder / parent)
