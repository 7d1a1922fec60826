"""The rules of the house as functions over text, so that each can be shown an offence and seen to catch it."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path, PurePath
from typing import Any

from places import ROOT

PACKAGE = ROOT / "src" / "pegwright"
MAX_MODULE_LINES = 400
MAX_BODY_LINES = 40  # of a function, its docstring not counted
TEST_COMMAND = "bash tests/run"
TOP_LEVEL = frozenset({"README.md", "DEVELOPERS.md", "pyproject.toml", "src", "tests", "songs", "docs"})

# Rooms that may read clocks, draw lots and open files; every other room, a new one too, is an inner one.
OUTER = frozenset(
    {
        "__main__",
        "cli",
        "survey",
        "show_pipeline",
        "plate_pipeline",
        "song_pipeline",
        "bundled",
        "config",
        "read",
        "write",
        "preview",
    }
    | {"notations", "musicxml"}
)
# The exceptions: what an inner module may import though no other may, and why.
EXCEPTIONS = {
    "__init__.py": ({"importlib"}, "the public face: a name is imported from its room when it is first used"),
    "own_process.py": ({"runpy", "subprocess", "sys"}, "native code and other libraries, kept out of this process"),
    "frozen.py": ({"exec", "hash"}, "the methods of classes, as `dataclass` has them"),
    "plain_file.py": ({"os"}, "the one place where files that users name are opened"),
    "show/anneal.py": ({"random"}, "a generator with a fixed seed, which has the same sequence on every machine"),
    "plate/effects.py": ({"numpy.random"}, "the type of the seeded generator that it is handed"),
    "plate/stack.py": ({"numpy.random"}, "the type of the seeded generator that it is handed"),
    "played/compiled.py": ({"glob", "stat", "unlink"}, "machine code that is kept on disk until a source changes"),
    "package_data.py": ({"pkgutil"}, "data that ships with the package: font, page, rhythm counts"),
}
WORLD = frozenset(
    """
    time datetime calendar zoneinfo sched random secrets uuid os sys io pathlib glob shutil tempfile fileinput mmap
    sqlite3 dbm shelve zipfile tarfile gzip bz2 lzma subprocess multiprocessing threading asyncio signal socket ssl
    select urllib http ftplib platform getpass locale importlib pkgutil runpy ctypes logging
    """.split()  # noqa: SIM905  # a list of words reads better
)
VALUES_OF_THE_WORLD = {  # names in those modules that are plain values
    "io": frozenset({"BytesIO", "StringIO"}),
    "pathlib": frozenset({"Path", "PurePath", "PurePosixPath"}),  # as values: their calls are seen below
}
BUILTINS = frozenset(
    {"open", "input", "print", "breakpoint", "__import__", "exec", "eval", "hash"}
)  # `hash` differs from run to run
# What asks the file system of a path, less the names of much else (`replace`, `rename`, `copy`); a list of its own,
# since later versions of Python add more.
PATH_CALLS = frozenset(
    """
    absolute chmod cwd exists expanduser glob group hardlink_to home is_block_device is_char_device is_dir is_fifo
    is_file is_junction is_mount is_socket is_symlink iterdir lchmod lstat mkdir open owner read_bytes read_text
    readlink resolve rglob rmdir samefile stat symlink_to touch unlink write_bytes write_text
    """.split()  # noqa: SIM905
)
NUMPY_CALLS = frozenset(
    {"random", "load", "save", "savez", "fromfile", "tofile", "loadtxt", "savetxt", "genfromtxt", "memmap"}
)


def complaint(*command: str, tree: Path = ROOT) -> str:
    """Output of a tool installed beside this Python, run over the sources of a tree; empty when it is content."""
    program = shutil.which(command[0], path=str(Path(sys.executable).parent))
    assert program, f"{command[0]} is not installed: pip install -e '.[dev]'"
    sees = os.environ | {"PYTHONPATH": str(tree / "src")}
    done = subprocess.run(
        [program, *command[1:]], cwd=tree, env=sees, capture_output=True, encoding="utf-8", check=False
    )
    return "" if done.returncode == 0 else done.stdout + done.stderr


def oversized(text: str) -> list[str]:
    """What is too long in a module."""
    lines = len(text.splitlines())
    faults = [f"the module has {lines} lines, more than {MAX_MODULE_LINES}"] if lines > MAX_MODULE_LINES else []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node, clean=False) is not None else node.body
            lines = (node.end_lineno or 0) - body[0].lineno + 1 if body else 0
            if lines > MAX_BODY_LINES:
                faults.append(f"{node.name} has {lines} lines, more than {MAX_BODY_LINES}")
    return faults


def unspaced_percents(text: str) -> list[str]:
    """Shares that a module prints otherwise than `units.percent_text`: no space before the symbol."""
    faults = []
    for node in ast.walk(ast.parse(text)):
        shown = node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""
        if isinstance(node, ast.JoinedStr):
            shown = "".join(str(part.value) if isinstance(part, ast.Constant) else "0" for part in node.values)
        if shown and re.search(r"[0-9]%(?![0-9\w])", shown):
            faults.append(f"line {getattr(node, 'lineno', 0)}: {ast.unparse(node)}")
    return faults


def is_inner(path: PurePath) -> bool:
    """Whether a module, by its path in the package, must know no clock, chance or file."""
    return path.parts[0].removesuffix(".py") not in OUTER


def worldly(text: str, excepted: Iterable[str] = ()) -> list[str]:
    """What in a module reaches for clock, chance, files or processes.

    Args:
        text: of the module.
        excepted: modules that it may import, and functions that it may call, all the same.
    """
    faults = []
    for node in ast.walk(ast.parse(text)):
        faults += [f"imports {name}" for name in _imported(node) if _is_worldly(name) and not _within(name, excepted)]
        if isinstance(node, ast.Name) and node.id in BUILTINS and node.id not in excepted:
            faults.append(f"uses {node.id}")
        if isinstance(node, ast.Attribute):
            numpy = isinstance(node.value, ast.Name) and node.value.id in {"np", "numpy"}
            called = not excepted and node.attr in PATH_CALLS
            if called or (node.attr in NUMPY_CALLS and numpy) or node.attr == "tofile":
                faults.append(f"uses .{node.attr}")
    return faults


def _imported(node: ast.AST) -> Iterator[str]:
    """Full names of what an import statement brings in."""
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    elif isinstance(node, ast.ImportFrom) and not node.level:
        yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _is_worldly(name: str) -> bool:
    module, _, rest = name.partition(".")
    if name.startswith("numpy."):
        return name.split(".")[1] in NUMPY_CALLS
    return module in WORLD and rest not in VALUES_OF_THE_WORLD.get(module, frozenset())


def _within(name: str, modules: Iterable[str]) -> bool:
    return any(name == module or name.startswith(f"{module}.") for module in modules)


def rooms(package: Path = PACKAGE) -> set[str]:
    """The packages and modules right inside our package."""
    return {path.stem for path in package.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()} - {
        "__init__"
    }


def contract(settings: dict[str, Any], name: str) -> dict[str, Any]:
    """The import contract whose name begins so."""
    contracts = settings["tool"]["importlinter"]["contracts"]
    (chosen,) = [contract for contract in contracts if contract["name"].startswith(name)]
    return dict(chosen)


def project() -> dict[str, Any]:
    """What pyproject.toml says."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def unlisted(listed: Iterable[str], needed: Iterable[str]) -> set[str]:
    """Rooms that a contract should name and does not."""
    return {f"pegwright.{room}" for room in needed} - set(listed)


def strangers(tracked: str) -> set[str]:
    """Files and folders at the top that should not be there, of the tracked files, one a line."""
    top = {line.split("/")[0] for line in tracked.splitlines()}
    return {name for name in top if not name.startswith(".")} - TOP_LEVEL


def pages(tree: Path = ROOT) -> list[Path]:
    """Every page of the docs."""
    return [
        tree / "README.md",
        tree / "DEVELOPERS.md",
        *sorted((tree / "docs").rglob("*.md")),
        tree / "songs/README.md",
    ]


def broken_links(tree: Path = ROOT) -> list[str]:
    """Links of the docs to files that are not there."""
    broken = []
    for page in pages(tree):
        targets = re.findall(r"\]\(([^)#\s]+)", page.read_text(encoding="utf-8"))
        local = [target for target in targets if "://" not in target]
        broken += [f"{page.relative_to(tree)} -> {to}" for to in local if not (page.parent / to).exists()]
    return broken


def unmerged(tree: Path = ROOT) -> list[str]:
    """Pages of the docs in which a merge has left its marks."""
    marked = re.compile(r"^(<{7} |={7}$|>{7} )", re.MULTILINE)
    return [str(page.relative_to(tree)) for page in pages(tree) if marked.search(page.read_text(encoding="utf-8"))]


def without_test_command(tree: Path = ROOT) -> list[str]:
    """Files that should run or tell the test command and do not."""
    return [name for name in ("README.md", ".ci/run") if TEST_COMMAND not in (tree / name).read_text(encoding="utf-8")]
