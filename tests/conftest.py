"""Hypothesis here: no deadlines (speed is for benchmarks), the same cases on every run of CI, more if thorough."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

from thorough import cases

os.environ.pop("COLUMNS", None)  # output of commands is 100 cells wide then, whatever terminal the tests run on

settings.register_profile(
    "house", deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=cases(sample=60, full=1000)
)
settings.register_profile("ci", settings.get_profile("house"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "house")
