"""The score files of a folder and all folders in it."""

from __future__ import annotations

import os
import stat
from collections import deque
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from pegwright.errors import InputError, UsageError
from pegwright.formats import SCORE_SUFFIXES
from pegwright.frozen import frozen
from pegwright.units import listed as listed_words
from pegwright.units import plural


@frozen()
class Listed:
    """One path that a survey reports.

    Args:
        name: relative to the folder, parts joined by `/`; a folder's ends in one.
        path: where it is.
        size, mtime_ns: of the file, by which a change is detected; 0 where there is a problem.
        problem: why it cannot be judged, or empty.
    """

    name: str
    path: Path
    size: int = 0
    mtime_ns: int = 0
    problem: str = ""


def list_scores(folder: Path) -> tuple[tuple[Listed, ...], int]:
    """Find every file with the suffix of a score, in upper or lower case.

    Links are followed. A folder that was seen already is reported and not entered again, so that no loop of links is
    endless; folders reached without a link come first, so which path is taken does not depend on chance.

    Returns:
        Files to judge and paths that cannot be, by name; how many files have another suffix.

    Raises:
        UsageError: the path is no folder, or cannot be read.
        InputError: it holds no score.
    """
    try:
        if not stat.S_ISDIR(folder.stat().st_mode):
            raise UsageError("is not a folder", where=str(folder), hint="for one song, use `pegwright fit`")
        with os.scandir(folder):
            pass
    except (OSError, ValueError) as fault:
        raise UsageError(f"the folder cannot be read: {_reason(fault)}", where=str(folder)) from fault
    listed = list(_walk(folder))
    scores = sorted((one for one in listed if one), key=lambda score: score.name)
    others = listed.count(None)
    if not scores:
        skipped = f", {plural(others, 'file')} of other kinds skipped" if others else ""
        message = f"no score file in this folder nor in the folders in it{skipped}"
        hint = f"files that end in {listed_words(SCORE_SUFFIXES)} are read as scores"
        raise InputError(message, where=str(folder), hint=hint)
    return tuple(scores), others


def _walk(top: Path) -> Iterator[Listed | None]:
    """Every file in a folder and the folders in it, None for one with another suffix; and what cannot be entered."""
    entered: set[tuple[int, int]] = set()
    waiting = deque([(top, "", False)])  # folders to enter, those that links lead to at the end
    while waiting:
        path, name, linked = waiting.popleft()
        try:
            status = path.stat()
            if linked and (status.st_dev, status.st_ino) in entered:
                yield Listed(f"{name}/", path, problem="a link to a folder that the survey has been through")
                continue
            entered.add((status.st_dev, status.st_ino))
            entries = sorted(os.scandir(path), key=lambda entry: entry.name)
        except OSError as fault:
            yield Listed(f"{name}/", path, problem=f"the folder cannot be read: {_reason(fault)}")
            continue
        for entry in entries:
            inside = f"{name}/{entry.name}" if name else entry.name
            if entry.is_dir(follow_symlinks=False):
                waiting.appendleft((Path(entry), inside, False))
            elif _leads_to_folder(entry):
                waiting.append((Path(entry), inside, True))
            else:
                yield _listed(Path(entry), inside)


def _listed(path: Path, name: str) -> Listed | None:
    if path.suffix.lower() not in SCORE_SUFFIXES:
        return None
    try:
        status = path.stat()
    except OSError as fault:
        return Listed(name, path, problem=f"the file cannot be read: {_reason(fault)}")
    if not stat.S_ISREG(status.st_mode):  # opening a pipe would block
        return Listed(name, path, problem="this is no plain file but a pipe, socket or device")
    return Listed(name, path, status.st_size, status.st_mtime_ns)


def _leads_to_folder(entry: os.DirEntry[str]) -> bool:
    with suppress(OSError):  # a link that leads to itself
        return entry.is_dir()
    return False


def _reason(fault: OSError | ValueError) -> str:
    return (getattr(fault, "strerror", None) or str(fault)).lower()
