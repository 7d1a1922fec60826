"""A file as bytes, with a maximum size."""

from __future__ import annotations

from pathlib import Path

from pegwright.errors import InputError
from pegwright.plain_file import plain_bytes, reason_of


def bounded_bytes(path: Path, max_bytes: int, unread_hint: str, large_hint: str) -> bytes:
    """All bytes of a plain file.

    Args:
        path: the file.
        max_bytes: whole MiB.
        unread_hint: what to do where it cannot be read.
        large_hint: what to do where it is larger.

    Raises:
        InputError: it cannot be read, or is larger.
    """
    try:
        data = plain_bytes(path, max_bytes + 1)
    except (OSError, ValueError) as error:
        raise InputError(f"cannot be read: {reason_of(error).lower()}", where=str(path), hint=unread_hint) from error
    if len(data) > max_bytes:
        raise InputError(f"is larger than {max_bytes // 2**20} MiB", where=str(path), hint=large_hint)
    return data
