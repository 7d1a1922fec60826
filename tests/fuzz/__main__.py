"""Inputs at random, many: `python -m tests.fuzz --count 20000`, for each kind, from the top of a checkout.

Every input that fails is kept in `tests/fuzz/kept`, where the ordinary tests try it again. Exit code 1 if any did.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from fuzz.run import KINDS, case_of, faults, keep, tried


def try_case(kind: str, number: int, seed: int) -> tuple[int, list[str]]:
    """The exit code and the faults of a case, which is kept if it has any."""
    data, arguments = case_of(kind, number, seed)
    result = tried(data, arguments, kind)
    wrong = faults(result, arguments)
    if wrong:
        folder = keep(kind, data, arguments)
        wrong.append(f"kept as {folder.name}: {(result.err.strip() or result.out)[-300:]}")
    return result.code, wrong


def main() -> None:
    """Try as many cases of each kind as are asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="cases of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--kind", action="append", choices=list(KINDS), help="may be given many times")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    failed = False
    with ProcessPoolExecutor(asked.workers, get_context("fork")) as pool:
        for kind in asked.kind or KINDS:
            began, codes = time.monotonic(), Counter[int]()
            numbers = range(asked.first, asked.first + asked.count)
            jobs = [pool.submit(try_case, kind, number, asked.seed) for number in numbers]
            for number, job in zip(numbers, jobs, strict=True):
                code, wrong = job.result()
                codes[code] += 1
                if wrong:
                    failed = True
                    print(f"  {kind} {number}: {'; '.join(wrong)}", flush=True)
            ends = ", ".join(f"{count} with exit code {code}" for code, count in sorted(codes.items()))
            print(f"{kind}: {asked.count} cases in {time.monotonic() - began:.0f} s: {ends}", flush=True)
    sys.exit(failed)


if __name__ == "__main__":
    main()
