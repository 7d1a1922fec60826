"""Count the rhythm prior of the performed quantiser and write it into the package.

    python tests/benchmarks/learn_performed.py

Reads the pieces named in `performed_tuning.txt` from music21's corpus (a few minutes) and seeded drum patterns; none of
them is a test piece of `bench_performed.py`. The same input gives the same bytes.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterable
from pathlib import Path

from performed_data import TEST_PIECES, pieces_for_tuning, tuning_names

from pegwright import package_data
from pegwright.played.model import PRIOR_RESOLUTION, Pattern

SEEN_LEAST = 0.3  # weight below which a pair of patterns says nothing


def pattern_counts(pieces: Iterable[Iterable[int]]) -> tuple[dict[Pattern, float], dict[str, float]]:
    """Count patterns and pairs of neighbouring patterns, as the prior file keeps them.

    Args:
        pieces: onsets of each piece, in 24ths of a quarter. A long piece counts no more than 100 quarters' worth.

    Returns:
        Weight of each pattern, and of each pair written `0 12>0 6 12`.
    """
    single: dict[Pattern, float] = {}
    double: dict[str, float] = {}
    for onsets in pieces:
        struck: dict[int, set[int]] = {}
        for onset in onsets:
            struck.setdefault(onset // PRIOR_RESOLUTION, set()).add(onset % PRIOR_RESOLUTION)
        quarters = [tuple(sorted(struck.get(quarter, ()))) for quarter in range(max(struck, default=-1) + 1)]
        weight = min(1.0, 100 / max(1, len(quarters)))
        for pattern in quarters:
            single[pattern] = single.get(pattern, 0.0) + weight
        for first, second in itertools.pairwise(quarters):
            key = ">".join(" ".join(map(str, pattern)) for pattern in (first, second))
            double[key] = double.get(key, 0.0) + weight
    return single, double


def main() -> None:
    """Write the prior file."""
    assert not set(tuning_names()) & set(TEST_PIECES)
    onsets = [[note[0] for note in piece.notes] for piece in pieces_for_tuning()]
    patterns, pairs = pattern_counts(onsets)
    data = {
        "source": "patterns within a quarter, in 24ths, counted by tests/benchmarks/learn_performed.py",
        "patterns": {
            " ".join(map(str, pattern)): round(weight, 2)
            for pattern, weight in sorted(patterns.items())
            if weight >= SEEN_LEAST
        },
        "pairs": {pair: round(weight, 2) for pair, weight in sorted(pairs.items()) if weight >= SEEN_LEAST},
    }
    path = Path(package_data.__file__).parent / package_data.RHYTHM_COUNTS
    path.write_text(json.dumps(data, indent=0, ensure_ascii=True) + "\n", encoding="utf-8")
    print(f"{len(onsets)} pieces, {len(data['patterns'])} patterns, {len(data['pairs'])} pairs -> {path.name}")


if __name__ == "__main__":
    main()
