"""Material for tuning and testing the performed quantiser: public-domain pieces, drum patterns, and a simulated player.

Pieces come from the corpus of music21 (general reference library); the drum patterns are our own, drawn from a seed.
Onsets are in 24ths of a quarter. Notes that lie on none of the twelve places of a wheel with steps, half-steps and
triplet holes are left out and counted; a pickup is moved so that bar lines fall on whole quarters.
"""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.score import BarMap, Part, Score, TempoMap

UNITS = 24
PLACES = (0, 3, 4, 6, 8, 9, 12, 15, 16, 18, 20, 21)
TUNING_LIST = Path(__file__).with_name("performed_tuning.txt")
# Not among those that the prior was counted from, nor is a movement of the same work; but results were known while
# constants were chosen, so they are no proof: `bench_played.py` judges by pieces that were not looked at.
TEST_PIECES = (
    "beethoven/opus18no1/movement4",
    "beethoven/opus59no2/movement3",
    "haydn/opus1no1/movement5",
    "mozart/k155/movement1",
    "mozart/k458/movement1",
    "schumann_clara/polonaise_op1n1",
    "joplin/maple_leaf_rag",
    "cpebach/h186",
    "verdi/laDonnaEMobile",
    "schubert/Lindenbaum",
    "chopin/mazurka06-2",
    "handel/rinaldo/lascia_chio_pianga",
    "liliuokalani/aloha_oe",
    "bach/bwv66.6",
    "bach/bwv1.6",
    "bach/bwv103.6",
    "bach/bwv108.6",
    "bach/bwv846",
    "monteverdi/madrigal.3.1",
    "trecento/Fava_Dicant_nunc_iudei",
    "ryansMammoth/AspinwallHornpipe.abc",
    "ryansMammoth/DickieRogersPedestalClog.abc",
    "ryansMammoth/GoldenTressesHornpipe.abc",
    "ryansMammoth/ExcelsiorHornpipe.abc",
    "ryansMammoth/DefianceHornpipe.abc",
    "ryansMammoth/MaidOfSelmaJig.abc",
    "ryansMammoth/ForestFlowerHighlandFling.abc",
    "ryansMammoth/FletchersDelightReel.abc",
)
KICK, SNARE, CLOSED_HAT, OPEN_HAT, TOMS = 36, 38, 42, 46, (41, 45, 50)
STRAIGHT, HALVES, TRIPLET, THIRDS = (0, 6, 12, 18), (0, 3, 6, 9, 12, 15, 18, 21), (0, 4, 8, 12, 16, 20), (0, 8, 16)
Notes = list[tuple[int, int, int]]  # (onset in 24ths, part, pitch or percussion key), sorted


@dataclass(frozen=True, slots=True)
class Piece:
    """Notes whose holes are known.

    Args:
        name: where it comes from.
        notes: see there.
        off_grid: notes left out because they lie on no place.
        percussion: pitches are percussion keys.
        metre: as it is written, such as 3/4; empty where it is not.
        first_quarters: from the bar line to the first note.
    """

    name: str
    notes: Notes
    off_grid: int = 0
    percussion: bool = False
    metre: str = ""
    first_quarters: Fraction = Fraction(0)


@lru_cache(maxsize=1)
def _parsed(path: str) -> Any:  # noqa: ANN401  # music21 ships no types
    from music21 import corpus  # heavy

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return corpus.parse(path)


def corpus_piece(name: str, most_notes: int | None = None) -> Piece:
    """A piece of music21's corpus; `file#3` is the fourth tune of a file of many."""
    path, _, number = name.partition("#")
    read = _parsed(path)
    if hasattr(read, "scores"):
        read = list(read.scores)[int(number or 0)]
    parts = list(read.parts) or [read]
    bars = [bar.offset for bar in parts[0].getElementsByClass("Measure")]
    shift = (-Fraction(bars[1]).limit_denominator(96)) % 1 if len(bars) > 1 else Fraction(0)
    notes, off_grid = set(), 0
    for part, stream in enumerate(parts):
        for element in stream.stripTies().flatten().notes:
            if element.duration.isGrace or "Symbol" in type(element).__name__:
                continue
            onset = (Fraction(element.offset).limit_denominator(96) + shift) * UNITS
            for pitch in [each.midi for each in element.pitches] or [60]:
                if onset.denominator != 1 or onset % UNITS not in PLACES:
                    off_grid += 1
                else:
                    notes.add((int(onset), part, int(pitch)))
    ordered = sorted(notes)
    if most_notes is not None and len(ordered) > most_notes:
        last = ordered[most_notes][0]
        ordered = [note for note in ordered if note[0] <= last]
    signs = list(parts[0].recurse().getElementsByClass("TimeSignature"))
    if not signs or len(bars) < 2 or not ordered:
        return Piece(name, ordered, off_grid)
    length = Fraction(4 * signs[0].numerator, signs[0].denominator)
    first = (Fraction(ordered[0][0], UNITS) - Fraction(bars[1]).limit_denominator(96) - shift) % length
    return Piece(name, ordered, off_grid, metre=signs[0].ratioString, first_quarters=first)


def tuning_names() -> list[str]:
    """The pieces that the prior was counted from."""
    return TUNING_LIST.read_text(encoding="utf-8").splitlines()


def groove(rng: np.random.Generator, bars: int = 16) -> Piece:
    """A drummer's song in one style: sections of eight bars on a loop, varied a little, with fills."""
    style = str(rng.choice(["eighths", "sixteenths", "shuffle", "thirds", "mixed", "half-steps"]))
    by_style: dict[str, list[tuple[int, ...]]] = {
        "eighths": [(0, 12)],
        "sixteenths": [STRAIGHT, (0, 12, 18), (0, 6, 12)],
        "shuffle": [(0, 16)],
        "thirds": [THIRDS],
        "mixed": [(0, 12), THIRDS, STRAIGHT, TRIPLET],
        "half-steps": [STRAIGHT, (0, 3, 6, 12, 18), (0, 6, 9, 12, 18), (0, 6, 12, 15, 18), (0, 6, 12, 18, 21)],
    }
    figures = by_style[style]
    extra: dict[str, tuple[int, ...]] = {
        "eighths": STRAIGHT,
        "sixteenths": STRAIGHT,
        "shuffle": THIRDS,
        "thirds": THIRDS,
        "half-steps": STRAIGHT,
    }
    hits: set[tuple[int, int]] = set()
    for section in range(0, bars, 8):
        loop = [_groove_bar(rng, figures, extra.get(style)) for _ in range(int(rng.integers(1, 3)))]
        for bar in range(section, min(section + 8, bars)):
            if bar % 4 == 3 and rng.random() < 0.7:
                played = _fill(rng, figures[0])
            else:
                played = set(loop[bar % len(loop)])
                if rng.random() < 0.4:
                    played = {hit for hit in sorted(played) if rng.random() > 0.05}
                    places = sorted({place for place, _ in played})
                    played.add((places[int(rng.integers(len(places)))], KICK))
            hits |= {(bar * 4 * UNITS + place, key) for place, key in played}
    return Piece(f"groove, {style}", [(place, 0, key) for place, key in sorted(hits)], percussion=True)


def _groove_bar(
    rng: np.random.Generator, figures: list[tuple[int, ...]], extra: tuple[int, ...] | None
) -> set[tuple[int, int]]:
    hits = {(0, KICK)}
    for beat in range(4):
        figure = figures[int(rng.integers(len(figures)))]
        hits |= {(beat * UNITS + place, CLOSED_HAT) for place in figure}
        if beat % 2:
            hits.add((beat * UNITS, SNARE))
        for place in extra or figure:
            if rng.random() < 0.12:
                hits.add((beat * UNITS + place, KICK))
            if place and rng.random() < 0.06:
                hits.add((beat * UNITS + place, SNARE))
    return hits


def _fill(rng: np.random.Generator, figure: tuple[int, ...]) -> set[tuple[int, int]]:
    hits = set()
    for beat in range(4):
        if beat < 2 and rng.random() < 0.6:
            hits |= {(beat * UNITS + place, CLOSED_HAT) for place in figure}
            hits.add((beat * UNITS, SNARE if beat else KICK))
            continue
        roll = (STRAIGHT, THIRDS, TRIPLET, HALVES)[int(rng.choice(4, p=[0.45, 0.2, 0.2, 0.15]))]
        key = TOMS[int(rng.integers(3))] if rng.random() < 0.6 else SNARE
        hits |= {(beat * UNITS + place, key) for place in roll if rng.random() < 0.9}
    return hits


def free_drums(rng: np.random.Generator, bars: int = 16) -> Piece:
    """Every beat of a family of its own and three hits in four of it struck: nothing repeats."""
    return Piece("free drums", _free(rng, bars), percussion=True)


def looped_drums(rng: np.random.Generator, bars: int = 16) -> Piece:
    """One or two free bars over and over, with another free bar as a fill every fourth."""
    length = int(rng.integers(1, 3))
    base, notes = _free(rng, length), list[tuple[int, int, int]]()
    for bar in range(0, bars, length):
        notes += [(bar * 4 * UNITS + place, part, key) for place, part, key in base]
    for bar in range(3, bars, 4):
        start = bar * 4 * UNITS
        notes = [note for note in notes if not start <= note[0] < start + 4 * UNITS]
        notes += [(start + place, part, key) for place, part, key in _free(rng, 1)]
    return Piece("looped drums", sorted(notes), percussion=True)


def _free(rng: np.random.Generator, bars: int) -> Notes:
    hits: set[tuple[int, int, int]] = set()
    for beat in range(bars * 4):
        figure: tuple[int, ...] = (STRAIGHT, HALVES, TRIPLET)[int(rng.choice(3, p=[0.45, 0.2, 0.35]))]
        if figure is TRIPLET and rng.random() < 0.5:
            figure = THIRDS
        for place in figure:
            if place == 0 or rng.random() < 0.75:
                hits.add((beat * UNITS + place, 0, CLOSED_HAT if rng.random() < 0.8 else OPEN_HAT))
            if rng.random() < 0.15:
                hits.add((beat * UNITS + place, 0, KICK))
        if beat % 2:
            hits.add((beat * UNITS, 0, SNARE))
        if beat % 4 == 0:
            hits.add((beat * UNITS, 0, KICK))
    return sorted(hits)


@dataclass(frozen=True, slots=True, eq=False)
class Performance:
    """A piece as a simulated player plays it, in order of time; columns of shape (n,).

    Args:
        piece: what was meant.
        onset_s: seconds from where quarter 0 was.
        hole: true places in 24ths.
        part, pitch: of each note.
        quarters_per_minute: tempo at the start.
        line_s: shape (b,), true times of quarter lines.
    """

    piece: Piece
    onset_s: np.ndarray
    hole: np.ndarray
    part: np.ndarray
    pitch: np.ndarray
    quarters_per_minute: float
    line_s: np.ndarray


def perform(piece: Piece, rng: np.random.Generator, jitter_s: float, wander: float = 0.0) -> Performance:
    """Play a piece at 90 to 140 quarters a minute.

    Args:
        piece: what to play.
        rng: seeded.
        jitter_s: Gaussian standard deviation of each onset, each note for itself.
        wander: standard deviation of the change of a quarter's length from one to the next, as a share: a random walk
            without bound.
    """
    notes = np.array(piece.notes)
    tempo = float(rng.uniform(90, 140))
    quarters = int(notes[:, 0].max()) // UNITS + 3
    steps = rng.normal(0, wander, quarters) if wander else np.zeros(quarters)
    line_s = np.concatenate([[0.0], np.cumsum(60 / tempo * np.exp(np.concatenate([[0.0], np.cumsum(steps[1:])])))])
    onset_s = np.interp(notes[:, 0] / UNITS, np.arange(quarters + 1), line_s) + rng.normal(0, jitter_s, len(notes))
    order = np.argsort(onset_s, kind="stable")
    notes = notes[order]
    return Performance(piece, onset_s[order], notes[:, 0], notes[:, 1], notes[:, 2], tempo, line_s)


def rubato(piece: Piece, rng: np.random.Generator, jitter_s: float = 0.008, spread_s: float = 0.06) -> Performance:
    """Play with phrases that quicken and slow by a third and more, chords spread from the lowest note up.

    Args:
        piece: what to play.
        rng: seeded.
        jitter_s: standard deviation of each onset.
        spread_s: the widest a chord is spread; each chord by a share of it, drawn evenly.
    """
    notes = np.array(piece.notes)
    tempo = float(rng.uniform(90, 140))
    quarters = int(notes[:, 0].max()) // UNITS + 3
    beat = np.arange(quarters)
    phrase = int(rng.integers(8, 17))
    arch = np.sin(np.pi * ((beat % phrase) + 0.5) / phrase) - 0.5
    pace = np.exp(0.45 * arch + np.cumsum(rng.normal(0, 0.01, quarters)))
    line_s = np.concatenate([[0.0], np.cumsum(60 / (tempo * pace))])
    onset_s = np.interp(notes[:, 0] / UNITS, np.arange(quarters + 1), line_s)
    for place in np.unique(notes[:, 0]):
        chord = np.flatnonzero(notes[:, 0] == place)
        rank = np.argsort(np.argsort(notes[chord, 2]))
        onset_s[chord] += rng.uniform(0, spread_s) * rank / max(1, len(chord) - 1)
    onset_s += rng.normal(0, jitter_s, len(notes))
    order = np.argsort(onset_s, kind="stable")
    notes = notes[order]
    first = 60 / float(line_s[1] - line_s[0])
    return Performance(piece, onset_s[order], notes[:, 0], notes[:, 1], notes[:, 2], first, line_s)


RESOLUTION = 9600  # ticks a quarter: a tick is far below a millisecond
LEAD_QUARTERS = 1  # silence before quarter 0, so that an early first note has somewhere to go


def score_of(played: Performance, quarters_per_minute: float | None = None) -> tuple[Score, np.ndarray]:
    """The performance as a recorder would save it: one tempo, onsets where they fell, a quarter of silence first.

    Args:
        played: the performance.
        quarters_per_minute: the tempo written; None writes the one at the start.

    Returns:
        The score, and the true hole of each of its notes in 24ths of a quarter from tick 0.
    """
    us = round(60e6 / (quarters_per_minute or played.quarters_per_minute))
    ticks = np.round((played.onset_s * 1e6 / us + LEAD_QUARTERS) * RESOLUTION).astype(np.int64)
    order = np.lexsort([played.pitch, played.part, ticks])
    ticks = ticks[order]
    parts = tuple(
        Part(f"Part {part + 1}", percussion=played.piece.percussion) for part in range(int(played.part.max()) + 1)
    )
    bar = 4 * RESOLUTION
    starts = list(range(0, int(ticks.max()) + 1, bar))
    count = len(starts)
    score = Score(
        title=played.piece.name,
        file="performed.mid",
        sha256="0" * 64,
        resolution=RESOLUTION,
        tolerance_ticks=1,
        onset_ticks=frozen_ints(ticks),
        duration_ticks=frozen_ints([RESOLUTION // 8] * len(ticks)),
        pitch_midi=frozen_ints(played.pitch[order]),
        velocity=frozen_ints([80] * len(ticks)),
        part=frozen_ints(played.part[order]),
        parts=parts,
        tempo_map=TempoMap(frozen_ints([0]), frozen_ints([us])),
        bar_map=BarMap(
            frozen_ints(starts),
            tuple(str(number + 1) for number in range(count)),
            frozen_ints([4] * count),
            frozen_ints([4] * count),
            count * bar,
        ),
    )
    return score, played.hole[order] + LEAD_QUARTERS * UNITS


def pieces_for_tuning(seed: int = 777) -> Iterable[Piece]:
    """What the prior is counted from."""
    rng = np.random.default_rng(seed)
    drums = [groove(rng, 24) for _ in range(20)]
    drums += [free_drums(rng, 24) for _ in range(10)] + [looped_drums(rng, 24) for _ in range(10)]
    return itertools.chain(map(corpus_piece, tuning_names()), drums)
