"""What a piece needs, as the journal of a survey keeps it."""

from __future__ import annotations

from typing import Any

from pegwright.remedy.additions import Addition, addition_from
from pegwright.verdict.needs import PieceNeeds, Way


def needs_json(piece: PieceNeeds) -> list[Any]:
    """What a piece needs, as the journal has it: codes once, then numbers."""
    codes = {
        each.code: number
        for number, each in enumerate(
            dict.fromkeys(each for way in piece.ways for need, _ in way.needs for choice in need for each in choice)
        )
    }
    ways = [
        [
            *(way.transpose_semitones, way.start_steps, way.sounding, way.beyond),
            [[notes, [[codes[each.code] for each in choice] for choice in need]] for need, notes in way.needs],
        ]
        for way in piece.ways
    ]
    return [piece.notes, list(codes), ways]


def needs_from(fact: list[Any]) -> PieceNeeds:
    """What `needs_json` gave."""
    notes, codes, ways = fact
    additions = [addition_from(code) for code in codes]

    def need(choices: list[list[int]]) -> tuple[tuple[Addition, ...], ...]:
        return tuple(tuple(additions[number] for number in choice) for choice in choices)

    return PieceNeeds(
        notes,
        tuple(
            Way(semitones, start, sounding, tuple((need(choices), count) for count, choices in needs), beyond)
            for semitones, start, sounding, beyond, needs in ways
        ),
    )
