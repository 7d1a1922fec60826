"""The library is loaded once for all of these tests; that it runs in a process of its own is tested by itself."""

from __future__ import annotations

import pytest

from notated import convert_here
from pegwright.notations import to_musicxml


@pytest.fixture
def in_process(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("music21")
    monkeypatch.setattr(to_musicxml, "convert", convert_here)
