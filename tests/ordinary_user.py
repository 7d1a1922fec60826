"""Checks of what may not be read or written, which root may all the same: they run as an ordinary user.

Where the tests run as root, the effective user becomes `nobody` for as long as a check takes. The folders that such a
check looks into must be open to that user, which pytest's own temporary ones are not.
"""

from __future__ import annotations

import os
import pwd
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def ordinary_user() -> Iterator[None]:
    """Within it, this process may do no more than any user may."""
    if os.geteuid() != 0:
        yield
        return
    nobody, groups, group = pwd.getpwnam("nobody"), os.getgroups(), os.getegid()
    os.setgroups([])
    os.setegid(nobody.pw_gid)
    os.seteuid(nobody.pw_uid)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setegid(group)
        os.setgroups(groups)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A temporary folder into which every user may look and write."""
    folder = Path(tempfile.mkdtemp(prefix="pegwright-"))
    folder.chmod(0o777)
    try:
        yield folder
    finally:
        for inside in folder.rglob("*"):
            if inside.is_dir():
                inside.chmod(0o700)
        shutil.rmtree(folder)


def shut(path: Path) -> Path:
    """Take every right to a file or folder away."""
    path.chmod(0)
    return path
