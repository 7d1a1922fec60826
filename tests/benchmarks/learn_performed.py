"""Count the rhythm prior of the performed quantiser and write it into the package.

    python tests/benchmarks/learn_performed.py

Reads the pieces named in `performed_tuning.txt` from music21's corpus (a few minutes) and seeded drum patterns; none of
them is a test piece of `bench_performed.py`. The same input gives the same bytes.
"""

from __future__ import annotations

import json
from pathlib import Path

from performed_data import TEST_PIECES, pieces_for_tuning, tuning_names

from pegwright import package_data
from pegwright.played import model as performed_model

SEEN_LEAST = 0.3  # weight below which a pair of patterns says nothing


def main() -> None:
    """Write the prior file."""
    assert not set(tuning_names()) & set(TEST_PIECES)
    onsets = [[note[0] for note in piece.notes] for piece in pieces_for_tuning()]
    patterns, pairs = performed_model.pattern_counts(onsets)
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
