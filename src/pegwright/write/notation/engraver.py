"""Engraves MusicXML with verovio. Run as a program of its own: see `engrave.py`.

It reads one JSON document from standard input, a list of MusicXML texts, and writes another: for each
text its pages as SVG.
"""

from __future__ import annotations

import json
import sys

OPTIONS = {
    "xmlIdSeed": 1,  # without it, names within the drawings are random
    "breaks": "auto",
    "header": "none",
    "footer": "none",
    "adjustPageHeight": True,
    "adjustPageWidth": True,
    "pageWidth": 1740,
    "pageHeight": 60_000,
    "pageMarginTop": 20,
    "pageMarginBottom": 20,
    "pageMarginLeft": 20,
    "pageMarginRight": 20,
    "scale": 45,
    "mnumInterval": 1,
    "smuflTextFont": "none",
    "svgViewBox": True,
    "svgFormatRaw": True,
    "svgRemoveXlink": True,
    "svgBoundingBoxes": True,  # of every note, to draw a ring about it
}


def main() -> int:
    """Engrave the music from standard input; the exit code is 0 if it could be read as music."""
    import verovio  # noqa: PLC0415  # never in the main program

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(OPTIONS)
    toolkit.setInputFrom("musicxml")
    drawn = []
    for music in json.load(sys.stdin):
        if not toolkit.loadData(music):
            return 1
        drawn.append([toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)])
    json.dump(drawn, sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main())
