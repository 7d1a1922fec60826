"""The least work between pinnings, against trying every exchange, scipy's assignment and the swap itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

import pegwright.show.work as work_module
import shows
from pegwright.columns import frozen_ints
from pegwright.show.swap import least_work, work_table
from pegwright.show.work import Works


@settings(max_examples=60)
@given(seed=st.integers(0, 10**6), plates=st.integers(1, 4), keep=st.booleans())
def test_the_least_work_is_that_of_the_best_of_all_exchanges(seed: int, plates: int, keep: bool) -> None:
    rng = np.random.default_rng(seed)
    old, new = shows.table(rng, 2, plates), shows.table(rng, 3, plates)
    allowed = shows.fixed_plates(plates, *([plates - 1] if keep else []))
    works = Works([old, new], allowed)
    expected = [[shows.pins_moved(one, other, allowed) for other in new] for one in old]
    assert works.between(0, 1).tolist() == expected
    assert works.between(1, 0).tolist() == np.transpose(expected).tolist()
    assert works.pins(0).tolist() == [int((one > 0).sum()) for one in old]


@pytest.mark.parametrize("plates", [3, 6, 9])
def test_listing_exchanges_and_assigning_them_agree(plates: int, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(plates)
    tables = [shows.table(rng, 5, plates, types=3, holes=40) for _ in range(2)]
    allowed = shows.fixed_plates(plates, 1)
    allowed = frozen_ints(np.where(np.add.outer(range(plates), range(plates)) == plates, 0, allowed))
    listed = Works(tables, allowed).between(0, 1)
    monkeypatch.setattr(work_module, "MAX_LISTED", 0)
    assigned = Works(tables, allowed).between(0, 1)
    assert listed.tolist() == assigned.tolist()
    swapped = [[least_work(work_table(one, other), allowed) for other in tables[1]] for one in tables[0]]
    assert assigned.tolist() == swapped


def test_against_scipys_assignment() -> None:
    """scipy.optimize.linear_sum_assignment on the work of each plate as each other plate."""
    rng = np.random.default_rng(5)
    old, new = shows.table(rng, 1, 6, holes=200), shows.table(rng, 1, 6, holes=200)
    moved = np.array([[(a != b) @ ((a > 0).astype(int) + (b > 0)) for b in new[0]] for a in old[0]])
    rows, columns = linear_sum_assignment(moved)
    assert Works([old, new], shows.fixed_plates(6)).between(0, 1)[0, 0] == moved[rows, columns].sum()


def test_plates_kept_in_their_places() -> None:
    rng = np.random.default_rng(1)
    old, new = shows.table(rng, 2, 3), shows.table(rng, 2, 3)
    works = Works([old, new], shows.fixed_plates(3))
    stay = shows.fixed_plates(3, 0, 1, 2)
    assert works.in_place(0, 1).tolist() == [[shows.pins_moved(a, b, stay) for b in new] for a in old]
    assert (works.between(0, 1) <= works.in_place(0, 1)).all()


def test_empty_plates_cost_the_pins_of_the_other_song() -> None:
    rng = np.random.default_rng(2)
    song, empty = shows.table(rng, 2, 3), np.zeros((1, 3, shows.HOLES), dtype=np.uint8)
    works = Works([empty, song], shows.fixed_plates(3))
    assert works.between(0, 1)[0].tolist() == works.pins(1).tolist()
    assert Works([empty, empty], shows.fixed_plates(3)).between(0, 1).tolist() == [[0]]
