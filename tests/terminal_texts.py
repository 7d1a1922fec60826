"""What commands print on terminals of several widths; `python -m tests.terminal_texts` writes it anew."""

from __future__ import annotations

import io
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import chdir, contextmanager, redirect_stdout
from pathlib import Path
from unittest.mock import patch

from pegwright.cli.main import main

ROOT = Path(__file__).parents[1]
GOLDEN = ROOT / "tests" / "golden" / "terminal"
COLUMNS = (60, 80, 100, 160)
WHEEL = ("--wheel", "songs/merrow-sands.toml")
MARCH = "songs/lamplighters-march.mid"
CASES: Mapping[str, tuple[str, ...]] = {
    "demo": ("demo",),
    "wheel": ("wheel", "songs/merrow-sands.toml"),
    "leads": ("leads", "songs/merrow-sands.toml", "--tempo", "112", "--tempos", "63,92,138"),
    "plate": ("plate", "songs/merrow-sands-plate.toml"),
    "seam": (
        "seam",
        "songs/merrow-sands-plate.toml",
        "songs/merrow-sands-measured.toml",
        "--tempo",
        "63",
        "--tempo",
        "138",
    ),
    "stack": ("stack", "songs/merrow-sands-plate.toml", "songs/shrimpers-jig.mid"),
    "fit": ("fit", "songs/the-committee-regrets.musicxml", *WHEEL, "--load", "--remedies"),
    "fit-search": ("fit", MARCH, *WHEEL, "--search"),
    "set": ("set", "songs/pavilion-evening.toml"),
    "swap": ("swap", "march/pin-map.json", "songs/turnstile-tango.mid", *WHEEL),
    "survey": ("survey", "songs", *WHEEL, "--semitones", "2", "--workers", "1"),
    "pin": ("pin", MARCH, *WHEEL, "--no-remedies", "-o", "march", "--overwrite"),
}


def golden_file(name: str, columns: int) -> Path:
    """Where the golden text of a case is."""
    return GOLDEN / f"{name}-{columns}.txt"


@contextmanager
def folder() -> Iterator[None]:
    """Be in a folder with the bundled songs and the pins of one of them."""
    with tempfile.TemporaryDirectory() as name, chdir(name):
        songs = Path(name).resolve() / "songs"
        shutil.copytree(ROOT / "songs", songs)
        with patch("pegwright.bundled.songs_folder", lambda: songs):
            printed("pin", COLUMNS[0])
            yield


def printed(name: str, columns: int) -> str:
    """What a case prints on a terminal of so many columns, in the folder."""
    out = io.StringIO()
    with patch.dict(os.environ, {"COLUMNS": str(columns)}), redirect_stdout(out):
        try:
            main(CASES[name])
        except SystemExit as left:
            if left.code:
                raise RuntimeError(f"{name} at {columns} columns ended with {left.code}: {out.getvalue()}") from left
    return out.getvalue()


if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    with folder():
        for case in CASES:
            for width in COLUMNS:
                golden_file(case, width).write_text(printed(case, width), encoding="utf-8")
