"""Small songs for wheels whose channels depend on one another: by limits, by shared pitches, by pins with offsets."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np

import samples
from pegwright.score import Score
from pegwright.wheel import LostHole, PinType, StrikeLimit, Wheel


def joined_case(chance: random.Random, kind: str) -> tuple[Score, Wheel]:
    """A crowded turn on two or three plates, some with a hole lost, whose channels depend on one another."""
    plates, steps = chance.choice([(1, 6), (2, 4), (3, 4)])
    count = chance.choice([2, 3, 4])
    made = [
        samples.channel(
            f"c{number}",
            [60 + number, 61 + number] if kind != "limits" else [60 + number],
            restrike_ms=chance.choice([20.0, 130.0, 130.0, 260.0]),
            rows=chance.choice([["on"], ["on", "half"], ["on", "half", "triplet"]]),
        )
        for number in range(count)
    ]
    names = tuple(on.name for on in made)
    limit = StrikeLimit("limit", names[: chance.randint(2, count)], chance.choice([1, 2]), chance.choice([60.0, 150.0]))
    pins = (PinType("peg", 9), PinType("late", 9, 1.3), PinType("early", 9, -0.7))
    on = samples.wheel(
        made,
        plate_count=plates,
        steps_per_plate=steps,
        lost=(LostHole("on", chance.randrange(steps), chance.choice([None, 0])),) * chance.randint(0, 1),
        strike_limits=(limit,) if kind == "limits" or chance.random() < 0.3 else (),
        pin_types=pins if kind == "offsets" else pins[:1],
        geometry=replace(samples.GEOMETRY, radius_mm=9.0 * plates * steps / (2 * np.pi)),
    )
    grain = chance.choice([1, 2, 3, 6])
    turn = int(on.turn_quarters * 24)
    notes = [
        (chance.randrange(0, turn, grain), 60 + chance.randrange(count + 1), chance.choice([1, 64, 127]))
        for _ in range(chance.randint(8, 26))
    ]
    return samples.score(notes, tolerance_ticks=chance.choice([0, 1])), on
