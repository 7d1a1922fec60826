"""Every guard of the house is shown what it is there to catch, and catches it."""

from __future__ import annotations

import shutil
from pathlib import Path, PurePath

import pytest

import guards
from places import ROOT

SOUND = '"""A module of the copy."""\n'


@pytest.fixture(scope="module")
def skeleton(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every module of ours without its contents, and the real settings of the tools."""
    tree = tmp_path_factory.mktemp("skeleton")
    shutil.copy(ROOT / "pyproject.toml", tree)
    for path in (ROOT / "src").rglob("*.py"):
        copy = tree / path.relative_to(ROOT)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_text(SOUND, encoding="utf-8")
    (tree / "tests").mkdir()
    (tree / "tests" / "test_nothing.py").write_text(SOUND, encoding="utf-8")
    return tree


def planted(tree: Path, module: str, text: str, *command: str) -> str:
    """What a tool says of the tree with one more module in it; it must be content without it."""
    assert guards.complaint(*command, tree=tree) == ""
    path = tree / "src" / "pegwright" / module
    before = path.read_text(encoding="utf-8") if path.exists() else None
    path.write_text(text, encoding="utf-8")
    try:
        return guards.complaint(*command, tree=tree)
    finally:
        path.unlink()
        if before is not None:
            path.write_text(before, encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "caught"),
    [
        ("import json\n", "F401"),
        ("from random import random\n\nprint(random())\n", "T201"),
        ("def add(one, other):\n    return one + other\n", "ANN001"),
    ],
)
def test_lint_catches(skeleton: Path, text: str, caught: str) -> None:
    assert caught in planted(skeleton, "planted.py", SOUND + "\n" + text, "ruff", "check", ".")


def test_format_catches_a_badly_set_module(skeleton: Path) -> None:
    said = planted(skeleton, "planted.py", SOUND + "\nPLACES = ( 1,2 )\n", "ruff", "format", "--check", ".")
    assert "planted.py" in said


def test_types_catch_a_wrong_type(skeleton: Path) -> None:
    said = planted(skeleton, "planted.py", SOUND + '\nPLACES: int = "one"\n', "mypy")
    assert "planted.py:3: error: Incompatible types in assignment" in said


LAYERS, VERIFIER, FORMATS = "Imports run one way", "The verifier imports", "Values, fitting and drawing"
READERS = "Writers and the preview"
PROGRAMS = "The check of drilling programs imports"


@pytest.mark.parametrize(
    ("module", "imports", "contract"),
    [
        ("load.py", "from pegwright.cli import main", LAYERS),
        ("grid.py", "import pegwright.load", LAYERS),
        ("fit/placing.py", "from pegwright.show import plan", LAYERS),
        ("fit/turn.py", "from pegwright.check import verify", LAYERS),
        ("read/detect.py", "from pegwright.write import pdf", LAYERS),
        ("musicxml/parts.py", "from pegwright.notations import losses", LAYERS),
        ("write/pdf.py", "from pegwright.musicxml import reader", READERS),
        ("score.py", "from pegwright import wheel", LAYERS),
        ("units.py", "from pegwright import errors", LAYERS),
        ("check/pins.py", "from pegwright.columns import Ints", VERIFIER),
        ("check/wheel.py", "from pegwright import grid", VERIFIER),
        ("check/held.py", "from pegwright.ask import options", VERIFIER),
        ("check/notes.py", "from pegwright import fit", VERIFIER),
        ("check/reasons.py", "def late() -> None:\n    import pegwright.facts", VERIFIER),
        ("plate/verify.py", "from pegwright.plate import order", PROGRAMS),
        ("plate/verify.py", "from pegwright.plate.path import pecks_mm", PROGRAMS),
        ("plate/verify.py", "from pegwright.write import gcode", LAYERS),
        ("plate/verify.py", "from pegwright import units", PROGRAMS),
        ("plate/path.py", "import ezdxf", FORMATS),
        ("draw/bars.py", "from reportlab.pdfgen import canvas", FORMATS),
        ("edit/swing.py", "import mido", FORMATS),
        ("ask/text.py", "import click", FORMATS),
        ("played/path.py", "import music21", FORMATS),
    ],
)
def test_contracts_catch(skeleton: Path, module: str, imports: str, contract: str) -> None:
    assert (skeleton / "src" / "pegwright" / module).exists()
    said = planted(skeleton, module, f"{SOUND}\n{imports}\n", "lint-imports")
    broken = [line for line in said.splitlines() if line.endswith("BROKEN")]
    assert any(line.startswith(contract) for line in broken), said


def test_contracts_catch_a_room_that_has_no_layer(skeleton: Path) -> None:
    assert "attic" in planted(skeleton, "attic.py", SOUND, "lint-imports")


def test_lists_of_contracts_catch_a_new_room(tmp_path: Path) -> None:
    (tmp_path / "attic").mkdir()
    for name in ("__init__.py", "score.py", "attic/__init__.py"):
        (tmp_path / name).write_text(SOUND, encoding="utf-8")
    assert guards.rooms(tmp_path) == {"score", "attic"}
    assert guards.unlisted(["pegwright.score"], guards.rooms(tmp_path)) == {"pegwright.attic"}


def lines_of(count: int) -> str:
    return "".join(f"    print({number})\n" for number in range(count))


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("\n" * 400, 0),
        ("\n" * 401, 1),
        ("def long():\n" + lines_of(40), 0),
        ("def long():\n" + lines_of(41), 1),
        ("async def long():\n" + lines_of(41), 1),
        ("class Of:\n    def long(self):\n" + lines_of(41).replace("    ", "        "), 1),
        ('def long():\n    """What\n' + "    it does.\n" * 30 + '    """\n' + lines_of(40), 0),
        ('def long():\n    """Nothing."""\n', 0),
        ("def long():\n    value = [\n" + "        1,\n" * 40 + "    ]\n", 1),
    ],
)
def test_size_catches(text: str, faults: int) -> None:
    assert len(guards.oversized(text)) == faults


@pytest.mark.parametrize(
    ("text", "caught"),
    [
        ('f"{share:.0%}"', True),
        ('f"at most {share:+.1%} more"', True),
        ('f"{share:.{decimals}%}"', True),
        ('f"{100 * share:.0f}%"', True),
        ('"print at 100%"', True),
        ('f"{percent_text(share)} of a turn"', False),
        ('f"{100 * share:.1f} %"', False),
        ('"%%abc, 3%2a"', False),
    ],
)
def test_other_forms_of_per_cent_are_caught(text: str, caught: bool) -> None:
    assert bool(guards.unspaced_percents(text)) is caught


@pytest.mark.parametrize(
    "text",
    [
        "import time",
        "import os.path",
        "import random as chance",
        "import json, pathlib",
        "from time import monotonic",
        "from datetime import date",
        "from os import environ",
        "from secrets import token_hex",
        "from importlib.resources import files",
        "from importlib import resources",
        "import importlib.resources as data",
        "from io import open",
        "import io",
        "from pathlib import Path, os",
        "from numpy.random import default_rng",
        "from numpy import random",
        "import numpy.random",
        "def late():\n    from sqlite3 import connect",
        "if False:\n    import subprocess",
        "def read(path):\n    return open(path)",
        "read = open",
        "__import__('os')",
        "def read(path):\n    return path.read_text()",
        "def read(path):\n    return path.open()",
        "def read(path):\n    ask = path.exists\n    return ask()",
        "def seen(folder):\n    return sorted(folder.iterdir())",
        "def here(cls):\n    return cls.cwd()",
        "def draw():\n    return np.random.default_rng()",
        "def read(name):\n    return np.load(name)",
        "def write(column, name):\n    column.tofile(name)",
        "def order(names):\n    return sorted(names, key=hash)",
        "def ask():\n    return input()",
        "def say():\n    print(1)",
    ],
)
def test_clock_chance_and_files_are_caught(text: str) -> None:
    assert guards.worldly(text)


@pytest.mark.parametrize(
    "text",
    [
        "import json\nimport math\nimport numpy as np\nfrom fractions import Fraction",
        "from io import BytesIO",
        "from pathlib import Path\n\ndef file_of(folder: Path, name: str) -> Path:\n    return folder / name",
        "from pathlib import PurePath",
        "from pegwright.package_data import font_bytes",
        "def changed(text: str) -> str:\n    return text.replace('a', 'b')",
    ],
)
def test_plain_values_are_let_through(text: str) -> None:
    assert guards.worldly(text) == []


def test_an_exception_lets_through_what_it_names_alone() -> None:
    assert guards.worldly("from importlib.resources import files", {"importlib.resources"}) == []
    assert guards.worldly("from importlib import metadata", {"importlib.resources"})
    assert guards.worldly("import time", {"importlib.resources"})


@pytest.mark.parametrize(
    ("module", "inner"),
    [
        ("score.py", True),
        ("load.py", True),
        ("played/model.py", True),
        ("a_new_room/deep/inside.py", True),
        ("a_new_module.py", True),
        ("cli/main.py", False),
        ("write/notation/engrave.py", False),
        ("song_pipeline/files.py", False),
        ("__main__.py", False),
    ],
)
def test_every_room_that_is_not_an_outer_one_is_inner(module: str, inner: bool) -> None:
    assert guards.is_inner(PurePath(module)) is inner


def test_top_level_catches_a_stray_file() -> None:
    assert guards.strangers("README.md\nsrc/pegwright/load.py\nnotes.txt\nbuild/out.bin\n.gitignore\n") == {
        "notes.txt",
        "build",
    }


@pytest.fixture
def docs(tmp_path: Path) -> Path:
    for name in ("README.md", "DEVELOPERS.md", "docs/deep/page.md", "songs/README.md", ".ci/run"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("[all](https://example.org/x) bash tests/run [here](#top)\n", encoding="utf-8")
    assert guards.broken_links(tmp_path) == []
    assert guards.without_test_command(tmp_path) == []
    return tmp_path


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "docs/deep/page.md", "songs/README.md"])
def test_links_that_lead_nowhere_are_caught(docs: Path, page: str) -> None:
    (docs / page).write_text("[good](README.md) ![bad](images/gone.png) [worse](gone.md#part)", encoding="utf-8")
    caught = {fault for fault in guards.broken_links(docs) if "gone" in fault}
    assert caught == {f"{page} -> images/gone.png", f"{page} -> gone.md"}


@pytest.mark.parametrize("mark", ["<<<<<<< HEAD", "=======", ">>>>>>> other"])
def test_marks_of_a_merge_are_caught(docs: Path, mark: str) -> None:
    assert guards.unmerged(docs) == []
    (docs / "docs/deep/page.md").write_text(f"# Page\n{mark}\n", encoding="utf-8")
    assert guards.unmerged(docs) == ["docs/deep/page.md"]


@pytest.mark.parametrize("name", ["README.md", ".ci/run"])
def test_another_test_command_is_caught(docs: Path, name: str) -> None:
    (docs / name).write_text("pytest\n", encoding="utf-8")
    assert guards.without_test_command(docs) == [name]
