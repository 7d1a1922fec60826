"""The library is loaded once for all of these tests; that it runs in a process of its own is tested by itself."""

from __future__ import annotations

import pytest

from notations import convert_here
from pegwright.read.other import reader


@pytest.fixture
def in_process(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("music21")
    monkeypatch.setattr(reader, "convert", convert_here)
