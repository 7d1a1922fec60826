"""What each command may load: a small fit numpy and click and nothing else from outside, `--help` click alone."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from pegwright.cli.main import COMMANDS
from places import ROOT

SONGS = ROOT / "songs"
DEMO = SONGS / "merrow-sands.toml"
JIG, MINUET, PACKED = "shrimpers-jig.mid", "bathing-machine-minuet.musicxml", "round-the-pier-and-back.mxl"
TROUBLED = "the-committee-regrets.musicxml"
ALLOWED = {"click", "pegwright"}
WATCHED = {
    *(
        "asyncio",
        "shutil",
        "concurrent.futures",
        "email",
        "html",
        "http",
        "importlib.resources",
        "json",
        "csv",
        "difflib",
    ),
    *("logging", "multiprocessing", "numpy.ma", "pydoc", "socket", "ssl", "subprocess", "tempfile", "unittest"),
    *("urllib.request", "xml.etree.ElementTree", "xml.sax", "xml.sax.saxutils", "zipfile"),
    *(f"pegwright.{room}" for room in ("draw", "musicxml", "notations", "played", "preview", "remedy", "show")),
    *(f"pegwright.{room}" for room in ("survey", "verdict", "load", "edit.ornaments", "search.table", "read.beats")),
    *(f"pegwright.write.{module}" for module in ("pdf", "svg", "notation", "page", "folder", "report.json", "qr")),
}  # of the standard library and of ours: what takes long to load, or leads to what does
PROGRAM = """
import sys
before = set(sys.modules)
from pegwright.cli.main import main
try:
    main(sys.argv[1:])
except SystemExit as leaving:
    assert not leaving.code, leaving.code
print("loaded:", *sorted(set(sys.modules) - before))
"""

# From outside, and of the watched modules what may be loaded with them.
PLAIN = {"click", "numpy", "pegwright"}
CHECKED = {"attr", "attrs", "idna", "jsonschema", "jsonschema_specifications", "referencing", "rpds", "webcolors"}
CHECKED |= {"typing_extensions", "rfc3339_validator", "fqdn", "isoduration", "uri_template", "jsonpointer"}
SCIPY = {"scipy", "charset_normalizer", "cython_runtime"}
PDF = {"reportlab", "PIL", "qrcodegen", "charset_normalizer"}
DRAWN = {"reportlab", "PIL", "ezdxf", "fontTools", "pyparsing", "typing_extensions"}
SOUND = {"mido", "packaging", "cython_runtime"}
OF_SCIPY = {"concurrent.futures", "difflib", "email", "logging", "pydoc", "socket", "subprocess", "tempfile"}
OF_SCIPY |= {
    "unittest",
    "importlib.resources",
    "numpy.ma",
    "zipfile",
    "html",
    "urllib.request",
    "http",
    "ssl",
    "shutil",
}
OF_SEGNO = {"xml.sax", "xml.sax.saxutils", "urllib.request", "http", "ssl", "email", "socket"}
OF_REPORTLAB = {"logging", "tempfile", "importlib.resources", "zipfile", "xml.etree.ElementTree", "subprocess"}
OF_DRAWN = {"xml.etree.ElementTree", "pegwright.draw", "pegwright.write.pdf", "pegwright.write.svg"}
DATA = {"json", "csv"}
EDITS = {"pegwright.edit.ornaments"}
XML = EDITS | {"xml.etree.ElementTree", "zipfile", "shutil", "pegwright.musicxml"}
SEARCH = EDITS | {"pegwright.search.table"}
REPORT = EDITS | DATA | {"pegwright.write.report.json"}
WRITTEN = REPORT | OF_SEGNO | OF_REPORTLAB | {"html", "difflib", "shutil"}
WRITTEN |= {f"pegwright.write.{module}" for module in ("pdf", "qr", "page", "folder")}
WRITTEN |= {f"pegwright.{room}" for room in ("draw", "show", "remedy", "load")}
PLANNED = SEARCH | XML | DATA | OF_SCIPY | {"pegwright.show", "pegwright.draw", "pegwright.load"}
PLANNED |= {"pegwright.write.folder"}

CHECKING = DATA | {
    "importlib.resources",
    "shutil",
    "tempfile",
    "urllib.request",
    "email",
    "http",
    "socket",
    "ssl",
    "zipfile",
}

COMMAND_LINES = {
    f"fit {JIG} WHEEL": (PLAIN, EDITS),
    f"fit {MINUET} WHEEL": (PLAIN, XML),
    f"fit {PACKED} WHEEL": (PLAIN, XML),
    f"fit {JIG} WHEEL --search": (PLAIN, SEARCH | {"pegwright.remedy"}),  # what it does not vary is tried too
    f"fit {JIG} WHEEL --json": (PLAIN, REPORT | {"pegwright.search.table"}),
    f"fit {JIG} WHEEL --load": (PLAIN | {"rich"}, EDITS | DATA | {"pegwright.load"}),
    f"fit {TROUBLED} WHEEL --remedies": (PLAIN, SEARCH | XML | {"pegwright.remedy", "json", "numpy.ma"}),
    f"pin {JIG} WHEEL -o OUT": (PLAIN | PDF, WRITTEN | SEARCH),
    f"hear {JIG} WHEEL -o OUT.wav": (
        PLAIN | SOUND,
        EDITS | DATA | OF_SCIPY | {"pegwright.preview", "pegwright.write.folder"},
    ),
    f"swap MAP {JIG} WHEEL": (PLAIN | SCIPY | CHECKED, PLANNED),
    "find MAP WHEEL --bar 2 --beat 1": (PLAIN | CHECKED, CHECKING),
    "check MAP WHEEL": (PLAIN | CHECKED, CHECKING),
    "edit MAP WHEEL REMOVE -o OUT": (PLAIN | CHECKED, CHECKING | {"difflib", "pegwright.write.folder"}),
    "set SET": (PLAIN | SCIPY, PLANNED),
    "demo": (PLAIN | SCIPY | {"rich"}, PLANNED),
    f"song {JIG}": (PLAIN, EDITS | {"pegwright.search.table"}),
    f"song {MINUET} WHEEL": (PLAIN, XML),
    "wheel DEMO": (PLAIN, {"json"}),
    "leads DEMO --tempo 112 --tempos 63,138": (PLAIN, {"json"}),
    "plate PLATE": (PLAIN | SCIPY, OF_SCIPY | DATA | {"pegwright.write.folder"}),
    "plate PLATE -o OUT": (PLAIN | SCIPY | DRAWN, OF_SCIPY | DATA | OF_DRAWN | {"pegwright.write.folder"}),
    "plate PLATE --gauge": (PLAIN | SCIPY, OF_SCIPY | DATA | {"pegwright.write.folder"}),
    "seam PLATE MEASURED": (PLAIN | SCIPY, OF_SCIPY | DATA | {"pegwright.write.folder"}),
    "stack PLATE": (PLAIN | SCIPY, OF_SCIPY | DATA),
    "completion bash": (ALLOWED, {"subprocess", "tempfile", "shutil"}),
}


def loaded_by(*arguments: str) -> tuple[str, set[str], set[str]]:
    """What the command line prints, and the packages from outside and the watched modules that it loads."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *arguments], capture_output=True, encoding="utf-8", check=True, timeout=120
    )
    text, _, names = done.stdout.rpartition("loaded:")
    modules = set(names.split())
    packages = {name.partition(".")[0] for name in modules} - set(sys.stdlib_module_names)
    return text, {name for name in packages if not name.startswith("_")}, modules & WATCHED


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["--version"], *([name, "--help"] for name in COMMANDS)])
def test_help_loads_click_alone(arguments: list[str]) -> None:
    text, names, watched = loaded_by(*arguments)
    assert text.strip()
    assert names <= ALLOWED
    assert watched <= {"difflib", "shutil"}  # of click, for short options and the width of the terminal


@pytest.mark.parametrize("line", COMMAND_LINES)
def test_each_command_loads_what_it_needs_and_no_more(line: str, pin_map: Path, tmp_path: Path) -> None:
    packages, modules = COMMAND_LINES[line]
    places = {"WHEEL": f"--wheel={DEMO}", "DEMO": str(DEMO), "SET": str(SONGS / "pavilion-evening.toml")}
    places |= {"REMOVE": "remove plate 1, channel 3, step 9"}
    places |= {"MEASURED": str(SONGS / "merrow-sands-measured.toml")}
    places |= {"PLATE": str(SONGS / "merrow-sands-plate.toml")}
    places |= {"MAP": str(pin_map), "OUT": str(tmp_path / "out"), "OUT.wav": str(tmp_path / "out.wav")}
    places |= {song: str(SONGS / song) for song in (JIG, MINUET, PACKED, TROUBLED)}
    _, names, watched = loaded_by(*(places.get(word, word) for word in line.split()))
    assert sorted(names - packages) == []
    assert sorted(watched - modules) == []


@pytest.fixture(scope="module")
def pin_map(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pin map of the minuet."""
    folder = tmp_path_factory.mktemp("minuet") / "pins"
    loaded_by("pin", str(SONGS / MINUET), f"--wheel={DEMO}", "-o", str(folder))
    return folder / "pin-map.json"


def test_every_command_but_the_survey_has_a_line() -> None:
    # A survey's work is done in processes of its own, which read and judge as `fit` does.
    assert {line.split()[0] for line in COMMAND_LINES} == set(COMMANDS) - {"survey"}


def test_the_guard_sees_what_is_loaded() -> None:
    _, names, watched = loaded_by("fit", str(SONGS / MINUET), f"--wheel={DEMO}", "--json")
    assert {"numpy", "click"} <= names
    assert {"json", "xml.etree.ElementTree"} <= watched


def test_a_starter_is_written_without_numpy(tmp_path: Path) -> None:
    _, names, _ = loaded_by("wheel", "--new", str(tmp_path / "wheel.toml"))
    assert "numpy" not in names
