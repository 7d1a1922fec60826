"""The score files of a folder and all folders in it."""

from __future__ import annotations

import os
import stat
from collections import deque
from dataclasses import dataclass
from pathlib import Path

from pegwright.errors import UsageError

SCORE_SUFFIXES = frozenset({".mid", ".midi", ".kar", ".rmi", ".xml", ".musicxml", ".mxl", ".abc", ".krn", ".mei"})


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
class Listing:
    """What a folder holds.

    Args:
        scores: files to judge and paths that cannot be, by name.
        passed_over: how many files have another suffix.
    """

    scores: tuple[Listed, ...]
    passed_over: int


def list_scores(folder: Path) -> Listing:
    """Find every file with the suffix of a score, in upper or lower case.

    Links are followed. A folder that was seen already is reported and not entered again, so that no loop of links is
    endless; folders reached without a link come first, so which path is taken does not depend on chance.

    Raises:
        UsageError: the path is no folder, or cannot be read.
    """
    try:
        if not stat.S_ISDIR(folder.stat().st_mode):
            raise UsageError("is not a folder", where=str(folder), hint="for one song, use `pegwright fit`")
        with os.scandir(folder):
            pass
    except (OSError, ValueError) as fault:
        raise UsageError(f"the folder cannot be read: {_reason(fault)}", where=str(folder)) from fault
    walk = _Walk()
    walk.enter(folder, "")
    while walk.links:
        walk.follow(*walk.links.popleft())
    return Listing(tuple(sorted(walk.listed, key=lambda listed: listed.name)), walk.passed_over)


class _Walk:
    """Goes through folders: first all that are reached without links, then those that links lead to."""

    def __init__(self) -> None:
        self.listed: list[Listed] = []
        self.passed_over = 0
        self.links: deque[tuple[Path, str]] = deque()
        self._seen: set[tuple[int, int]] = set()

    def follow(self, path: Path, name: str) -> None:
        """Enter a folder that a link leads to, unless it was seen."""
        status = path.stat()
        if (status.st_dev, status.st_ino) in self._seen:
            self.listed.append(Listed(f"{name}/", path, problem="a link to a folder that the survey has been through"))
        else:
            self.enter(path, name)

    def enter(self, folder: Path, name: str) -> None:
        """List a folder and the folders in it; links to folders are kept for later."""
        waiting = [(folder, name)]
        while waiting:
            path, name = waiting.pop()
            try:
                status = path.stat()
                self._seen.add((status.st_dev, status.st_ino))
                entries = sorted(os.scandir(path), key=lambda entry: entry.name)
            except OSError as fault:
                self.listed.append(Listed(f"{name}/", path, problem=f"the folder cannot be read: {_reason(fault)}"))
                continue
            for entry in entries:
                inside = f"{name}/{entry.name}" if name else entry.name
                if entry.is_dir(follow_symlinks=False):
                    waiting.append((Path(entry.path), inside))
                elif _leads_to_folder(entry):
                    self.links.append((Path(entry.path), inside))
                else:
                    self._file(Path(entry.path), inside)

    def _file(self, path: Path, name: str) -> None:
        if path.suffix.lower() not in SCORE_SUFFIXES:
            self.passed_over += 1
            return
        try:
            status = path.stat()
        except OSError as fault:
            self.listed.append(Listed(name, path, problem=f"the file cannot be read: {_reason(fault)}"))
            return
        if not stat.S_ISREG(status.st_mode):  # opening a pipe would block
            self.listed.append(Listed(name, path, problem="this is no plain file but a pipe, socket or device"))
            return
        self.listed.append(Listed(name, path, status.st_size, status.st_mtime_ns))


def _leads_to_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:  # a link that leads to itself
        return False


def _reason(fault: OSError | ValueError) -> str:
    return (getattr(fault, "strerror", None) or str(fault)).lower()
