"""What rhythms are likely: patterns of places within a quarter, how common each is, and what follows what.

A pattern is the set of places at which something is struck in one quarter note, all parts together. Each half of a
quarter keeps to one family (straight and half-steps, or triplet), so a wheel with all three rows has 484 patterns,
and a few more that mix families within a half, as some pieces do.
How common they are was counted once (`prior.json`, made by `tests/benchmarks/learn_performed.py` from
public-domain pieces and drum patterns); patterns never seen there get a small weight by their simplicity.

Source: the idea of balancing closeness in time against simplicity of notation is that of A. T. Cemgil and B. Kappen,
"Monte Carlo methods for tempo tracking and rhythm quantization", J. Artificial Intelligence Research 18 (2003).
"""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.package_data import rhythm_counts_text
from pegwright.wheel import Wheel

Pattern: TypeAlias = tuple[int, ...]  # the places struck in a quarter, rising, in units
PRIOR_RESOLUTION = 24  # the places of the counted patterns are in 24ths of a quarter
PLACES = tuple(Fraction(place, 24) for place in (0, 3, 4, 6, 8, 9, 12, 15, 16, 18, 20, 21))
MAX_PLACES = 24
MAX_UNITS = 960  # ticks a quarter; a finer grid than a player can mean
SIMPLE_SHARE = 0.03  # of all weight, given by simplicity alone
HALVES_SHARE = 0.2  # of all weight, given by how common the halves are
TWICE_SHARE = 0.5  # of a count, for halves that are counted patterns played twice as fast
FOLLOW_WEIGHT = 20.0  # counted pairs it takes to outweigh the bare frequency of the second pattern,
FOLLOW_SHARE = 0.1  # which keeps at least this share
SEEN_OFTEN = 1.0  # weight from which a counted pattern is kept though it mixes families within a half
RARITY = 1e-7  # how common a pattern is that neither the count nor simplicity predicts
MOST_RARITIES = 64
EMPTY_COST = 1.5
TINY = 1e-300
# How much rarer each place makes a pattern, as a natural logarithm, by its denominator in quarters: common practice,
# no source; it only ranks patterns that were never counted.
PLACE_COST = {1: 0.7, 2: 1.2, 3: 2.6, 4: 2.2, 6: 3.2, 8: 3.4}
RARE_PLACE_COST = 4.5


@frozen(eq=False)
class RhythmModel:
    """Patterns within a quarter and how common they are.

    Args:
        resolution: units per quarter; every place is a whole unit.
        places: shape (p,), places within a quarter, rising, in units.
        member: shape (k, p), 1.0 where pattern k strikes place p, else 0.0.
        size: shape (k,), places struck.
        slot: shape (k, maximum of places), the places of each pattern in order, as indexes into `places`; then zeros.
        usage: shape (k,), how common each pattern is; sums to 1.
        follow: shape (k, k), how commonly pattern j comes after pattern i; rows sum to 1. Rarities that `widened` put
            at the end have no row or column until the model is `narrowed`.
    """

    resolution: int
    places: Ints
    member: Floats
    size: Ints
    slot: Ints
    usage: Floats
    follow: Floats

    @property
    def pattern_count(self) -> int:
        """Patterns known."""
        return len(self.size)


def wheel_places(wheel: Wheel) -> tuple[Fraction, ...]:
    """Where in a quarter note the holes of a wheel lie: all rows together, in quarters from 0 to below 1."""
    positions = (steps for row in wheel.rows for steps in row.positions_steps(wheel.steps_per_plate))
    return tuple(sorted({steps * wheel.step_quarters % 1 for steps in positions}))


@lru_cache(maxsize=8)
def rhythm_model(places: tuple[Fraction, ...] = PLACES) -> RhythmModel:
    """The model for holes at `places`, in quarters within a quarter note.

    Raises:
        UsageError: no place, one outside 0 to below 1, or places too fine for a player to mean.
    """
    resolution = _resolution(places)
    units = sorted({int(place * resolution) for place in places})
    counted, pairs = _counts(resolution)
    often = {pattern for pattern, weight in counted.items() if weight >= SEEN_OFTEN and set(pattern) <= set(units)}
    patterns = sorted(_patterns(units, resolution) | often)
    index = {pattern: number for number, pattern in enumerate(patterns)}
    usage = _usage(patterns, counted, resolution)
    follow = np.zeros((len(patterns), len(patterns)))
    for (first, second), weight in pairs.items():
        if first in index and second in index:
            follow[index[first], index[second]] += weight
    total = follow.sum(axis=1, keepdims=True)
    follow += np.maximum(FOLLOW_WEIGHT, FOLLOW_SHARE * total) * usage
    follow /= follow.sum(axis=1, keepdims=True)
    member = np.array([[unit in pattern for unit in units] for pattern in patterns], dtype=np.float64)
    return RhythmModel(
        resolution,
        frozen_ints(units),
        frozen_floats(member),
        frozen_ints([len(pattern) for pattern in patterns]),
        frozen_ints(_slots(member)),
        frozen_floats(usage),
        frozen_floats(follow),
    )


def widened(model: RhythmModel, struck: NDArray[np.bool_]) -> RhythmModel:
    """The same model with patterns of one song that it does not hold, as rarities.

    Args:
        model: see there.
        struck: shape (quarters, p), the places that look struck in each quarter.
    """
    bits = 1 << np.arange(len(model.places), dtype=np.int64)
    looks = (struck @ bits)[~np.isin(struck @ bits, model.member.astype(np.int64) @ bits)]
    masks, times = np.unique(looks, return_counts=True)
    masks = masks[np.argsort(-times, kind="stable")][:MOST_RARITIES]
    if len(masks) == 0:
        return model
    member = np.concatenate([model.member, masks[:, None] & bits > 0])
    usage = np.append(model.usage, np.full(len(masks), RARITY))
    size = member.sum(axis=1).astype(np.int64)
    return replace(model, member=member, size=size, slot=_slots(member), usage=usage / usage.sum())


def _slots(member: Floats) -> Ints:
    """Shape (k, maximum of places): the places of each pattern in order, then zeros."""
    size = member.sum(axis=1, keepdims=True)
    struck_first = np.argsort(-member, axis=1, kind="stable")[:, : int(size.max())]
    return np.where(np.arange(struck_first.shape[1]) < size, struck_first, 0)


def narrowed(model: RhythmModel, patterns: Ints) -> RhythmModel:
    """The same model with only the given patterns (numbers, rising)."""
    usage = model.usage[patterns]
    known = int(np.searchsorted(patterns, len(model.follow)))
    follow = np.full((len(patterns), len(patterns)), RARITY)
    follow[:known, :known] = model.follow.take(patterns[:known], axis=0).take(patterns[:known], axis=1)
    follow[known:] = usage
    return replace(
        model,
        member=model.member[patterns],
        size=model.size[patterns],
        slot=model.slot[patterns],
        usage=usage / usage.sum(),
        follow=follow / follow.sum(axis=1, keepdims=True),
    )


def _resolution(places: tuple[Fraction, ...]) -> int:
    if not places:
        raise UsageError("no places to put notes on", hint="a wheel with at least one row has some")
    for place in places:
        if not 0 <= place < 1:
            raise UsageError(f"place {place} is outside 0 to below 1 quarter", hint="give places within a quarter")
    fewer = "leave out the rows that no player means"
    if len(places) > MAX_PLACES:
        raise UsageError(f"{len(places)} places a quarter are more than {MAX_PLACES}", hint=fewer)
    resolution = math.lcm(PRIOR_RESOLUTION, *(place.denominator for place in places))
    if resolution > MAX_UNITS:
        raise UsageError(f"places need {resolution} units a quarter, more than {MAX_UNITS}", hint=fewer)
    return resolution


def _patterns(units: list[int], resolution: int) -> set[Pattern]:
    """Every pattern whose halves each keep to one family; a place of no family comes alone or after the beat."""
    halves = []
    for first in (0, resolution // 2):
        inside = [unit for unit in units if first <= unit < first + resolution // 2]
        binary = [unit for unit in inside if unit * 8 % resolution == 0]
        triple = [unit for unit in inside if unit * 6 % resolution == 0]
        patterns = {subset for family in (binary, triple) for subset in _subsets(family)}
        for unit in set(inside) - set(binary) - set(triple):
            patterns |= {(unit,), tuple(sorted({unit, first} & set(inside)))}
        halves.append(patterns)
    return {early + late for early in halves[0] for late in halves[1]}


def _subsets(items: list[int]) -> Iterable[Pattern]:
    return itertools.chain.from_iterable(itertools.combinations(items, count) for count in range(len(items) + 1))


def _usage(patterns: list[Pattern], counted: Mapping[Pattern, float], resolution: int) -> NDArray[np.float64]:
    """How common each pattern is: as counted; as its halves, counted anywhere, would make it; and by simplicity.

    A half is also counted from whole patterns at twice its length, for one rhythm may be written in either way.
    """
    half = resolution // 2

    def halved(pattern: Pattern) -> tuple[Pattern, Pattern]:
        return tuple(unit for unit in pattern if unit < half), tuple(unit - half for unit in pattern if unit >= half)

    halves: dict[Pattern, float] = {}
    for pattern, weight in counted.items():
        slower = tuple(unit // 2 for unit in pattern)
        for part, share in zip((*halved(pattern), slower), (1.0, 1.0, TWICE_SHARE), strict=True):
            halves[part] = halves.get(part, 0.0) + weight * share
    whole = sum(halves.values())
    simple = _shares([math.exp(-_cost(pattern, resolution)) for pattern in patterns])
    chances = [[halves.get(part, 0.0) for part in halved(pattern)] for pattern in patterns]
    by_halves = _shares([early * late / whole**2 for early, late in chances])
    seen = _shares([counted.get(pattern, 0.0) for pattern in patterns])
    return _shares(SIMPLE_SHARE * simple + HALVES_SHARE * by_halves + (1 - SIMPLE_SHARE - HALVES_SHARE) * seen)


def _shares(values: list[float] | NDArray[np.float64]) -> NDArray[np.float64]:
    column: NDArray[np.float64] = np.array(values, dtype=np.float64)
    return column / max(float(column.sum()), TINY)


def _cost(pattern: Pattern, resolution: int) -> float:
    if not pattern:
        return EMPTY_COST
    return sum(PLACE_COST.get(Fraction(unit, resolution).denominator, RARE_PLACE_COST) for unit in pattern)


@lru_cache(maxsize=8)
def _counts(resolution: int) -> tuple[Mapping[Pattern, float], Mapping[tuple[Pattern, Pattern], float]]:
    scale = resolution // PRIOR_RESOLUTION
    data = json.loads(rhythm_counts_text())

    def parsed(text: str) -> Pattern:
        return tuple(int(unit) * scale for unit in text.split())

    single = {parsed(text): float(weight) for text, weight in data["patterns"].items()}
    double = {}
    for text, weight in data["pairs"].items():
        first, _, second = text.partition(">")
        double[parsed(first), parsed(second)] = float(weight)
    return single, double


def log_odds(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Natural logarithm with a floor, so that an impossible thing is merely very unlikely."""
    return np.log(np.maximum(values, TINY))
