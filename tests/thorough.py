"""How many cases a test runs: a seeded sample in the usual run, all of them in `bash tests/run --thorough`."""

from __future__ import annotations

import os


def cases(sample: int, full: int) -> int:
    """The number of cases of this run."""
    return full if os.environ.get("PEGWRIGHT_THOROUGH") == "1" else sample
