"""Every sentence of the verifier is seen to come, by itself, of a placement that breaks its rule and no other.

The sentences are taken from the source, so that a rule without a case fails here, and so does a rule that never fires.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from broken_held import HELD, Held, held
from broken_placements import CASES, Case, fitted, wheel_of
from guards import PACKAGE
from pegwright.check.held import verify_held
from pegwright.check.verify import verify
from pegwright.columns import frozen_ints
from samples import score


def template(node: ast.expr) -> str | None:
    """A sentence with `{}` for what is filled in; None for what is no literal."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
    return None


def sentences_in(text: str) -> Iterator[str | None]:
    """What is yielded, or given to `each` and `each_of`, in a module; those two functions themselves left out."""

    def below(node: ast.AST) -> Iterator[ast.AST]:
        for child in ast.iter_child_nodes(node):
            if not (isinstance(child, ast.FunctionDef) and child.name in {"each", "each_of"}):
                yield child
                yield from below(child)

    for node in below(ast.parse(text)):
        if isinstance(node, ast.Yield):
            yield template(node.value) if node.value else None
        elif isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name in {"each", "each_of"}:
                yield template(node.args[-1])


def all_sentences() -> list[str | None]:
    return [
        sentence
        for path in sorted((PACKAGE / "check").glob("*.py"))
        for sentence in sentences_in(path.read_text(encoding="utf-8"))
    ]


SENTENCES = sorted({sentence for sentence in all_sentences() if sentence is not None})


def template_of(sentence: str) -> str:
    """Which of the sentences it is: of those that match, the one with the most text of its own."""
    matching = [
        text
        for text in SENTENCES
        if re.fullmatch(r"(note \d+ at .+? |channel \w+: )?" + ".+".join(map(re.escape, text.split("{}"))), sentence)
    ]
    assert matching, sentence
    return max(matching, key=lambda text: len(text.replace("{}", "")))


def test_every_sentence_is_a_literal() -> None:
    """A sentence put together elsewhere could not be seen here."""
    assert None not in all_sentences()
    assert len(SENTENCES) > 40


def test_every_sentence_has_a_case_that_makes_it_come() -> None:
    assert sorted({sentence for sentence, _, _ in (*CASES, *HELD)}) == SENTENCES


@pytest.mark.parametrize(
    ("sentence", "build"),
    [(text, build) for text, _, build in CASES],
    ids=[f"{text[:50]}: {what}" for text, what, _ in CASES],
)
def test_a_broken_rule_is_told_by_its_own_sentence_alone(sentence: str, build: Callable[[], Case]) -> None:
    song, on, placement = build()
    broken = verify(song, on, placement)
    assert {template_of(line) for line in broken} == {sentence}, broken


@pytest.mark.parametrize(
    ("sentence", "build"),
    [(text, build) for text, _, build in HELD],
    ids=[f"{text[:50]}: {what}" for text, what, _ in HELD],
)
def test_a_broken_rule_of_held_notes_is_told_by_its_own_sentence_alone(
    sentence: str, build: Callable[[], Held]
) -> None:
    broken = verify_held(*build())
    assert {template_of(line) for line in broken} == {sentence}, broken


@pytest.mark.parametrize(("onset", "restrike_ms"), [(6, 125.1), (7, 200.0), (7, 250.1)])
def test_a_held_note_may_begin_as_soon_as_the_restrike_is_over(onset: int, restrike_ms: float) -> None:
    """Counted from where the pin before has let go, a step after it trips; 0.02 mm are 0.16 ms of slack."""
    on, placement, pins = held((4, 1), (onset, 1))
    slow = replace(on, channels=(replace(on.channels[0], restrike_ms=restrike_ms),))
    assert verify_held(slow, placement, pins) == ()


def test_a_sentence_without_a_case_is_seen() -> None:
    planted = 'def rule(subject):\n    yield f"the {subject} is new"\n    yield from subject.each([], "is new too")\n'
    assert list(sentences_in(planted)) == ["the {} is new", "is new too"]
    assert list(sentences_in("def rule(subject):\n    yield subject.words\n")) == [None]


def test_twenty_sentences_of_one_rule_are_given_and_the_rest_counted() -> None:
    song, on, placement = fitted(score([(6 * step, 60) for step in range(23)]), wheel_of())
    broken = verify(song, on, replace(placement, pin_type=frozen_ints([1] * 23)))
    assert len(broken) == 21
    assert broken[-1] == "3 more: has a pin_type that does not exist"
    just = frozen_ints([1] * 20 + [0] * 3)
    assert len(verify(song, on, replace(placement, pin_type=just))) == 20
