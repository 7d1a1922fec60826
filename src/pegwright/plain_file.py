"""The bytes of a file that is one: opening a pipe can wait for ever, and a device may never end."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

NOT_PLAIN = "it is a pipe, socket or device, not a plain file"


def reason_of(fault: Exception) -> str:
    """Why a file cannot be read or written, as the system says it."""
    return getattr(fault, "strerror", None) or str(fault)


def plain_bytes(path: Path, limit_bytes: int) -> bytes:
    """The first bytes of a plain file; a link to one is followed.

    Args:
        path: the file.
        limit_bytes: the maximum that is read.

    Raises:
        OSError: it cannot be read, or is a folder, pipe, socket or device; `strerror` says which.
        ValueError: no system can hold such a path.
    """
    mode = os.stat(path).st_mode  # noqa: PTH116  # as for open, below
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, NOT_PLAIN, str(path))
    with path.open("rb") as file:
        return file.read(limit_bytes)
