"""Plain words: no term of the old dialect, one name a class, arguments described; each guard is shown an offence."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import pytest

import guards

# Terms of the old dialect, as regular expressions over prose, each with the standard terms to use.
DIALECT = {
    r"told|tells?|telling": "reports, says, gives, describes",
    r"reckon(s|ed|ing)?": "computes, counts",
    r"draws? lots|by lot": "random",
    r"(above|below|beyond|within|at) the (most|least)": "the maximum, the minimum",
    r"the (most|least) (that|which|it|there)|the (most|least)(?=[,;:)]|$)": "the maximum, the minimum",
    r"stands? (once|twice|beside)": "appears once, is given together with",
    r"(is|are) there already|comes? twice": "is a duplicate, without duplicates",
    r"(came|comes?|became|becomes?) of (it|them|the|every|each|a|an)": "the outcome, the result",
    r"weighed": "compared",
    r"quick(er|est|ly)?": "fast, faster",
    r"a hair|for good|by and by|as yet|at a stroke|a sign of life|amiss|whoever": "a plain statement",
    r"passed over": "skipped, ignored",
    r"held against": "compared with",
    r"so (many|much)(?! (that|as))": "a number of, by how much",
    r"is no (archive|CSV|drawing|JSON|MIDI|MusicXML|number|score|text|TOML|way|pin map)": "is not a ...",
    r"what (was|is|were) asked": "the options, the request",
}
PATTERN = re.compile(r"\b(" + "|".join(f"(?:{term})" for term in DIALECT) + r")(?!\w)", re.IGNORECASE)

# Names that hold what they do not say; `it` is the thing itself, which has a noun.
EMPTY_NAMES = frozenset({"told", "found", "made", "heard", "asked", "it", "done"})
EMPTY_FUNCTION = re.compile(r"_*(told|tells?|heard|asked|found|made)(_\w+)?")

REFERS = re.compile(r"\b[Aa]rguments (as|are|and)\b")  # to a function that describes them
MANY = 3  # parameters from which each is described


def prose(text: str) -> Iterator[tuple[int, str]]:
    """Line and text of every docstring, comment and string literal; a literal of one word is a key, not prose."""
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT:
            yield token.start[0], token.string
    tree = ast.parse(text)
    parts = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts |= {id(value) for value in node.values}
            words = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in parts:
            words = node.value
        else:
            continue
        if len(words.split()) > 1:
            yield node.lineno, words


def dialect(text: str) -> list[str]:
    """Terms of the dialect in the prose of a module, with their lines."""
    return [
        f"line {line}: {match[0]!r}"
        for line, words in prose(text)
        for match in PATTERN.finditer(" ".join(words.split()))
    ]


def stored_names(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Every name that a module gives to a value, with its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.lineno, node.id if isinstance(node, ast.Name) else node.attr
        elif isinstance(node, ast.arg):
            yield node.lineno, node.arg
        elif isinstance(node, ast.ExceptHandler | ast.MatchAs) and node.name:
            yield node.lineno, node.name


def empty_names(text: str) -> list[str]:
    """Names of values and functions that do not say what they hold or return."""
    tree = ast.parse(text)
    faults = [f"line {line}: {name}" for line, name in stored_names(tree) if name in EMPTY_NAMES]
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    return faults + [f"line {node.lineno}: {node.name}" for node in functions if EMPTY_FUNCTION.fullmatch(node.name)]


def undescribed(text: str) -> list[str]:
    """Public functions and methods with many parameters and no section on them.

    Not those whose parameters come from a library's signature: commands, whose docstring is their help, and
    methods of a class that extends one of a library's.
    """
    return sorted(_undescribed(ast.parse(text).body))


def _undescribed(body: Iterable[ast.stmt]) -> Iterator[str]:
    for node in body:
        if isinstance(node, ast.ClassDef) and not any(ast.unparse(base).startswith("click.") for base in node.bases):
            yield from _undescribed(node.body) if not node.name.startswith("_") else ()
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) or node.name.startswith("_"):
            continue
        if any(ast.unparse(decorator).startswith("command") for decorator in node.decorator_list):
            continue
        arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        count = sum(argument.arg not in {"self", "cls"} for argument in arguments)
        description = ast.get_docstring(node) or ""
        if count >= MANY and "Args:\n" not in description and not REFERS.search(description):
            yield f"{node.name} has {count} parameters"


def classes_twice(texts: Mapping[str, str]) -> dict[str, list[str]]:
    """Class names that occur more than once, with the modules that have them.

    Args:
        texts: of modules, by path.
    """
    homes: dict[str, list[str]] = defaultdict(list)
    for path, text in texts.items():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.ClassDef):
                homes[node.name].append(path)
    return {name: paths for name, paths in homes.items() if len(paths) > 1}


SOURCES = {
    path.relative_to(guards.PACKAGE).as_posix(): path.read_text(encoding="utf-8")
    for path in sorted(Path(guards.PACKAGE).rglob("*.py"))
}


# Expressions that no one says, which were in a sentence, a heading or a label; each with what is written instead.
UNUSUAL = {
    r"told you so|audible still": "a plain statement",
    r"in one strike with": "sharing the pin of",
    r"again and again": "repeat, repeatedly",
    r"\bboth, (pins|score) left\b": "both: score left, pins right",
    r"\bface on\b": "seen along its axle",
    r"as given, each song|plates in their places": "as listed, no plate moved to another place",
    r"\bmay belong in another hole\b": "in doubt",
    r"quarters a minute": "quarter notes a minute",
}


def shown_to_people() -> dict[str, str]:
    """What a user reads: sentences in the program's text, its pages, and the documents, by file."""
    texts = {path: "\n".join(words for _, words in prose(text)) for path, text in SOURCES.items()}
    for kind in ("*.html", "*.js", "*.toml", "*.json"):
        texts |= {str(file): file.read_text("utf-8") for file in Path(guards.PACKAGE).rglob(kind)}
    return texts | {str(page): page.read_text("utf-8") for page in guards.pages() if page.name != "changes.md"}


@pytest.mark.parametrize("expression", UNUSUAL)
def test_no_user_reads_an_expression_that_no_one_says(expression: str) -> None:
    assert [file for file, text in shown_to_people().items() if re.search(expression, text)] == []


@pytest.mark.parametrize("path", SOURCES)
def test_prose_is_free_of_the_dialect(path: str) -> None:
    assert dialect(SOURCES[path]) == []


@pytest.mark.parametrize("path", SOURCES)
def test_names_say_what_they_hold(path: str) -> None:
    assert empty_names(SOURCES[path]) == []


@pytest.mark.parametrize("path", SOURCES)
def test_many_parameters_are_described(path: str) -> None:
    assert undescribed(SOURCES[path]) == []


def test_modules_are_named_by_nouns() -> None:
    assert [path for path in SOURCES if EMPTY_FUNCTION.fullmatch(Path(path).stem)] == []


def test_no_class_name_occurs_twice() -> None:
    assert classes_twice(SOURCES) == {}


@pytest.mark.parametrize(
    "text",
    [
        '"""Every note is told."""',
        "LIMIT = 3  # reckoned in floats",
        'raise ValueError(f"{value} is above the most, {most}")',
        'raise ValueError("0 is below the least, 1")',
        "def f():\n    '''The most\n    that a plate carries.'''",
        'HINT = "each key stands once"',
        'HINT = f"{name} is there already"',
        'TEXT = "Weighed so many starts"',
        "x = 1  # draws lots",
        "x = 1  # what came of it",
        "x = 1  # the quick way",
        "x = 1  # nearer by a hair",
        'TEXT = "files that were passed over"',
        'TEXT = "it is no score"',
        '"""What was asked."""',
    ],
)
def test_dialect_is_caught(text: str) -> None:
    assert dialect(text)


@pytest.mark.parametrize(
    "text",
    [
        'KEY = {"told": 1}',
        '"""The most frequent reason; at least one, at most two."""',
        "found = 1  # a channel is found by its name",
        'TEXT = f"{told} is above the maximum"',
        "x = 1  # as many as there are, so much that it exceeds the maximum",
    ],
)
def test_standard_words_and_keys_are_let_through(text: str) -> None:
    assert dialect(text) == []


@pytest.mark.parametrize("term", DIALECT)
def test_every_term_has_another_to_use(term: str) -> None:
    assert DIALECT[term]
    re.compile(term)


@pytest.mark.parametrize(
    "text",
    [
        "told = 1",
        "for it in range(3):\n    print(it)",
        "names = [found.name for found in rows]",
        "def f(made):\n    return made",
        "f = lambda it: it.count",
        "with open(name) as found:\n    pass",
        "class C:\n    heard: int = 0",
        "def f(self):\n    self.found = []",
        "try:\n    f()\nexcept ValueError as told:\n    pass",
        "def _told(rows):\n    return rows",
        "def told_later():\n    pass",
        "if (it := f()):\n    pass",
    ],
)
def test_names_that_say_nothing_are_caught(text: str) -> None:
    assert empty_names(text)


@pytest.mark.parametrize("text", ["edits = 1", "def founded():\n    return best.found"])
def test_names_that_say_something_are_let_through(text: str) -> None:
    assert empty_names(text) == []


@pytest.mark.parametrize(
    ("text", "caught"),
    [
        ('def f(a, b, c):\n    """Nothing."""', True),
        ('class C:\n    def f(self, a, b, *, c):\n        """Nothing."""', True),
        ('def f(a, b, c):\n    """All.\n\n    Args:\n        a: one.\n    """', False),
        ('def f(a, b, c):\n    """All; arguments as for `g`."""', False),
        ('class C:\n    def f(self, a, b):\n        """Nothing."""', False),
        ("def _f(a, b, c):\n    pass", False),
        ("class _C:\n    def f(self, a, b, c):\n        pass", False),
        ("@command(epilog='x')\ndef f(a, b, c):\n    pass", False),
        ("class C(click.Path):\n    def convert(self, a, b, c):\n        pass", False),
    ],
)
def test_undescribed_parameters_are_caught(text: str, caught: bool) -> None:
    assert bool(undescribed(text)) is caught


def test_a_class_name_that_occurs_twice_is_caught() -> None:
    texts = {
        "one.py": "class Rim:\n    pass",
        "other.py": "def f():\n    class Rim:\n        pass\nclass Pin:\n    pass",
    }
    assert classes_twice(texts) == {"Rim": ["one.py", "other.py"]}
