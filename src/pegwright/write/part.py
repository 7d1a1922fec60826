"""The folder in which a run keeps unfinished files, and what becomes of one whose run was stopped.

It is beside the folder or file to be written and appears by one name for each, `.pegwright-….part`, so that two runs
never write to one place. In it are

    new/     what is to be written, complete before anything else happens
    old/     the earlier folder under its own name, set aside until the new one is in its place
    kept/    where the folder itself cannot be moved: the earlier files, which are replaced one by one
    written  names and hashes of the files that replace them; it is there only while they do

Whatever moment a run is stopped at, `restore` makes of these the earlier state or the new one, never a mixture.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath

from pegwright.errors import UsageError
from pegwright.write.record import is_unchanged, leads_through_link, read_record

NEW, OLD, KEPT, WRITTEN = "new", "old", "kept", "written"
_NAME = re.compile(r"\.pegwright-[0-9a-f]{16}\.part")
_REMOVED = "unfinished files of a run that was stopped were removed"
_BACK = "a run was stopped while it replaced {}; the earlier files are in place again"
_COMPLETE = "a run was stopped when {} was complete; the earlier files that it replaced were removed"
_TWO = "a run was stopped while it replaced {0}, and there is another {0} now; the earlier files are in {1}"


@contextmanager
def opened_part(parent: Path, name: str) -> Iterator[Path]:
    """A folder for unfinished files, which is gone when the block ends.

    Args:
        parent: where it is: on the disk of what is to be written.
        name: of what is to be written, or empty for files of the parent itself.

    Raises:
        UsageError: another run writes there.
    """
    part = parent / f".pegwright-{hashlib.sha256(os.fsencode(name)).hexdigest()[:16]}.part"
    outcome = settle(part) if os.path.lexists(part) else ""
    if os.path.lexists(part):
        hint = "move one of them" if outcome else "wait until it has finished, or choose another name"
        raise UsageError(outcome or "another run of pegwright writes here", where=str(parent / name), hint=hint)
    part.mkdir()
    with _locked(part):
        try:
            yield part
        finally:
            with suppress(OSError):  # what is left then is put right by the next command that comes by
                restore(part)


def settle_stopped(folder: Path) -> tuple[str, ...]:
    """Put right what runs that were stopped left in a folder; a sentence on each."""
    with suppress(OSError, ValueError):
        with os.scandir(folder) as entries:
            parts = sorted(entry.name for entry in entries if _NAME.fullmatch(entry.name))
        return tuple(f"{folder / name}: {outcome}" for name in parts if (outcome := _settled(folder / name)))
    return ()


def settle(part: Path) -> str:
    """Put right what a run that was stopped left; what was done, or nothing where the run still writes."""
    if part.is_symlink() or not part.is_dir():
        return "this is not a folder, and was left"
    with _locked(part) as free:
        return restore(part) if free else ""


def restore(part: Path) -> str:
    """Undo what is unfinished, and remove the folder; what was done in words."""
    parent, outcome = part.parent, _REMOVED
    for old in sorted(_listed(part / OLD)):
        target = parent / old.name
        if not os.path.lexists(target):
            old.rename(target)
            outcome = _BACK.format(target.name)
        elif (part / NEW).exists():
            return _TWO.format(target.name, old)
        else:
            outcome = _COMPLETE.format(target.name)
    if (part / WRITTEN).exists():
        put_back(part, parent, read_record(part / WRITTEN))
        outcome = _BACK.format("files")
    _remove(part)
    return outcome


def put_back(part: Path, folder: Path, digests: Mapping[str, str]) -> None:
    """Give a folder its earlier files again.

    A file is taken out of it only where its bytes are those that were written, so that nothing of the user's is lost.

    Args:
        part: with `kept`.
        folder: into which files were being moved.
        digests: of those files: name -> SHA-256.
    """
    kept = [path.relative_to(part / KEPT).as_posix() for path in _files(part / KEPT)]
    for name, digest in digests.items():
        if name not in kept and is_unchanged(folder, name, digest):
            (folder / name).unlink()
    for name in kept:
        if leads_through_link(folder, name):
            continue
        if not os.path.lexists(folder / name) or is_unchanged(folder, name, digests.get(name, "")):
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (part / KEPT / name).replace(folder / name)
    remove_empty(folder, digests)
    (part / WRITTEN).unlink()


def remove_empty(folder: Path, names: Mapping[str, str]) -> None:
    """Remove the folders in the names of files, the innermost first, where nothing is in them."""
    parents = {parent for name in names for parent in list(PurePosixPath(name).parents)[:-1]}
    for parent in sorted(parents, key=lambda path: len(path.parts), reverse=True):
        with suppress(OSError):  # it holds something, or is not there
            (folder / parent).rmdir()


def sync_folder(folder: Path) -> None:
    """Have the disk keep the names in a folder, where the system can do that for a folder."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _settled(part: Path) -> str:
    try:
        return settle(part)
    except OSError as fault:
        return f"files of a run that was stopped cannot be removed: {(fault.strerror or str(fault)).lower()}"


@contextmanager
def _locked(part: Path) -> Iterator[bool]:
    """Whether no other process has the folder, which none can have within the block, where the system has locks."""
    try:
        import fcntl  # noqa: PLC0415  # not on every system
    except ImportError:
        yield True
        return
    handle = os.open(part, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            if fault.errno in {errno.EWOULDBLOCK, errno.EACCES}:
                yield False
                return
        yield True
    finally:
        os.close(handle)


def _listed(folder: Path) -> list[Path]:
    return list(folder.iterdir()) if folder.is_dir() and not folder.is_symlink() else []


def _files(folder: Path) -> Iterator[Path]:
    """Every file in a folder and the folders in it; a link is a file."""
    for root, folders, names in os.walk(folder):
        yield from (Path(root, name) for name in [*names, *(one for one in folders if Path(root, one).is_symlink())])


def _remove(part: Path) -> None:
    """Remove a folder of ours with all that is in it, folders that may not be written to as well."""
    import shutil  # noqa: PLC0415  # loads what packs archives, and is needed where something is left of a stopped run

    for root, _, _ in os.walk(part):
        with suppress(OSError):
            Path(root).chmod(0o700)
    shutil.rmtree(part)
