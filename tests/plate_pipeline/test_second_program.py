"""Drawings opened in a drawing program of others, LibreCAD, where it is installed: every hole is at true size.

Its scale is off by 0.024 % of its own, as every circle of the PDF is.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pdfplumber
import pytest

from pdf_shapes import MM
from pegwright.config.plate_file import load_plate
from pegwright.plate.pattern import patterns
from pegwright.write.dxf import DxfVersion, dxf_bytes
from places import SONGS

LIBRECAD = shutil.which("librecad")


@pytest.mark.slow
@pytest.mark.skipif(LIBRECAD is None, reason="librecad is not installed")
@pytest.mark.parametrize("version", list(DxfVersion))
def test_a_drawing_program_shows_every_hole_at_true_size(version: DxfVersion, tmp_path: Path) -> None:
    assert LIBRECAD
    (pattern,) = patterns(*load_plate(SONGS / "merrow-sands-plate.toml"))
    (tmp_path / "plate.dxf").write_bytes(dxf_bytes(pattern, version))
    sees = os.environ | {"QT_QPA_PLATFORM": "offscreen", "HOME": str(tmp_path), "XDG_RUNTIME_DIR": str(tmp_path)}
    command = [LIBRECAD, "dxf2pdf", "-c", "-s", "1", "plate.dxf"]
    subprocess.run(command, cwd=tmp_path, env=sees, capture_output=True, timeout=120, check=True)
    with pdfplumber.open(tmp_path / "plate.pdf") as document:
        (page,) = document.pages
        circles = [(c["x0"] + c["x1"], -c["top"] - c["bottom"], 2 * (c["x1"] - c["x0"])) for c in page.curves]
        lines = len(page.lines)
    read = np.array(circles) / 2 / MM
    own = np.column_stack([pattern.holes.x_mm, pattern.holes.y_mm, pattern.holes.diameter_mm])
    assert read.shape == own.shape
    assert lines > 1000  # edge, slots and marks
    read[:, :2] -= read[:, :2].mean(axis=0) - own[:, :2].mean(axis=0)  # it lies elsewhere on the paper
    read_order, order = (np.lexsort(np.round(table[:, :2], 0).T) for table in (read, own))
    assert np.abs(read[read_order] - own[order]).max() < 0.1
