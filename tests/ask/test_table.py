"""The table of all that can be asked: whole, without contradictions, light, and of the bounds that other rooms hold."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import fields
from importlib.resources import files

import pytest

from pegwright.ask import kinds
from pegwright.ask.options import DEFAULT_PRIORITY, ChannelRule, FitOptions, SearchRange
from pegwright.ask.request import Request
from pegwright.ask.table import BY_NAME, MAX_TURN_STEPS, OPTIONS, OUTPUT_OPTIONS, PAPERS, Topic
from pegwright.config.wheel_file import MAX_PLATES, MAX_STEPS
from pegwright.draw.paper import PAPERS as KNOWN_PAPERS
from pegwright.search.table import MOST_SEMITONES
from pegwright.show.count import MAX_SPARES_PERCENT

NAMES = [path.name for path in files("pegwright.ask").iterdir()]
MODULES = sorted(name.removesuffix(".py") for name in NAMES if name.endswith(".py"))


@pytest.mark.parametrize("module", MODULES)
def test_no_module_loads_more_than_the_standard_library_and_our_own(module: str) -> None:
    code = (
        "import sys; before = set(sys.modules)\n"
        f"import pegwright.ask.{module}\n"
        "print(*{name.partition('.')[0] for name in set(sys.modules) - before} - set(sys.stdlib_module_names))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == ["pegwright"]


def test_every_field_of_a_request_can_be_asked_for() -> None:
    """But for the parts that the dotted ones fill, and how much of a search is reported."""
    own = {field.name for field in fields(Request)} - {"options", "search", "report_best"}
    fit = {f"options.{field.name}" for field in fields(FitOptions)}
    search = {f"search.{field.name}" for field in fields(SearchRange)}
    assert {option.target for option in OPTIONS} == own | fit | search


def test_names_and_keys_stand_once_and_every_reference_leads_somewhere() -> None:
    everything = (*OPTIONS, *OUTPUT_OPTIONS)
    assert len({option.typed for option in everything}) == len({option.key for option in everything}) == len(BY_NAME)
    assert len(everything) == len(BY_NAME)
    for number, option in enumerate(OPTIONS):
        before = {earlier.name for earlier in OPTIONS[:number]}
        assert not option.goes_with or option.goes_with in before, "it is read first"
        if isinstance(option.kind, kinds.OrAuto):
            assert hasattr(SearchRange(), option.kind.searched)


def test_every_option_is_in_a_group_and_says_what_it_does() -> None:
    assert {option.group for option in OPTIONS} == set(Topic) - {Topic.OUTPUT}
    assert {option.group for option in OUTPUT_OPTIONS} == {Topic.OUTPUT}
    assert all(option.help.endswith(".") and option.help[:-1] for option in (*OPTIONS, *OUTPUT_OPTIONS))


def test_bounds_are_those_that_other_rooms_hold() -> None:
    assert (kinds.PRIORITY.minimum, kinds.PRIORITY.maximum) == (DEFAULT_PRIORITY, 99)
    assert MAX_TURN_STEPS == MAX_PLATES * MAX_STEPS
    assert BY_NAME["ornaments"].kind == kinds.GRAIN == kinds.NoteValue(8, 128)
    assert BY_NAME["swing"].kind == kinds.SWING == kinds.Ratio(100, ("straight",))
    farthest, spares = BY_NAME["semitones"].kind, BY_NAME["spares"].kind
    assert isinstance(farthest, kinds.Whole)
    assert isinstance(spares, kinds.Number)
    assert (farthest.maximum, spares.maximum) == (MOST_SEMITONES, MAX_SPARES_PERCENT)
    rule, paper = BY_NAME["channel_rule"].kind, BY_NAME["paper"].kind
    assert isinstance(rule, kinds.WordChoice)
    assert isinstance(paper, kinds.WordChoice)
    assert rule.words == tuple(ChannelRule)
    assert paper.words == PAPERS == tuple(known.name for known in KNOWN_PAPERS)
