"""How hypothesis runs here: no deadlines (speed is for benchmarks), and the same cases on every run of CI."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("house"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "house")
