"""The means by which checks of rights run: what is shut is shut, what is open is open, and root comes back."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ordinary_user import open_folder, ordinary_user, shut

__all__ = ["open_folder"]


def test_what_is_shut_cannot_be_read_and_what_is_open_can(open_folder: Path) -> None:
    (open_folder / "open").write_text("read me", encoding="utf-8")
    (open_folder / "shut").write_text("no", encoding="utf-8")
    shut(open_folder / "shut")
    before = os.geteuid(), os.getegid(), os.getgroups()
    with ordinary_user():
        assert os.geteuid() != 0
        assert (open_folder / "open").read_text(encoding="utf-8") == "read me"
        with pytest.raises(PermissionError):
            (open_folder / "shut").read_text(encoding="utf-8")
    assert (os.geteuid(), os.getegid(), os.getgroups()) == before
