"""The journal of a survey: every verdict as it is reached, so that a survey that was stopped continues there.

A text file, one JSON document a line: the first says what is being surveyed, every other one is the verdict on one
file, known by its path, size and time of change. A truncated line is ignored, and its file judged again.
Only verdicts are kept: what could not be judged is tried again.
"""

from __future__ import annotations

import errno
import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict
from io import RawIOBase
from pathlib import Path
from typing import Any

from pegwright import __version__
from pegwright.errors import InputError, InternalError, UsageError
from pegwright.frozen import frozen
from pegwright.note_count import REASONS, NoteCount
from pegwright.remedy.additions import addition_from
from pegwright.survey.files import Listed
from pegwright.verdict.values import Sounding, SurveyRow, Verdict
from pegwright.wheel import Wheel
from pegwright.write.part import settle_stopped

JOURNAL = "journal.jsonl"
NEW_JOURNAL = "journal.new"  # until it is complete; alone in the folder of a survey that was stopped before that
_HINT = "give --again to start over, or another folder with --out"
_WHOLE_NUMBERS = ("bars", "turns", "us_per_quarter", "transpose_semitones", "start_steps")
_Key = tuple[str, int, int]
_Facts = dict[tuple[_Key, str], Any]


def subject(wheel: Wheel, semitones: int, fold_octaves: bool = False) -> dict[str, Any]:
    """What verdicts of one journal have in common: the program's version, the wheel and what is tried.

    Args:
        wheel: of the survey.
        semitones: the farthest transposition tried, either way.
        fold_octaves: whether pitches without a channel are moved by octaves.
    """
    return {
        "format": "pegwright survey journal",
        "version": __version__,
        "wheel_sha256": wheel.sha256,
        "semitones": semitones,
        "fold-octaves": "yes" if fold_octaves else "no",
    }


class Journal:
    """Verdicts that are kept, and a file to write more to.

    Args:
        folder: where it is, for messages.
        kept: verdicts by the path, size and time of change of their files, and what else was computed of them.
        file: open for appending, without a buffer.
    """

    def __init__(self, folder: Path, kept: _Kept, file: RawIOBase) -> None:
        self._folder = folder
        self._kept = kept
        self._file = file

    def row(self, listed: Listed) -> SurveyRow | None:
        """The row of a file that was judged before and has not changed since."""
        verdict = self._kept.verdicts.get(_key(listed))
        return SurveyRow(listed.name, verdict) if verdict else None

    def keep(self, listed: Listed, row: SurveyRow) -> None:
        """Write a verdict down before anything else happens.

        Raises:
            UsageError: the disk does not take it.
        """
        if row.verdict:
            self._write(_entry(_key(listed), row.verdict))

    def fact(self, listed: Listed, kind: str) -> Any | None:  # noqa: ANN401  # JSON
        """What else was computed of a file that has not changed since; None where nothing of that kind was."""
        return self._kept.facts.get((_key(listed), kind))

    def keep_fact(self, listed: Listed, kind: str, fact: Any) -> None:  # noqa: ANN401  # JSON
        """Write something else down that was computed of a file.

        Args:
            listed: the file.
            kind: what it is.
            fact: as JSON, not None.

        Raises:
            UsageError: the disk does not take it.
        """
        self._write(_fact_entry(_key(listed), kind, fact))

    def _write(self, line: bytes) -> None:
        with _as_usage_error(self._folder):
            if self._file.write(line) != len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@frozen()
class _Kept:
    """What a journal has.

    Args:
        verdicts: by file.
        facts: by file and kind.
    """

    verdicts: dict[_Key, Verdict]
    facts: _Facts


@contextmanager
def open_journal(folder: Path, about: dict[str, Any], again: bool) -> Iterator[Journal]:
    """The journal in a folder, which is created if missing.

    Args:
        folder: where the survey is written.
        about: what is surveyed and how, see `subject`.
        again: whether verdicts that were kept are discarded.

    Raises:
        UsageError: the folder holds something else, or a survey of another wheel or with other settings, or another
            survey is writing to it.
    """
    path = folder / JOURNAL
    with _as_usage_error(folder):
        settle_stopped(folder.absolute().parent)
        _check_folder(folder, path)
        folder.mkdir(exist_ok=True)
    with _locked(folder):
        with _as_usage_error(folder):
            kept = _Kept({}, {}) if again or not path.exists() else _read(path, about)
            _write_whole(path, about, kept)
            file = path.open("ab", buffering=0)
        with file:
            yield Journal(folder, kept, file)


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """No other survey may write to the folder meanwhile; the system lets go of it however this one ends.

    Raises:
        UsageError: one does.
    """
    if sys.platform == "win32":  # which has no such locks
        yield
        return
    import fcntl  # noqa: PLC0415  # as above

    with _as_usage_error(folder):
        descriptor = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as fault:
            hint = "wait until it has ended, or choose another folder with --out"
            raise UsageError("another survey is writing to this folder", where=str(folder), hint=hint) from fault
        yield
    finally:
        os.close(descriptor)


@contextmanager
def _as_usage_error(folder: Path) -> Iterator[None]:
    """Raise any failure of the file system as a `UsageError`."""
    try:
        yield
    except (OSError, ValueError) as fault:
        reason = (getattr(fault, "strerror", None) or str(fault)).lower()
        hint = "free some space, or choose another folder"
        raise UsageError(f"the survey cannot be kept: {reason}", where=str(folder), hint=hint) from fault


def _check_folder(folder: Path, path: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise UsageError("is a file, not a folder", where=str(folder), hint="choose another name")
    if os.path.lexists(path) and not path.is_file():
        raise UsageError(f"{path.name} exists and is not a plain file", where=str(folder), hint="choose another name")
    if folder.exists() and not path.exists() and any(entry.name != NEW_JOURNAL for entry in folder.iterdir()):
        hint = "choose an empty folder or a new name"
        raise UsageError("the folder holds something that is no survey", where=str(folder), hint=hint)
    if not folder.absolute().parent.is_dir():
        raise UsageError(f"the folder {folder.parent} does not exist", where=str(folder), hint="make it first")


def _read(path: Path, wanted: dict[str, Any]) -> _Kept:
    kept = _Kept({}, {})
    with path.open(encoding="utf-8", errors="replace") as file:
        head = _document(next(file, ""))
        if head != wanted:
            known = dict.fromkeys(wanted, "nothing") | head
            name = next(name for name in wanted if known[name] != wanted[name])
            message = f"the folder holds another survey: its {name} is {known[name]}, now it is {wanted[name]}"
            raise UsageError(message, where=str(path.parent), hint=_HINT)
        for line in file:
            document = _document(line)
            with suppress(KeyError, TypeError, ValueError, InputError, InternalError):
                key = document["path"], document["size"], document["mtime_ns"]
                if "kind" in document:
                    kept.facts[key, document["kind"]] = document["fact"]
                else:
                    kept.verdicts[key] = _from_json(document["verdict"])
    return kept


def _document(line: str) -> dict[str, Any]:
    """The JSON object of a line; empty where it is damaged or cut off, which never leaves an object whole."""
    with suppress(ValueError, RecursionError):
        document = json.loads(line)
        if isinstance(document, dict):
            return document
    return {}


def _write_whole(path: Path, head: dict[str, Any], kept: _Kept) -> None:
    """Write the journal again without damaged lines, under another name first."""
    new = path.with_name(NEW_JOURNAL)
    new.unlink(missing_ok=True)  # of a run that was stopped; or a link, through which nothing is to be written
    with new.open("xb") as file:
        file.write(_line(head))
        file.writelines(_entry(key, verdict) for key, verdict in kept.verdicts.items())
        file.writelines(_fact_entry(*key, fact) for key, fact in kept.facts.items())
        file.flush()
        os.fsync(file.fileno())
    new.replace(path)


def _key(listed: Listed) -> _Key:
    return listed.name, listed.size, listed.mtime_ns


def _line(document: dict[str, Any]) -> bytes:
    return json.dumps(document).encode("ascii") + b"\n"  # escapes hold names that are no Unicode too


def _entry(key: _Key, verdict: Verdict) -> bytes:
    """The line of a verdict."""
    path, size, mtime_ns = key
    document = asdict(verdict) | {
        "as_is": _counts(verdict.as_is),
        "at_best": _counts(verdict.at_best),
        "lacks": [thing.code for thing in verdict.lacks],
        "lack_notes": list(verdict.lack_notes),
    }
    return _line({"path": path, "size": size, "mtime_ns": mtime_ns, "verdict": document})


def _fact_entry(key: _Key, kind: str, fact: Any) -> bytes:  # noqa: ANN401  # JSON
    """The line of something else that was computed of a file.

    Args:
        key: of the file.
        kind: what it is.
        fact: as JSON.
    """
    path, size, mtime_ns = key
    return _line({"path": path, "size": size, "mtime_ns": mtime_ns, "kind": kind, "fact": fact})


def _from_json(document: dict[str, Any]) -> Verdict:
    """The verdict that `_entry` wrote; any of several errors where it is none."""
    gap = document["weight_gap"]
    return Verdict(
        title=str(document["title"]),
        as_is=_sounding(*document["as_is"]),
        at_best=_sounding(*document["at_best"]),
        lacks=tuple(addition_from(code) for code in document["lacks"]),
        let_in=bool(document["let_in"]),
        weight_gap=None if gap is None else int(gap),
        by_hand=bool(document["by_hand"]),
        lack_notes=tuple(int(notes) for notes in document["lack_notes"]),
        **{name: int(document[name]) for name in _WHOLE_NUMBERS},
    )


def _counts(sounding: Sounding) -> list[Any]:
    """The numbers of a choice, notes left out with a number for each reason."""
    count = sounding.count
    left_out = [count.left_out_by_reason.get(reason, 0) for reason in REASONS]
    return [count.read, count.own_pin, count.shared_pin, left_out, sounding.moved, sounding.farthest_ms]


def _sounding(read: Any, own_pin: Any, shared_pin: Any, by_reason: Any, moved: Any, farthest_ms: Any) -> Sounding:  # noqa: ANN401  # out of JSON
    left_out = {reason: int(notes) for reason, notes in zip(REASONS, by_reason, strict=True) if notes}
    return Sounding(NoteCount(int(read), int(own_pin), int(shared_pin), left_out), int(moved), float(farthest_ms))
