"""Turns ABC, **kern or MEI into MusicXML with music21. Run as a program of its own: see `convert.py`.

It reads one JSON document from standard input, `{"form": ..., "text": ...}`, and writes another:
`{"musicxml": ...}`, or `{"fault": ...}` with the library's own words.
"""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from typing import Any


def main() -> int:
    """Convert what standard input asks for; the exit code is 0, whether or not it could be read as music."""
    request = json.load(sys.stdin)
    with redirect_stdout(sys.stderr), warnings.catch_warnings():  # the library prints and warns
        warnings.simplefilter("ignore")
        try:
            answer = {"musicxml": convert(request["form"], request["text"])}
        except MemoryError:
            answer = {"fault": "it needs more memory than is given to it"}
        except Exception as fault:  # the library raises anything on a damaged file
            answer = {"fault": f"{type(fault).__name__}: {fault}"}
    json.dump(answer, sys.stdout)
    return 0


def convert(form: str, text: str) -> str:
    """The MusicXML document of one text.

    Args:
        form: the library's name of the notation.
        text: of one song.

    Raises:
        Exception: whatever the library raises.
    """
    from music21 import converter, stream  # noqa: PLC0415  # never in the main program
    from music21.musicxml.m21ToXml import GeneralObjectExporter  # noqa: PLC0415

    # Not `parse`, which would take the text for the name of a file or an address to fetch.
    with _seeing_every_repeat(), _without_beams():
        song = converter.parseData(text, format=form)
    if isinstance(song, stream.Opus):
        song = song.scores[0]
    for part in song.parts:
        _make_bars(part)
        _begin_voices_with_the_bar(part)
        if form == "abc":
            _number_bars(part)
        elif form == "humdrum":
            _forget_transposition(part)
            _drop_empty_end(part)
    exporter = GeneralObjectExporter()
    exporter.makeNotation = False  # else short bars are filled with rests
    return str(exporter.parse(song.splitAtDurations(recurse=True)[0]), "utf-8")


@contextmanager
def _seeing_every_repeat() -> Iterator[None]:
    """The library gives up bars, and repeats with them, where a tune has fewer than two plain bar lines."""
    from music21.abcFormat import ABCBar, ABCHandler  # noqa: PLC0415  # as above

    plain = ABCHandler.definesMeasures

    def has_bars(tune: Any) -> bool:  # noqa: ANN401  # as above
        return plain(tune) or any(isinstance(token, ABCBar) and token.isRepeat() for token in tune.tokens)

    with _replaced(ABCHandler, "definesMeasures", has_bars):
        yield


@contextmanager
def _without_beams() -> Iterator[None]:
    """The library fails at a tuplet of MEI that ends with a rest where nothing is to be beamed."""
    from music21.mei import base  # noqa: PLC0415  # as above

    with _replaced(base, "beamTogether", lambda notes: notes):
        yield


@contextmanager
def _replaced(owner: object, name: str, function: Callable[..., Any]) -> Iterator[None]:
    """A function of the library gives way to another.

    Args:
        owner: its class or module.
        name: of the function.
        function: the other.
    """
    own = getattr(owner, name)
    setattr(owner, name, function)
    try:
        yield
    finally:
        setattr(owner, name, own)


def _make_bars(part: Any) -> None:  # noqa: ANN401  # the library has no types
    if not part.hasMeasures():
        part.makeMeasures(inPlace=True)
        part.makeTies(inPlace=True)


def _begin_voices_with_the_bar(part: Any) -> None:  # noqa: ANN401  # as above
    """The library's writer puts every voice at the beginning of its bar, wherever it begins."""
    for bar in part.getElementsByClass("Measure"):
        for voice in list(bar.voices):
            if voice.offset:
                voice.shiftElements(voice.offset)
                bar.setElementOffset(voice, 0)


def _number_bars(part: Any) -> None:  # noqa: ANN401  # as above
    """ABC has no bar numbers and the library begins with 0 even where there is no pickup."""
    bars = list(part.getElementsByClass("Measure"))
    first = 0 if bars and bars[0].paddingLeft else 1
    for number, bar in enumerate(bars, start=first):
        bar.number = number


def _forget_transposition(part: Any) -> None:  # noqa: ANN401  # as above
    """Pitches of **kern are as they sound, whatever the instrument; the library would transpose them once more.

    Source: Humdrum User Guide, *ITr: a transposing instrument whose part is encoded at concert pitch.
    """
    for instrument in part.recurse().getElementsByClass("Instrument"):
        instrument.transposition = None


def _drop_empty_end(part: Any) -> None:  # noqa: ANN401  # as above
    """After a final bar line with a repeat the library begins one more bar."""
    bars = list(part.getElementsByClass("Measure"))
    if len(bars) > 1 and not bars[-1].recurse().notesAndRests:
        part.remove(bars[-1])


if __name__ == "__main__":
    sys.exit(main())
