"""Pieces drawn by a seed that was fixed before anything was measured, and ways to play them that real players have.

The pieces are of music21's corpus, none of them and no movement of the same work among those that taught the prior or
were used before. Those at even places of the draw are for building, those at odd places for judging. The drum
patterns come from generators that taught nothing: rhythms as even as possible, and bars of a back beat with ghost
notes.
"""

from __future__ import annotations

import json
import tempfile
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from performed_data import (
    CLOSED_HAT,
    KICK,
    OPEN_HAT,
    SNARE,
    TEST_PIECES,
    TOMS,
    UNITS,
    Performance,
    Piece,
    corpus_piece,
    tuning_names,
)

DRAW_SEED = 20261127
DRAWN = 60
MOST_NOTES, LEAST_NOTES = 500, 60
MOST_BY_ONE = 8  # pieces of one composer or collection
ENDINGS = (".mxl", ".xml", ".krn", ".abc", ".musicxml")
LEFT_OUT = (
    "airdsAirs",
    "oneills1850",
    "essenFolksong",
    "nottingham-dataset",
    "theoryExercises",
    "demos",
)  # many tunes a file


def drawn_names() -> list[str]:
    """Pieces in the order of the draw: composers in turn, so that no one of them outweighs the others."""
    from music21 import corpus  # heavy

    used = {_work(name) for name in [*tuning_names(), *TEST_PIECES]}
    by_composer: dict[str, list[str]] = {}
    for path in sorted(Path(each).as_posix() for each in corpus.getCorePaths()):
        name = path.split("/corpus/")[-1]
        if "/" in name and not name.startswith(LEFT_OUT) and not name.endswith(".rntxt") and _work(name) not in used:
            by_composer.setdefault(name.split("/")[0], []).append(name)
    rng = np.random.default_rng(DRAW_SEED)
    orders = [[names[at] for at in rng.permutation(len(names))] for _, names in sorted(by_composer.items())]
    return [names[turn] for turn in range(MOST_BY_ONE) for names in orders if turn < len(names)]


def _work(name: str) -> str:
    composer, work, *_ = name.partition("#")[0].split("/")
    return composer + "/" + (work.rpartition(".")[0] if work.endswith(ENDINGS) else work)


def drawn_pieces(*, judged: bool, most: int = DRAWN // 2) -> list[Piece]:
    """Pieces with notes enough, kept in the folder for temporary files once they were read.

    Args:
        judged: those at odd places of the draw, else those at even places.
        most: pieces wanted.
    """
    pieces: list[Piece] = []
    for name in drawn_names()[int(judged) :: 2]:
        piece = _kept(name)
        if piece is not None and len(piece.notes) >= LEAST_NOTES:
            pieces.append(piece)
        if len(pieces) == most:
            break
    return pieces


def _kept(name: str) -> Piece | None:
    folder = Path(tempfile.gettempdir()) / "pegwright-drawn-pieces-with-metres"
    folder.mkdir(exist_ok=True)
    kept = folder / (name.replace("/", "_") + ".json")
    if not kept.exists():
        try:
            piece = corpus_piece(name, MOST_NOTES)
            first = str(piece.first_quarters)
            data = {"notes": piece.notes, "off_grid": piece.off_grid, "metre": piece.metre, "first_quarters": first}
        except Exception as error:  # a piece that music21 cannot read is reported and passed over
            print(f"not read: {name} ({type(error).__name__})")
            data = {"notes": [], "off_grid": 0}
        kept.write_text(json.dumps(data), encoding="utf-8")
    data = json.loads(kept.read_text(encoding="utf-8"))
    notes = [(onset, part, pitch) for onset, part, pitch in data["notes"]]
    begins = Fraction(data.get("first_quarters", 0))
    return Piece(name, notes, data["off_grid"], metre=data.get("metre", ""), first_quarters=begins)


def even_drums(rng: np.random.Generator, bars: int = 16) -> Piece:
    """Each drum strikes a number of times spread as evenly as possible over the bar, from a place of its own.

    Source: G. Toussaint, "The Euclidean algorithm generates traditional musical rhythms" (2005), from memory.
    """
    grid = int(rng.choice([8, 12, 16, 24]))
    voices = []
    for key in (KICK, SNARE, CLOSED_HAT, int(rng.choice(TOMS))):
        strikes = int(rng.integers(2, max(3, grid // 2)))
        turn = 0 if key == KICK else int(rng.integers(grid))
        voices.append((key, [(place * grid // strikes + turn) % grid for place in range(strikes)]))
    hits = {
        (bar * 4 * UNITS + place * 4 * UNITS // grid, key)
        for bar in range(bars)
        for key, places in voices
        for place in places
        if rng.random() > 0.04
    }
    return Piece(f"even drums, {grid} a bar", [(place, 0, key) for place, key in sorted(hits)], percussion=True)


def back_beat(rng: np.random.Generator, bars: int = 16) -> Piece:
    """Snare on the second and fourth quarter with ghost notes, kick in phrases of two bars, an open hat to end."""
    swung = bool(rng.random() < 0.3)
    sixteenths = (0, 8, 12, 16, 20) if swung else (0, 6, 12, 18)
    phrase = {(0, KICK)} | {
        (int(rng.integers(8)) * UNITS + int(rng.choice(sixteenths)), KICK) for _ in range(int(rng.integers(3, 8)))
    }
    ghosts = {(int(rng.integers(8)) * UNITS + int(rng.choice(sixteenths[1:])), SNARE) for _ in range(4)}
    hits: set[tuple[int, int]] = set()
    for start in range(0, bars * 4, 8):
        for beat in range(8):
            hat = OPEN_HAT if beat == 7 else CLOSED_HAT
            hits |= {((start + beat) * UNITS, hat), ((start + beat) * UNITS + (16 if swung else 12), CLOSED_HAT)}
            if beat % 2:
                hits.add(((start + beat) * UNITS, SNARE))
        hits |= {(start * UNITS + place, key) for place, key in sorted(phrase | ghosts) if rng.random() > 0.1}
        if rng.random() < 0.5:
            hits |= {((start + 7) * UNITS + place, TOMS[place % 3]) for place in sixteenths}
    return Piece("back beat", [(place, 0, key) for place, key in sorted(hits)], percussion=True)


def drum_pieces(rng: np.random.Generator, count: int) -> list[Piece]:
    """As many of the one kind as of the other."""
    return [even_drums(rng) if number % 2 else back_beat(rng) for number in range(count)]


@dataclass(frozen=True, slots=True)
class Manner:
    """How a rendering departs from its score.

    Args:
        jitter_s: standard deviation of each note for itself.
        wander: standard deviation of the change of a quarter's length to the next, as a share.
        bounded: as `wander`, but drawn back to the tempo by a tenth each quarter.
        slowing: the last quarters of a phrase slow down by 10 to 40 % in all.
        accents: the first note of a bar comes late by up to this share of a quarter, the bar after it catching up.
        pauses: chance of a pause of 0.1 to 1 s at a phrase's end, before the next note.
        curves: the tempo changes by up to 15 % between sections.
        spread: chords of three notes and more may be spread over 10 to 60 ms.
        stops: how many times in all the player stops for 0.2 to 1 s, every so many quarters, before one of four.
        holds: how many times likewise three quarters slow down, by 8, 15 and 30 %.
        changes: how many times likewise the tempo becomes another at once, slower or faster by 8 to 25 %.
        sways: by what share the tempo comes and goes over 16 quarters.
        anywhere: the first note lies anywhere in a quarter of the recording, as it does where nobody hears a click.
    """

    jitter_s: float
    wander: float = 0.0
    bounded: float = 0.0
    slowing: bool = False
    accents: float = 0.0
    pauses: float = 0.0
    curves: bool = False
    spread: bool = False
    stops: int = 0
    holds: int = 0
    changes: int = 0
    sways: float = 0.0
    anywhere: bool = False


EXPRESSIVE = Manner(0.01, bounded=0.01, slowing=True, accents=0.04, pauses=0.4, curves=True, spread=True)


def render(piece: Piece, rng: np.random.Generator, manner: Manner) -> Performance:
    """Play a piece at 80 to 140 quarters a minute.

    Args:
        piece: what to play.
        rng: seeded.
        manner: how.
    """
    notes = np.array(piece.notes)
    tempo = float(rng.uniform(80, 140))
    lengths, pauses_s = _lengths_and_pauses(int(notes[:, 0].max()) // UNITS + 3, rng, manner)
    lengths = lengths * 60 / tempo
    line_s, waited_s = (np.concatenate([[0.0], np.cumsum(each)]) for each in (lengths, pauses_s))
    onset_s = np.interp(notes[:, 0] / UNITS, np.arange(len(line_s)), line_s) + waited_s[notes[:, 0] // UNITS]
    if manner.spread:
        onset_s = onset_s + _spread_chords(notes, rng)
    onset_s = onset_s + rng.normal(0, manner.jitter_s, len(notes))
    late_s = float(rng.uniform(0, 60 / tempo)) if manner.anywhere else 0.0
    onset_s, line_s = onset_s + late_s, line_s + late_s
    order = np.argsort(onset_s, kind="stable")
    notes = notes[order]
    first = 60 / float(np.mean(lengths[:4]))
    return Performance(piece, onset_s[order], notes[:, 0], notes[:, 1], notes[:, 2], first, line_s + waited_s)


def _lengths_and_pauses(
    quarters: int, rng: np.random.Generator, manner: Manner
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How long each quarter lasts, 1.0 being the tempo at the start; how many seconds the player waits after it."""
    away, walk = 0.0, []
    for step in rng.normal(0, 1, quarters):
        away = away * (0.9 if manner.bounded else 1.0) + step * (manner.bounded or manner.wander)
        walk.append(away)
    lengths = np.exp(np.array(walk))
    if manner.curves:
        ends = np.sort(rng.choice(np.arange(8, max(9, quarters)), size=max(1, quarters // 48)))
        change = np.exp(rng.uniform(-0.15, 0.15, len(ends) + 1))
        change[0] = 1.0
        lengths *= np.interp(np.arange(quarters), np.concatenate([[0], ends + 4]), change)
    phrase, pauses_s = int(rng.choice([8, 12, 16])), np.zeros(quarters)
    for end in range(phrase, quarters, phrase):
        if manner.accents:
            late = rng.uniform(0, manner.accents)
            lengths[end - 1] += late
            lengths[min(end, quarters - 1)] -= late
        if manner.slowing:
            total, over = 1 + rng.uniform(0.1, 0.4), int(rng.integers(2, 5))
            lengths[end - over : end] *= np.linspace(1, total, over + 1)[1:]
        if manner.pauses and rng.random() < manner.pauses:
            pauses_s[end - 1] = rng.uniform(0.1, 1.0)
    for number in range(manner.stops):
        pauses_s[_spread_out(number, manner.stops, quarters) - 1] = rng.uniform(0.2, 1.0)
    for number in range(manner.holds):
        end = _spread_out(number, manner.holds, quarters)
        lengths[end - 3 : end] *= (1.08, 1.15, 1.3)
    for number in range(manner.changes):
        change = rng.uniform(0.08, 0.25) * rng.choice([-1, 1])
        lengths[_spread_out(number, manner.changes, quarters) :] *= 1 + change
    lengths *= 1 + manner.sways * np.sin(np.arange(quarters) * np.pi / 8)
    at_least: NDArray[np.float64] = np.maximum(lengths, 0.2)
    return at_least, pauses_s


def _spread_out(number: int, of: int, quarters: int) -> int:
    """A quarter that can be divided by four, from 4: as far from its neighbours as these from the ends.

    Args:
        number: from 0.
        of: how many there are.
        quarters: of the piece.
    """
    return max(quarters * (number + 1) // (of + 1) // 4, 1) * 4


def _spread_chords(notes: NDArray[np.int64], rng: np.random.Generator) -> NDArray[np.float64]:
    late = np.zeros(len(notes))
    for place in np.unique(notes[:, 0]):
        chord = np.flatnonzero(notes[:, 0] == place)
        if len(chord) >= 3 and rng.random() < 0.5:
            rank = np.argsort(np.argsort(notes[chord, 2]))
            late[chord] = rng.uniform(0.01, 0.06) * rank / (len(chord) - 1)
    return late
