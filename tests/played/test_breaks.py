"""A stop, and a change of tempo, is believed where the notes about it speak for it."""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats
from pegwright.played.bar_fronts import Start
from pegwright.played.breaks import BEFORE, change_shows, stops_show
from pegwright.played.one_way import OneWay

COUNT, AT = 40, 20


def way(each: Floats, waited_s: Floats | None = None, quarter_s: Floats | None = None) -> OneWay:
    """A way with these log likelihoods of its clusters."""
    number, none = np.arange(len(each)), np.zeros(len(each))
    waited_s, quarter_s = none if waited_s is None else waited_s, none + 0.5 if quarter_s is None else quarter_s
    return OneWay(Start(0.0, 0, 0.5, 0.1), number, quarter_s, waited_s, np.cumsum(each), float(each.sum()))


def late_at(cluster: int) -> Floats:
    return np.where(np.arange(COUNT) == cluster, 0.3, 0.0)


def test_a_stop_shows_by_the_notes_about_it_alone() -> None:
    number = np.arange(COUNT)
    even = way(np.zeros(COUNT))
    soon, far = (np.where(abs(number - here) < 2, 1.0, -0.1) for here in (AT + 3, AT + 18))
    assert stops_show(way(soon, late_at(AT)), even)
    assert not stops_show(way(far, late_at(AT)), even)
    assert not stops_show(way(soon), even), "who never waited did not stop"


def tempo_from(cluster: int, times: float) -> Floats:
    return np.where(np.arange(COUNT) < cluster, 0.5, 0.5 * times)


def test_a_change_shows_where_the_music_was_likelier_before_it() -> None:
    changed = np.arange(COUNT) >= AT
    changing = way(np.full(COUNT, 1.0), quarter_s=tempo_from(AT, 1.3))
    assert change_shows(changing, way(np.where(changed, 0.0, 1.0)))
    assert not change_shows(changing, way(np.zeros(COUNT))), "it is as odd throughout"


def test_a_change_at_the_beginning_does_not_show() -> None:
    changed = np.arange(COUNT) >= BEFORE
    even = way(np.where(changed, 0.0, 1.0))
    assert not change_shows(way(np.full(COUNT, 1.0), quarter_s=tempo_from(BEFORE, 1.3)), even)
    later = np.arange(COUNT) > BEFORE
    assert change_shows(way(np.full(COUNT, 1.0), quarter_s=tempo_from(BEFORE + 1, 1.3)), way(np.where(later, 0.0, 1.0)))


def test_where_the_tempo_hardly_changes_nothing_has_to_show() -> None:
    assert change_shows(way(np.full(COUNT, 1.0), quarter_s=tempo_from(1, 1.02)), way(np.zeros(COUNT)))
