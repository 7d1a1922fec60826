"""Write every song: `python songs/source/make.py [FOLDER]`; the folder is `songs` unless given."""

from __future__ import annotations

import sys
from pathlib import Path

import for_the_band
import for_the_evening
import for_the_floor
import unpinnable
from midi_file import midi_bytes
from musicxml_file import musicxml_bytes, mxl_bytes
from notation import Piece

PIECES: tuple[Piece, ...] = (
    *for_the_band.PIECES,
    *for_the_floor.PIECES,
    *for_the_evening.PIECES,
    *unpinnable.PIECES,
)
WRITERS = {".mid": midi_bytes, ".musicxml": musicxml_bytes, ".mxl": mxl_bytes}


def main(folder: Path) -> None:
    """Write all the files into `folder`."""
    for piece in PIECES:
        path = folder / piece.file
        path.write_bytes(WRITERS[path.suffix](piece))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1])
