"""Every example in a docstring and in docs/python.md is run, and what it prints is compared."""

from __future__ import annotations

import doctest
import inspect
import re
from importlib import import_module
from pathlib import Path

import pytest

import pegwright
from places import ROOT

NAMES = [name for name in pegwright.__all__ if name != "__version__"]
CENTRAL = [
    "BarMap", "FitOptions", "Finding", "FittedSong", "FittedTurn", "PinMap", "Placement", "Report", "Request", "Score",
    "TempoMap", "Wheel",
]  # fmt: skip
FLAGS = doctest.ELLIPSIS
GUIDE = ROOT / "docs" / "python.md"
BLOCK = re.compile(r"^```python\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def modules_with_examples() -> list[str]:
    root = ROOT / "src"
    paths = [path for path in sorted(root.rglob("*.py")) if ">>> " in path.read_text(encoding="utf-8")]
    dotted = [".".join(path.relative_to(root).with_suffix("").parts) for path in paths]
    return [name.removesuffix(".__init__") for name in dotted]


def outcome_of(test: doctest.DocTest) -> tuple[int, str]:
    """How many examples were run, and what was wrong with them."""
    said: list[str] = []
    failed, tried = doctest.DocTestRunner(verbose=False, optionflags=FLAGS).run(test, out=said.append)
    assert bool(failed) == bool(said)
    return tried, "".join(said)


@pytest.mark.parametrize("name", NAMES)
def test_every_public_name_has_a_docstring_with_an_example(name: str) -> None:
    text = inspect.getdoc(getattr(pegwright, name)) or ""
    first, _, rest = text.partition("\n")
    assert first.endswith((".", ":", ",")) or rest
    assert not first.startswith(f"{name}("), "the docstring that dataclasses make up"
    assert doctest.DocTestParser().get_examples(text)


def test_central_values_are_public() -> None:
    assert set(CENTRAL) <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_function_of_three_parameters_explains_each(name: str) -> None:
    value = getattr(pegwright, name)
    if not inspect.isfunction(value):
        return
    parameters = list(inspect.signature(value).parameters)
    text = inspect.getdoc(value) or ""
    if len(parameters) >= 3:
        explained = re.findall(r"^    ([a-z_, ]+):", text.split("Args:")[1], re.MULTILINE)
        assert set(parameters) <= {each.strip() for names in explained for each in names.split(",")}


@pytest.mark.parametrize("name", modules_with_examples())
def test_examples_of_a_module(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    module = import_module(name)
    tests = [test for test in doctest.DocTestFinder().find(module) if test.examples]
    assert tests
    for test in tests:
        tried, said = outcome_of(test)
        assert tried
        assert said == ""
    assert list(tmp_path.iterdir()) == []


def test_examples_of_the_guide(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    text = GUIDE.read_text(encoding="utf-8")
    blocks = list(BLOCK.finditer(text))
    assert len(blocks) == text.count("```") // 2, "a block is not marked as python, and so not run"
    only_blocks = ["\n"] * text.count("\n")  # so that a failure names the line of the page
    for block in blocks:
        line = text[: block.start(1)].count("\n")
        lines = block[1].splitlines(keepends=True)
        assert lines[0].startswith(">>> ")
        only_blocks[line : line + len(lines)] = lines
    test = doctest.DocTestParser().get_doctest("".join(only_blocks), {}, GUIDE.name, str(GUIDE), 0)
    tried, said = outcome_of(test)
    assert said == ""
    assert tried >= len(blocks)


def test_a_wrong_example_is_caught() -> None:
    test = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, 0)
    tried, said = outcome_of(test)
    assert tried == 1
    assert "Expected" in said
