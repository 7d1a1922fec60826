"""Songs drawn as music for tests."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import samples
from pegwright.ask.request import Request
from pegwright.musicxml.reader import read_written
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import fit_file
from pegwright.wheel import Wheel
from pegwright.write.notation.marks import Chosen, choose
from pegwright.write.notation.pictures import ScorePictures, score_pictures
from pegwright.write.page.turns import outcome_words

# Only a pitch that no song has, so that every note is left out.
DEAF = samples.wheel([samples.channel("none", [127])])
PLAIN = Request()


def fitted(data: bytes, wheel: Wheel = DEAF, request: Request = PLAIN) -> FittedSong:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "song.musicxml"
        path.write_bytes(data)
        return fit_file(path, wheel, request)


def pictures(data: bytes, wheel: Wheel = DEAF, request: Request = PLAIN) -> ScorePictures:
    fit = fitted(data, wheel, request)
    outcomes = outcome_words(fit.score, fit.whole_placement)
    return score_pictures(fit.score, fit.whole_placement, outcomes, read_written(data, "song.musicxml"))


def chosen(data: bytes, wheel: Wheel = DEAF) -> Chosen:
    fit = fitted(data, wheel)
    outcomes = outcome_words(fit.score, fit.whole_placement)
    return choose(fit.score, fit.whole_placement, outcomes, read_written(data, "song.musicxml"))


def key(drawn: ScorePictures) -> list[str]:
    """The lines of all keys."""
    return [f"{line.number} {line.name}: {line.what}" for each in drawn.pictures for line in each.key]
