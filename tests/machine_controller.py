"""The standalone RS-274 interpreter of LinuxCNC, where it is installed: Debian's package linuxcnc-uspace."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

INTERPRETER = shutil.which("rs274")
SKIPPED = "rs274 of linuxcnc-uspace is not installed"
_MOVE = re.compile(r"STRAIGHT_(TRAVERSE|FEED)\(([-\d.]+), ([-\d.]+), ([-\d.]+)")


def machine_moves(program: str, folder: Path) -> list[tuple[str, float, float, float]]:
    """Every straight move of a program as the interpreter gives it: kind and where to, in mm."""
    assert INTERPRETER
    source, table, result = folder / "program.ngc", folder / "tool.tbl", folder / "moves.txt"
    source.write_text(program, encoding="ascii")
    table.write_text("")
    command = [INTERPRETER, "-g", "-n", "2", "-t", str(table), str(source), str(result)]
    done = subprocess.run(
        command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=False, cwd=folder
    )
    text = result.read_text()
    assert "PROGRAM_END" in text, done.stdout + done.stderr + text[-500:]
    return [(kind.lower(), float(x), float(y), float(z)) for kind, x, y, z in _MOVE.findall(text)]
