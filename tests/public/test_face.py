"""The public face: `import pegwright` is light, small, sorted, and hands out what the commands call."""

from __future__ import annotations

import ast
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

import pegwright
from places import ROOT, SONGS

FACE = ROOT / "src" / "pegwright" / "__init__.py"
NAMES = [name for name in pegwright.__all__ if name != "__version__"]
LIGHT = {"pegwright"}


def packages_loaded_by(program: str) -> set[str]:
    """Packages outside the standard library that a program loads in a new process."""
    script = (
        "import sys\nbefore = set(sys.modules)\n"
        + program
        + "\nloaded = {name.partition('.')[0] for name in set(sys.modules) - before}"
        + "\nprint(*sorted(loaded - set(sys.stdlib_module_names)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    return set(done.stdout.split())


def test_importing_the_package_loads_nothing_else() -> None:
    assert packages_loaded_by("import pegwright; pegwright.__version__; dir(pegwright)") == LIGHT


@pytest.mark.parametrize("name", ["Request", "FitOptions", "PegwrightError", "bundled_wheel", "Finding"])
def test_names_that_need_no_numpy_load_none(name: str) -> None:
    assert packages_loaded_by(f"import pegwright; pegwright.{name}") == LIGHT


def test_numpy_is_loaded_when_a_name_that_needs_it_is_used() -> None:
    assert "numpy" in packages_loaded_by("from pegwright import Score")


def test_names_are_sorted_and_listed_once() -> None:
    assert pegwright.__all__ == sorted(set(pegwright.__all__))
    assert set(pegwright.__all__) <= set(dir(pegwright))


def test_every_name_is_there_and_kept() -> None:
    for name in NAMES:
        assert getattr(pegwright, name) is vars(pegwright)[name]


def test_no_name_is_that_of_a_module() -> None:
    """Importing `pegwright.search` sets an attribute of the package, which must not take a public name's place."""
    modules = {path.stem for path in FACE.parent.iterdir()}
    assert not modules & set(NAMES)


def test_another_name_is_an_error_for_python_and_for_type_checkers() -> None:
    with pytest.raises(AttributeError, match="module 'pegwright' has no attribute 'no_such_name'"):
        pegwright.no_such_name  # type: ignore[attr-defined]  # noqa: B018  # mypy --strict refuses a needless ignore


def test_type_checkers_and_python_see_the_same_names() -> None:
    """The imports under TYPE_CHECKING, the table of modules and `__all__` agree."""
    imported = {
        alias.name: node.module
        for node in ast.walk(ast.parse(FACE.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("pegwright.")
        for alias in node.names
    }
    assert sorted(imported) == NAMES
    home = vars(pegwright)["_HOME"]
    assert imported == {name: f"pegwright.{module}" for name, module in home.items()}
    for name, module in imported.items():
        assert getattr(import_module(module or ""), name) is getattr(pegwright, name)


def named_in(module: str, name: str) -> object:
    """What `from module import name` gives: a name of it, or a module below it that nobody has imported yet."""
    there = import_module(module)
    return getattr(there, name) if hasattr(there, name) else import_module(f"{module}.{name}")


def imported_by(path: Path) -> dict[str, object]:
    """What a module of the command line imports from the rooms below, by its name there."""
    return {
        alias.name: named_in(node.module, alias.name)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom)
        and node.module
        and node.module.startswith("pegwright.")
        and not node.module.startswith("pegwright.cli")
        for alias in node.names
    }


def test_the_commands_call_the_functions_of_the_face() -> None:
    folder = FACE.parent / "cli"
    for path in folder.glob("*.py"):
        for name, value in imported_by(path).items():
            if name in NAMES:
                assert value is getattr(pegwright, name), f"{path.name}: {name}"
    assert "fit_file" in imported_by(folder / "fit.py")
    assert {"fit_file", "song_files", "write_folder", "paper_named"} <= set(imported_by(folder / "pin.py"))
    assert "load_wheel" in imported_by(folder / "options.py")


@pytest.mark.parametrize("file", ["lamplighters-march.mid", "the-committee-regrets.musicxml"])
def test_a_notebook_writes_the_folder_that_the_command_writes(tmp_path: Path, file: str) -> None:
    song, wheel_file = SONGS / file, SONGS / "merrow-sands.toml"
    command = [sys.executable, "-m", "pegwright", "pin", str(song), "--wheel", str(wheel_file), "-o", "by-command"]
    subprocess.run(command, cwd=tmp_path, capture_output=True, check=True, timeout=300)
    wheel, data = pegwright.parse_wheel(wheel_file.read_bytes(), "wheel.toml"), song.read_bytes()
    score, findings = pegwright.read_score(data, song.name)
    fitted = pegwright.fit_score(score, wheel, findings=findings, data=data)
    others = pegwright.write_folder(tmp_path / "by-notebook", pegwright.song_files(fitted))
    assert others == ()
    assert contents(tmp_path / "by-notebook") == contents(tmp_path / "by-command")
    assert "pin-map.json" in contents(tmp_path / "by-notebook") or fitted.several_turns


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_score_without_its_bytes_has_every_file_but_the_bars_as_music() -> None:
    song = SONGS / "the-committee-regrets.musicxml"
    wheel = pegwright.load_wheel(pegwright.bundled_wheel())
    score, _ = pegwright.read_score(str(song))
    without = pegwright.song_files(pegwright.fit_score(score, wheel))
    whole = pegwright.song_files(pegwright.fit_file(str(song), wheel))
    assert set(whole) == set(without)
    assert without["A/pin-map.json"] == whole["A/pin-map.json"]


def test_findings_of_reading_are_reported() -> None:
    wheel = pegwright.load_wheel(pegwright.bundled_wheel())
    score, findings = pegwright.read_score(SONGS / "lamplighters-march.mid")
    noted = pegwright.Finding("by-hand", pegwright.Severity.NOTE, "march.mid", "read by hand")
    fitted = pegwright.fit_score(score, wheel, findings=(*findings, noted))
    assert fitted.findings[: len(findings) + 1] == (*findings, noted)


def test_bytes_of_another_file_are_refused() -> None:
    wheel = pegwright.load_wheel(pegwright.bundled_wheel())
    score, _ = pegwright.read_score(SONGS / "lamplighters-march.mid")
    with pytest.raises(pegwright.UsageError, match="4 bytes given are not those"):
        pegwright.fit_score(score, wheel, data=b"MThd")


def test_paths_can_be_texts(tmp_path: Path) -> None:
    wheel = pegwright.load_wheel(str(pegwright.bundled_wheel()))
    fitted = pegwright.fit_file(str(pegwright.bundled_songs()[0]), wheel)
    pegwright.write_folder(str(tmp_path / "pins"), pegwright.song_files(fitted))
    pins = pegwright.read_pin_map(str(tmp_path / "pins" / "pin-map.json"), wheel=wheel)
    assert pins.pin_count == fitted.turns[0].pins.pin_count
