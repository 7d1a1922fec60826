"""The record of what was written to a folder, so that a later run knows its own files from those of the user.

A line for each file, its SHA-256 and its name, in the form that `sha256sum --check` reads. A file is ours as long as
it is listed and its bytes have that hash: one that the user has changed is the user's.

Source: GNU Coreutils manual, "cksum output modes" (hash, two spaces, name; backslash and line feed escaped).
"""

from __future__ import annotations

import hashlib
import re
import stat
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

RECORD = "pegwright.sha256"
MAX_RECORD_BYTES = 2**24
_ESCAPE = re.compile(r"\\([\\n])")
_LINE = re.compile(r"\\?([0-9a-f]{64})  (.+)")


def record_bytes(digests: Mapping[str, str]) -> bytes:
    """The record of files: name -> SHA-256 as hex digits."""
    return "".join(_line(name, digests[name]) for name in sorted(digests)).encode("utf-8", "surrogateescape")


def digests_of(files: Mapping[str, bytes]) -> dict[str, str]:
    """The SHA-256 of each of some files: name -> hex digits."""
    return {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}


def read_record(path: Path) -> dict[str, str]:
    """What a record lists: name -> SHA-256; nothing where there is none or it is not ours.

    Names that lead out of the folder are ignored.
    """
    if not is_plain_file(path) or path.stat().st_size > MAX_RECORD_BYTES:
        return {}
    listed = {}
    for line in path.read_bytes().decode("utf-8", "surrogateescape").split("\n"):
        match = _LINE.fullmatch(line)
        name = match[2] if match else ""
        if line.startswith("\\"):
            name = _ESCAPE.sub(lambda escape: "\n" if escape[1] == "n" else "\\", name)
        if match and is_inside(name):
            listed[name] = match[1]
    return listed


def is_unchanged(folder: Path, name: str, digest: str) -> bool:
    """Whether a file in a folder, reached through no link, has the bytes that were written.

    Args:
        folder: the folder.
        name: of the file in it.
        digest: SHA-256 of what was written, as hex digits.
    """
    if leads_through_link(folder, name) or not is_plain_file(folder / name):
        return False
    with (folder / name).open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest() == digest


def leads_through_link(folder: Path, name: str) -> bool:
    """Whether one of the folders in a name is a link, which may lead out of the folder."""
    return any((folder / parent).is_symlink() for parent in list(PurePosixPath(name).parents)[:-1])


def is_inside(name: str) -> bool:
    """Whether a name leads to a place in the folder that it is taken in."""
    path = PurePosixPath(name)
    return bool(path.parts) and not path.is_absolute() and ".." not in path.parts and "\0" not in name


def is_plain_file(path: Path) -> bool:
    """Whether there is a plain file, which is no link, at a path."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except OSError:
        return False


def _line(name: str, digest: str) -> str:
    escaped = name.replace("\\", "\\\\").replace("\n", "\\n")
    return ("\\" if escaped != name else "") + f"{digest}  {escaped}\n"
