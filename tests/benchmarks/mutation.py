"""Mutation sampling: small faults are put into modules one at a time, and the tests have to see them.

    python tests/benchmarks/mutation.py                            every module, 150 mutants each, seed 1
    python tests/benchmarks/mutation.py --module check/pins.py --count 40 --seed 7 --own-only

Every mutant is tried in a copy of the tree, in a fork of a process that has loaded the large libraries
(`forked_tests.py`): first with the module's own tests, up to the first failure; one that survives those is tried with
all the tests there are but those of `tests/house`, which see the layout of a mutant and not what it does. Whatever then
survives is listed, and should have its reason in `mutation_survivors.md`; the exit code is 1 where one has none. The
same seed chooses the same mutants of the same source.
"""

from __future__ import annotations

import argparse
import ast
import compileall
import copy
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Set
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from pathlib import Path
from py_compile import PycInvalidationMode
from queue import Queue

sys.path.insert(0, str(Path(__file__).parents[1]))

from places import ROOT

PACKAGE = Path("src/pegwright")
REASONS = Path(__file__).with_name("mutation_survivors.md")
QUICK_TESTS = ("tests/check/test_bounds.py", "tests/check/test_sentences.py")
CHECK_TESTS = (*QUICK_TESTS, "tests/check")
OWN_TESTS = {  # a module, and what is to see its faults first
    "check/shape.py": CHECK_TESTS,
    "check/subject.py": CHECK_TESTS,
    "check/notes.py": CHECK_TESTS,
    "check/pins.py": CHECK_TESTS,
    "check/alone.py": (*CHECK_TESTS, "tests/correct/test_check_maps.py"),
    "check/reasons.py": CHECK_TESTS,
    "check/verify.py": CHECK_TESTS,
    "check/sentences.py": CHECK_TESTS,
    "check/wheel.py": (*CHECK_TESTS, "tests/ground/test_sets_of_plates.py"),
    "check/pin_map.py": (
        "tests/correct/test_pin_map_rules.py",
        "tests/correct/test_pin_map_times.py",
        "tests/correct/test_check_maps.py",
        "tests/correct",
    ),
    "check/held.py": ("tests/check/test_held.py", "tests/check"),
    "fit/cyclic.py": ("tests/fit/test_cyclic.py", "tests/fit/test_problem.py", "tests/fit/test_assign.py"),
    "read/midi/time.py": ("tests/read/midi/test_time.py", "tests/read/midi"),
}
ALL_TESTS = ("tests", "--ignore=tests/house")
SLOWER = 10  # times as long as without a fault: then a mutant counts as one that never ends
SLACK_S = 20

COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
OPERATIONS: dict[type[ast.operator], tuple[type[ast.operator], ...]] = {
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.FloorDiv,),
    ast.Div: (ast.Mult,),
    ast.FloorDiv: (ast.Mult,),
    ast.Mod: (ast.Mult,),
    ast.BitAnd: (ast.BitOr,),
    ast.BitOr: (ast.BitAnd,),
}
NAMES = {
    "min": "max",
    "maximum": "minimum",
    "any": "all",
    "argmin": "argmax",
    "floor": "ceil",
    "rint": "floor",
    "left": "right",
}
NAMES |= {other: name for name, other in NAMES.items()}


@dataclass(frozen=True)
class Mutant:
    """One fault: where it is, what the line was and became, and the whole module with it."""

    module: str
    line: int
    before: str
    after: str
    text: str = field(repr=False, compare=False)

    def __str__(self) -> str:
        return f"{self.module}:{self.line}: `{self.before}` -> `{self.after}`"

    @property
    def key(self) -> tuple[str, str, str]:
        """What names it in the list of reasons, whatever stands above it in the module."""
        return self.module, self.before, self.after


def mutants_of(module: str, source: str, lines: Set[str] | None = None) -> list[Mutant]:
    """Every mutant of a module, in the order of its source.

    Args:
        module: its place in the package.
        source: its text.
        lines: mutants of statements without any of these lines, as unparsed, are left out; None keeps all.
    """
    plain = ast.parse(source)
    mutants = []
    for number, place in enumerate(_faults(plain)):
        if lines is not None and lines.isdisjoint(_lines(ast.unparse(place.statement))):
            continue
        tree = copy.deepcopy(plain)
        fault = next(islice(_faults(tree), number, None))
        before = ast.unparse(fault.statement)
        fault.put()
        after = ast.unparse(ast.fix_missing_locations(fault.statement))
        text = ast.unparse(ast.fix_missing_locations(tree)) + "\n"
        mutants.append(Mutant(module, fault.line, *_differing(before, after), text))
    return list(dict.fromkeys(mutant for mutant in mutants if mutant.before != mutant.after))


def _differing(before: str, after: str) -> tuple[str, str]:
    """The first line of a statement that differs, before and after."""
    pairs = zip(_lines(before), _lines(after), strict=False)
    whole = " ".join(before.split()), " ".join(after.split())
    return next(((one, other) for one, other in pairs if one != other), whole)


def _lines(text: str) -> list[str]:
    return [" ".join(line.split()) for line in text.splitlines()]


@dataclass(frozen=True)
class _Place:
    """Where a node hangs in a tree: a field of its parent, or one item of it; and the statement it stands in."""

    parent: ast.AST
    name: str
    index: int | None
    statement: ast.stmt

    def replace(self, node: ast.AST) -> None:
        """Hang another node there."""
        if self.index is None:
            setattr(self.parent, self.name, node)
        else:
            getattr(self.parent, self.name)[self.index] = node


@dataclass(frozen=True)
class _Fault:
    """Something that can be made wrong in a tree."""

    line: int
    statement: ast.stmt
    put: Callable[[], object]


def _faults(tree: ast.Module) -> Iterator[_Fault]:
    """Everything that can be made wrong, in the order of the source."""
    for node, place in _mutable(tree, None):
        line = getattr(node, "lineno", place.statement.lineno)
        for name, value in _changes(node):
            yield _Fault(line, place.statement, partial(setattr, node, name, value))
        for other in _replacements(node):
            yield _Fault(line, place.statement, partial(place.replace, other))


def _mutable(tree: ast.AST, statement: ast.stmt | None) -> Iterator[tuple[ast.AST, _Place]]:
    """Nodes inside statements, with their places; no types, imports, docstrings, decorators or texts."""
    for name, value in ast.iter_fields(tree):
        if name in {"annotation", "returns", "decorator_list", "type_params"}:
            continue
        for index, node in enumerate(value if isinstance(value, list) else [value]):
            docstring = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
            if (
                docstring
                or isinstance(node, ast.Import | ast.ImportFrom | ast.JoinedStr)
                or not isinstance(node, ast.AST)
            ):
                continue
            inside = node if isinstance(node, ast.stmt) else statement
            if inside is not None:
                yield node, _Place(tree, name, index if isinstance(value, list) else None, inside)
            yield from _mutable(node, inside)


def _changes(node: ast.AST) -> Iterator[tuple[str, object]]:
    """Fields of a node and what they can be instead."""
    match node:
        case ast.Compare():
            for place, one in enumerate(node.ops):
                for other in COMPARISONS[type(one)]:
                    yield "ops", [*node.ops[:place], other(), *node.ops[place + 1 :]]
        case ast.BinOp() | ast.AugAssign():
            yield from (("op", other()) for other in OPERATIONS.get(type(node.op), ()))
        case ast.BoolOp():
            yield "op", ast.Or() if isinstance(node.op, ast.And) else ast.And()
        case ast.UnaryOp():
            yield "operand", ast.UnaryOp(node.op, node.operand)  # twice, which is not at all
        case ast.If() | ast.While() | ast.IfExp():
            yield "test", ast.UnaryOp(ast.Not(), node.test)
        case ast.Slice():
            yield from ((name, None) for name in ("lower", "upper") if getattr(node, name) is not None)
        case ast.Name() if node.id in NAMES:
            yield "id", NAMES[node.id]
        case ast.Attribute() if node.attr in NAMES:
            yield "attr", NAMES[node.attr]
        case ast.Constant(value=str()) if node.value in NAMES:
            yield "value", NAMES[node.value]
        case ast.Constant(value=bool()):
            yield "value", not node.value
        case ast.Constant(value=int() | float() as number):
            yield from (("value", number + by) for by in (1, -1))
        case ast.Assign(targets=[ast.Subscript()]):
            yield "targets", [ast.Name("_", ast.Store())]  # computed and dropped


def _replacements(node: ast.AST) -> Iterator[ast.AST]:
    """What can stand in the place of a node: a part of it alone, or nothing."""
    match node:
        case ast.BinOp():
            yield from (node.left, node.right)
        case ast.BoolOp():
            yield from node.values
        case ast.Call(func=ast.Attribute(attr="asarray")):
            return  # there for the type checker alone
        case ast.Call(args=[ast.expr() as first, *_]) if not isinstance(first, ast.Starred):
            yield first
        case ast.IfExp():
            yield from (node.body, node.orelse)
        case ast.Expr(value=ast.Yield() | ast.YieldFrom()):
            yield ast.Expr(ast.YieldFrom(ast.Tuple([], ast.Load())))
        case ast.Expr() | ast.AugAssign() | ast.Raise() | ast.Break() | ast.Continue():
            yield ast.Pass()


@dataclass
class Tally:
    """What became of the mutants of a module."""

    own: int = 0
    whole: int = 0
    endless: int = 0
    survivors: list[Mutant] = field(default_factory=list)


class Tree:
    """A copy of the tree in which mutants are tried, one at a time."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / ROOT.name
        ignore = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", ".hypothesis")
        shutil.copytree(ROOT, self.root, ignore=ignore)
        if (ROOT.parent / "shared").is_dir():
            (folder / "shared").symlink_to(ROOT.parent / "shared")
        by_content = PycInvalidationMode.CHECKED_HASH  # two mutants may be of one size and within a second
        compileall.compile_dir(self.root / "src", quiet=1, invalidation_mode=by_content)
        self.limits_s: dict[tuple[str, ...], int] = {}
        self.runner = subprocess.Popen(
            [sys.executable, Path(__file__).with_name("forked_tests.py")],
            cwd=self.root,
            env=os.environ | {"PYTHONPATH": str(self.root / "src"), "CI": "1"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def outcome(self, tests: tuple[str, ...]) -> int | None:
        """The exit code of the tests, or None where they went on far longer than they should."""
        assert self.runner.stdout
        began = time.monotonic()
        arguments = ["-x", "-q", "-p", "no:cacheprovider", "--assert=plain", *tests]
        print(json.dumps([arguments, self.limits_s.get(tests, 0)]), file=self.runner.stdin, flush=True)
        answer = self.runner.stdout.readline()
        if not answer:
            raise SystemExit(f"the process that runs the tests has ended: {self.runner.wait()}")
        code: int | None = json.loads(answer)
        self.limits_s.setdefault(tests, round(SLOWER * (time.monotonic() - began) + SLACK_S))
        return code

    def check(self, tests: tuple[str, ...]) -> None:
        """Run the tests without a fault; they must pass, and how long they take bounds all that follows."""
        if self.outcome(tests) != 0:
            raise SystemExit(f"the tests fail without any fault: {' '.join(tests)}")

    def try_out(self, mutant: Mutant, tests: tuple[str, ...]) -> int | None:
        """Run tests with a fault in its module."""
        path = self.root / PACKAGE / mutant.module
        sound = path.read_text(encoding="utf-8")
        path.write_text(mutant.text, encoding="utf-8")
        try:
            return self.outcome(tests)
        finally:
            path.write_text(sound, encoding="utf-8")


def sample(module: str, trees: Queue[Tree], count: int, seed: int, own_only: bool) -> tuple[int, Tally]:
    """Try a seeded choice of a module's mutants; how many, and what became of them."""
    every = mutants_of(module, (ROOT / PACKAGE / module).read_text(encoding="utf-8"))
    chance = random.Random(f"{module} {seed}")  # noqa: S311  # a choice, no secret
    chosen = chance.sample(every, min(count, len(every)))
    tally = Tally()

    def tried(mutant: Mutant) -> tuple[Mutant, str]:
        tree = trees.get()
        try:
            for tests in (OWN_TESTS[module],) if own_only else (OWN_TESTS[module], ALL_TESTS):
                if tests not in tree.limits_s:
                    tree.check(tests)
                code = tree.try_out(mutant, tests)
                if code != 0:
                    return mutant, "endless" if code is None else "whole" if tests is ALL_TESTS else "own"
        finally:
            trees.put(tree)
        return mutant, "survived"

    with ThreadPoolExecutor(trees.qsize()) as pool:
        for mutant, fate in pool.map(tried, sorted(chosen, key=lambda mutant: mutant.line)):
            if fate == "survived":
                tally.survivors.append(mutant)
                print(f"  survived {mutant}", flush=True)
            else:
                setattr(tally, fate, getattr(tally, fate) + 1)
    return len(chosen), tally


def reasons() -> set[tuple[str, str, str]]:
    """The mutants for whose survival a reason is written down."""
    text = REASONS.read_text(encoding="utf-8") if REASONS.exists() else ""
    return set(re.findall(r"^- `([^`]+)` `([^`]+)` -> `([^`]+)`: \S", text, flags=re.MULTILINE))


def main() -> None:
    """Sample the modules asked for and list what survives."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--module", action="append", choices=list(OWN_TESTS), help="may be given many times")
    parser.add_argument("--count", type=int, default=150, help="mutants a module; fewer where it has no more")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--own-only", action="store_true", help="leave out the run of all tests over survivors")
    parser.add_argument("--workers", type=int, default=1, help="mutants tried at a time, each in a tree of its own")
    asked = parser.parse_args()
    known, unexplained = reasons(), []
    with tempfile.TemporaryDirectory(prefix="pegwright-mutants-") as folder:
        trees: Queue[Tree] = Queue()
        for number in range(asked.workers):
            (Path(folder) / str(number)).mkdir()
            trees.put(Tree(Path(folder) / str(number)))
        for module in asked.module or OWN_TESTS:
            began = time.monotonic()
            count, tally = sample(module, trees, asked.count, asked.seed, asked.own_only)
            killed = count - len(tally.survivors)
            print(
                f"{module}: {killed} of {count} killed ({tally.own} by own tests, {tally.whole} by others, "
                f"{tally.endless} endless), {len(tally.survivors)} survived, {time.monotonic() - began:.0f} s",
                flush=True,
            )
            unexplained += [mutant for mutant in tally.survivors if mutant.key not in known]
    for mutant in unexplained:
        print(f"without a reason: - `{mutant.module}` `{mutant.before}` -> `{mutant.after}`: ")
    sys.exit(1 if unexplained else 0)


if __name__ == "__main__":
    main()
