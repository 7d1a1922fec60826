"""Families of places within a quarter: straight, half-steps, thirds and their halves, and what is left."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen
from pegwright.played.model import rhythm_model

HALF = Fraction(1, 2)
STRAIGHT, THIRDS = 4, 6  # parts of a quarter
# How common each family is before a song is known, by the parts that its finest places divide a quarter into; set by
# hand, and learnt from the song. Few songs use half-steps, and fewer anything finer.
COMMON = {STRAIGHT: 0.87, THIRDS: 0.1, 8: 0.03}
RARE = 0.005
# How often a place is struck where its family is used, by the family and the place's denominator; likewise.
STRUCK = {
    STRAIGHT: {2: 0.75, 4: 0.4},
    THIRDS: {2: 0.3, 3: 0.75, 6: 0.35},
    8: {2: 0.8, 4: 0.7, 8: 0.5},
}
STRUCK_FIRST, STRUCK_ELSE = 0.9, 0.5
HELD_FAST, HELD_LOOSELY = 20.0, 6.0  # quarters that these shares count as: a song learns little about a rare family


@frozen(eq=False)
class Family:
    """Places that a player uses together in one half of a quarter.

    Args:
        parts: what its finest places divide a quarter into.
        units: shape (p,), its places, rising.
        early: how many of them lie in the first half of the quarter.
        common: how common the family is.
        struck: shape (p,), how often each place is struck where the family is used.
        prior_quarters: how many quarters of a song that counts as.
    """

    parts: int
    units: Ints
    early: int
    common: float
    struck: Floats
    prior_quarters: float

    @property
    def reached(self) -> int:
        """Places of the family considered for one onset: those within about a third of a quarter."""
        return max(2, len(self.units) // 2 + 1)


def families_of(places: tuple[Fraction, ...]) -> tuple[Family, ...]:
    """The families that the places of a wheel make up, each but the first with a place that those before lack.

    Args:
        places: within a quarter, in quarters.
    """
    denominators = sorted({place.denominator for place in places})
    binary = [STRAIGHT, *(each for each in denominators if each & (each - 1) == 0 and each > STRAIGHT)]
    triple = [THIRDS, *(each for each in denominators if each % 3 == 0 and _odd(each) == 3 and each > THIRDS)]
    others = [each for each in denominators if _odd(each) not in (1, 3)]
    known, families = set[Fraction](), list[Family]()
    for parts in (*binary, *triple, *others):
        own = sorted(place for place in set(places) if parts % place.denominator == 0)
        if set(own) - known:
            known |= set(own)
            families.append(_family(parts, own, places))
    return tuple(families)


def _odd(number: int) -> int:
    """A number without its factors of two."""
    return number // (number & -number)


def _family(parts: int, own: list[Fraction], places: tuple[Fraction, ...]) -> Family:
    resolution, struck = rhythm_model(places).resolution, STRUCK.get(parts, {})
    return Family(
        parts,
        frozen_ints([int(place * resolution) for place in own]),
        sum(place < HALF for place in own),
        COMMON.get(parts, RARE),
        frozen_floats([struck.get(place.denominator, STRUCK_ELSE) if place else STRUCK_FIRST for place in own]),
        HELD_LOOSELY if parts == STRAIGHT else HELD_FAST,
    )


def common_shares(families: tuple[Family, ...]) -> Floats:
    """Shape (families,): how common each is before anything of the song is known; sums to 1."""
    shares = np.array([family.common for family in families])
    return frozen_floats(shares / shares.sum())
