"""The smallest set of additions, against trying every set and against integer programming."""

from __future__ import annotations

from itertools import chain, combinations

from hypothesis import given
from hypothesis import strategies as st

from pegwright.remedy.additions import Addition, AdditionKind
from pegwright.remedy.cover import smallest_cover

PITCHES = [Addition(AdditionKind.PITCH, pitch) for pitch in range(60, 66)]
RETUNED = [
    Addition(AdditionKind.RETUNED, pitch, channel=name) for pitch in range(60, 63) for name in ("low bell", "high bell")
]
CHOICES = st.lists(
    st.builds(
        lambda plain, retuned: (*retuned, *plain),
        st.lists(st.sampled_from(PITCHES), min_size=1, max_size=4, unique=True),
        st.lists(st.sampled_from(RETUNED), max_size=2, unique=True),
    ),
    min_size=1,
    max_size=7,
)
Choices = list[tuple[Addition, ...]]


def ordered(choices: Choices) -> list[Addition]:
    """What can be added, the preferred first."""
    return sorted(dict.fromkeys(chain.from_iterable(choices)), key=lambda one: one.kind != AdditionKind.RETUNED)


def serves(additions: tuple[Addition, ...], choices: Choices) -> bool:
    """Whether additions have one of every list, and no channel twice."""
    retuned = [one.channel for one in additions if one.kind is AdditionKind.RETUNED]
    return len(set(retuned)) == len(retuned) and all(set(additions) & set(choice) for choice in choices)


def cost(additions: tuple[Addition, ...], choices: Choices) -> tuple[int, int]:
    """How many, then how far from the first."""
    return len(additions), sum(map(ordered(choices).index, additions))


@given(CHOICES)
def test_no_set_is_smaller(choices: Choices) -> None:
    covers = smallest_cover(choices), smallest_cover(choices, max_nodes=0)  # the second by scipy's `milp`
    for cover in covers:
        assert serves(cover, choices)
    known = ordered(choices)
    for size in range(len(covers[0]) + 1):
        for every in combinations(known, size):
            assert not serves(every, choices) or cost(every, choices) >= cost(covers[0], choices)
    assert cost(covers[0], choices) == cost(covers[1], choices)


def test_a_large_one_ends() -> None:
    """Every pair of 40 additions as a list: all but one are taken, which the simple bound is far from proving."""
    additions = [Addition(AdditionKind.PITCH, pitch) for pitch in range(40)]
    assert len(smallest_cover(list(combinations(additions, 2)))) == 39
