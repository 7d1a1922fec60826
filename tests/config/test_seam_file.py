"""Seam files: measured errors in, every fault told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from pegwright.config.seam_file import load_seams, parse_seams
from pegwright.errors import ConfigError, UsageError
from samples import wheel

SIX_PLATES = wheel()  # a step of 15.63 mm


def test_seams_that_are_not_named_have_no_error(tmp_path: Path) -> None:
    path = tmp_path / "seams.toml"
    path.write_text("[[seam]]\nafter_plate = 2\nerror_mm = 0.4\n[[seam]]\nafter_plate = 6\nerror_mm = -1\n")
    assert load_seams(path, SIX_PLATES).errors_mm == (0.0, 0.4, 0.0, 0.0, 0.0, -1.0)


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("", ["seam: is missing"]),
        ("[[seam]]\nerror_mm = 1\n", ["seam[1].after_plate"]),
        ("[[seam]]\nafter_plate = 1\n", ["seam[1].error_mm"]),
        ("[[seam]]\nafter_plate = 7\nerror_mm = 7.9\n", ["seam[1].after_plate (line 2): 7 is above", "7.9 is above"]),
        ("[[seam]]\nafter_plate = 0\nerror_mm = -8\n", ["0 is below the minimum, 1", "-8 is below"]),
        ("[[seam]]\nafter_plate = 1\nerror_mm = nan\n", ["not a finite number"]),
        ("[[seam]]\nafter_plate = 1\nerror_mm = 1\nerror_cm = 1\n", ["did you mean `error_mm`?"]),
        ("[[seam]]\nafter_plate = 1\nerror_mm = 1\n" * 2, ["the seam after plate 1 is given twice"]),
        (
            "".join(f"[[seam]]\nafter_plate = {n}\nerror_mm = 1\n" for n in range(1, 8)),
            ["7 tables, above the maximum, 6"],
        ),
        ("seam = 3\n", ["not a list of tables"]),
        ("[[seam]\n", ["not valid TOML"]),
    ],
)
def test_faults_are_told_with_their_place(text: str, faults: list[str]) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_seams(text.encode(), "seams.toml", SIX_PLATES)
    told = str(caught.value)
    assert told.startswith("seams.toml: ")
    for fault in faults:
        assert fault in told


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path, Path("a\0b")):
        with pytest.raises(UsageError, match="cannot be read"):
            load_seams(path, SIX_PLATES)
