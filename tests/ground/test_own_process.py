"""A program in a process of its own: its answer, and what comes of one that breaks a bound."""

from __future__ import annotations

from pathlib import Path

import pytest

from pegwright.own_process import MEMORY_BYTES, answer_of

ECHO = "import json, sys\njson.dump([json.load(sys.stdin), __name__], sys.stdout)\n"
GREEDY = f"""import json, sys
try:
    kept = bytearray({MEMORY_BYTES})
    json.dump("more than the bound", sys.stdout)
except MemoryError:
    json.dump("no more", sys.stdout)
"""


def program(folder: Path, text: str) -> Path:
    path = folder / "program.py"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_program_answers_a_request_as_the_main_program_of_its_process(tmp_path: Path) -> None:
    assert answer_of(program(tmp_path, ECHO), {"note": "°é"}, 60) == [{"note": "°é"}, "__main__"]


def test_memory_is_bounded(tmp_path: Path) -> None:
    pytest.importorskip("resource")
    assert answer_of(program(tmp_path, GREEDY), None, 60) == "no more"
    half = GREEDY.replace(str(MEMORY_BYTES), str(MEMORY_BYTES // 4))
    assert answer_of(program(tmp_path, half), None, 60) == "more than the bound"


def test_time_is_bounded(tmp_path: Path) -> None:
    with pytest.raises(TimeoutError, match=r"more than 0\.5 s"):
        answer_of(program(tmp_path, "while True: pass"), None, 0.5)


@pytest.mark.parametrize("text", ["import os; os.abort()", "raise MemoryError", "print('half an ans')", ""])
def test_a_program_that_breaks_down_is_a_value_error(tmp_path: Path, text: str) -> None:
    with pytest.raises(ValueError, match="Expecting value"):
        answer_of(program(tmp_path, text), None, 60)


def test_nothing_of_the_current_folder_is_imported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "json.py").write_text("raise SystemExit(3)", encoding="utf-8")
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path)
    assert answer_of(program(tmp_path / "elsewhere", ECHO), 1, 60) == [1, "__main__"]
