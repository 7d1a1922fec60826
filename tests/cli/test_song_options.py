"""What can be asked of a song means the same for `pin`, a song set and `swap`, and is told in all that they write."""

from __future__ import annotations

import json
import re
import shlex
from fractions import Fraction
from pathlib import Path
from typing import Any

import click
import pytest
from hypothesis import given, settings

import thorough
from commands import SONGS, WHEEL, Command, runner
from pegwright.ask import kinds
from pegwright.ask.convert import request_of, written
from pegwright.ask.request import Request
from pegwright.ask.table import BY_NAME, OPTIONS
from pegwright.ask.text import typed
from pegwright.check.verify import verify
from pegwright.cli.fit import fit
from pegwright.cli.hear import hear
from pegwright.cli.options import value_of
from pegwright.cli.swap import OF_THE_SONG, swap
from pegwright.config import load_wheel
from pegwright.config.song_set import parse_song_set
from pegwright.draw.paper import paper_named
from pegwright.placement import pin_map_sha256
from pegwright.read.pinmap import read_pin_map
from pegwright.remedy.song_remedies import Remedies, Shortfall
from pegwright.song import FittedSong
from pegwright.song_pipeline.files import song_files
from pegwright.song_pipeline.fitting import fit_file
from pegwright.units import ratio_text
from pegwright.write.report.text import report_text
from requests_asked import asked
from schemas import closed
from toml_text import toml_text

TANGO, REGRETS, MARCH = "turnstile-tango.mid", "the-committee-regrets.musicxml", "lamplighters-march.mid"
BEATS = "\n".join(f"{beat * 60 / 104:.4f}" for beat in range(50))
ORNAMENTED = """<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Chimes</part-name></score-part>
</part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><pitch><step>G</step><octave>5</octave></pitch><duration>2</duration><type>half</type>
<notations><ornaments><trill-mark/></ornaments></notations></note>
<note><pitch><step>D</step><octave>5</octave></pitch><duration>2</duration><type>half</type></note>
</measure></part></score-partwise>"""

# What the command line is told, what a song set is told, and what the pin map then says of it.
ASKED: list[tuple[str, str, str, dict[str, Any]]] = [
    (TANGO, "--plate-set 2", "plate_set = 2", {}),
    (TANGO, "--swing 2:1", 'swing = "2:1"', {"swing": "2:1"}),
    (REGRETS, "--thin 2", "thin = 2", {"most_at_once": 2}),
    (TANGO, "--swing straight", 'swing = "straight"', {"swing": "straight"}),
    (TANGO, "--only 'C*' --only Bass", 'only = ["C*", "Bass"]', {"only": ["C*", "Bass"]}),
    (TANGO, "--without Bass", 'without = "Bass"', {"without": ["Bass"]}),
    (TANGO, "--bars 9-16 --skip-silence", 'bars = "9-16"\nskip_silence = true', {"skip_silence": True}),
    (TANGO, "--bars 5-16", 'bars = "5-16"', {"bars": [5, 16]}),
    (TANGO, "--bars 3", "bars = 3", {"bars": [3, 3]}),
    (TANGO, "--turns 2", "turns = 2", {"turns": 2}),
    (TANGO, "--whole-bars", "whole_bars = true", {"whole_bars": True}),
    (TANGO, "--offset 7", "offset = 7", {"offset_ticks": 7}),
    (TANGO, "--offset auto", 'offset = "auto"', {"offset_ticks": 0}),
    (TANGO, "--move-part Bass=12 --move-part Chimes=-2", "move_parts = { Bass = 12, Chimes = -2 }",
     {"part_semitones": [{"part": "Bass", "semitones": 12}, {"part": "Chimes", "semitones": -2}]}),
    (TANGO, "--note-edit 'drop Bass, bar 1, beat 1, A2'", 'note_edits = ["drop Bass, bar 1, beat 1, A2"]',
     {"note_edits": ["drop Bass, bar 1, beat 1, A2"]}),
    ("trill.musicxml", "--ornaments 1/16", 'ornaments = "1/16"', {"ornaments_quarters": "0.25"}),
    (TANGO, "--performed", "performed = true", {"performed": "follow"}),
    (TANGO, "--performed --beats keep", 'performed = true\nbeats = "keep"', {"performed": "keep"}),
    (TANGO, "--performed --beats find", 'performed = true\nbeats = "find"', {"performed": "find"}),
    (TANGO, "--performed --beats beats.csv", 'performed = true\nbeats = "beats.csv"', {"performed": "beats.csv"}),
    (TANGO, "--performed --beats part:Bass", 'performed = true\nbeats = "part:Bass"', {"performed": "part:Bass"}),
    (TANGO, "--performed --subdivisions sixteenths", 'performed = true\nsubdivisions = "sixteenths"',
     {"subdivisions": "sixteenths"}),
    (TANGO, "--performed --beats find --metre 3/4 --first-note 2.5",
     'performed = true\nbeats = "find"\nmetre = "3/4"\nfirst_note = "5/2"', {"metre": "3/4", "first_note": "2.5"}),
    (TANGO, "--performed --beat-shift 3=-1/4 --beat-shift 5:2.5=1/2",
     'performed = true\nbeat_shifts = ["3=-1/4", "5:2.5=1/2"]', {"beat_shifts": ["3=-1/4", "5:2.5=1/2"]}),
    (TANGO, "--channel-rule alternate", 'channel_rule = "alternate"', {"channel_rule": "alternate"}),
    (TANGO, "--channel-rule alternate", 'channel_rule = "alternate"', {"channel_rule": "alternate"}),
    (TANGO, "--part-channels 'Bass=bass [GA]2'", 'part_channels = { Bass = "bass [GA]2" }',
     {"part_channels": [{"part": "Bass", "channels": "bass [GA]2"}]}),
    (REGRETS, "--fold-octaves", "fold_octaves = true", {"fold_octaves": True}),
    (REGRETS, "--priority Bass=7", "priorities = { Bass = 7 }", {"part_priorities": [{"part": "Bass", "priority": 7}]}),
    (MARCH, "--drum 38=76", "drums = { 38 = 76 }", {"drum_keys": [{"key": 38, "instead": 76}]}),
    (REGRETS, "--reach 1/24", 'reach = "1/24"', {"reach_quarters": "1/6"}),
    (REGRETS, "--tempo 97.3", "tempo = 97.3", {"us_per_quarter": 616_650}),
    (REGRETS, "--transpose -3", "transpose = -3", {"transpose_semitones": -3}),
    (REGRETS, "--transpose auto", 'transpose = "auto"', {}),
    (REGRETS, "--transpose auto --semitones 2", 'transpose = "auto"\nsemitones = 2', {}),
    (MARCH, "--start 2", "start = 2", {"start_step": "2"}),
    (MARCH, "--start 2.5", 'start = "5/2"', {"start_step": "2.5"}),
    (MARCH, "--start auto", 'start = "auto"', {}),
    (MARCH, "--start auto --every 4", "start = \"auto\"\nevery = 4", {}),
    (TANGO, "--bars 5-16 --move-part Bass=12 --swing 2:1 --thin 1 --reach 1/48 --priority Bass=2 "
     "--part-channels 'Chimes=chime*' --channel-rule alternate --tempo 90",
     'bars = "5-16"\nmove_parts = { Bass = 12 }\nswing = "2:1"\nthin = 1\nreach = "1/48"\npriorities = { Bass = 2 }\n'
     'part_channels = { Chimes = "chime*" }\nchannel_rule = "alternate"\n'
     'tempo = 90', {"bars": [5, 16], "swing": "2:1"}),
]  # fmt: skip


ABOUT_THE_RUN = {"name", "keep", "take",
    "song", "wheel_path", "search", "remedies", "page", "load", "window_ms", "plot", "overwrite", "strict", "as_json",
}  # fmt: skip


def songs(folder: Path) -> None:
    (folder / "beats.csv").write_text(BEATS, encoding="utf-8")
    (folder / "trill.musicxml").write_text(ORNAMENTED, encoding="utf-8")


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    monkeypatch.chdir(tmp_path)
    songs(tmp_path)
    return runner(capsys)


NO_REMEDIES = (Remedies(Shortfall(0, 0, 0, 0), (), {}, 0), None)


def song_path(name: str) -> Path:
    return SONGS / name if (SONGS / name).exists() else Path(name)


def set_of(name: str, keys: str) -> Path:
    start = "" if "start = " in keys else "start = 1\n"
    Path("set.toml").write_text(
        f'title = "E"\nwheel = "{WHEEL}"\n[[song]]\nscore = "{song_path(name)}"\n{start}{keys}\n', encoding="utf-8"
    )
    return Path("set.toml")


def toml_value(value: Any, kind: kinds.OptionKind) -> object:  # noqa: ANN401  # the value of any option
    """A value as a maker writes it, for a song set."""
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(kind, kinds.NamedValues):
        return {str(name): each for name, each in value}
    if isinstance(kind, kinds.NoteEdits | kinds.BeatShifts):
        return [str(each) for each in value] or None
    if isinstance(kind, kinds.NamePatterns):
        return list(value) or None
    if isinstance(kind, kinds.BarRange):
        return f"{value[0]}-{value[1]}"
    return ratio_text(value) if isinstance(value, Fraction) and isinstance(kind, kinds.Ratio) else str(value)


def request_from(**given: Any) -> Request:  # noqa: ANN401  # click passes options by name
    """The request that options make which click has read."""
    return request_of(lambda option: value_of(option, given))


def asked_of_fit(options: str) -> Request:
    """What the command line makes of options."""
    given = fit.make_context("fit", ["song", *shlex.split(options)]).params
    return request_from(**{name: value for name, value in given.items() if name not in ABOUT_THE_RUN})


@pytest.mark.parametrize(("name", "options", "keys", "told"), ASKED, ids=[case[1] for case in ASKED])
def test_a_song_set_and_the_command_line_ask_the_same(
    name: str, options: str, keys: str, told: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And the map tells what was asked, is read back, and is made again from the options that the report gives."""
    monkeypatch.chdir(tmp_path)
    songs(tmp_path)
    request, wheel = asked_of_fit(options), load_wheel(WHEEL)
    entry = parse_song_set(set_of(name, keys).read_bytes(), "set.toml", Path()).songs[0]
    assert entry.request == request
    fitted = fit_file(entry.score, wheel, request)
    for turn in fitted.turns:
        assert not verify(turn.score, wheel, turn.placement)
    maps = maps_of(fitted)
    document = json.loads(maps[0])
    closed("pin-map-3.json").validate(document)
    assert told.items() <= (document["edits"] | document["fit"]).items()
    for data in maps:
        assert pin_map_sha256(read_pin_map(data, wheel=wheel)) == json.loads(data)["map_sha256"]
    report = report_text(fitted)
    found = re.search(r"^Options (.*(?:\n {8}.*)*)", report, re.MULTILINE)
    again = fit_file(entry.score, wheel, asked_of_fit(found[1] if found else ""))
    assert bool(found) == (options != "--offset auto"), "the tango has no offset to take out"
    assert maps_of(again) == maps


def maps_of(fitted: FittedSong) -> list[bytes]:
    """The pin map of every set of plates, as `pegwright pin` writes it."""
    files = song_files(fitted, NO_REMEDIES, paper_named("a4"), 0)
    return [data for name, data in files.items() if name.endswith("pin-map.json")]


def test_every_option_of_fit_has_a_case_and_swap_takes_it_too() -> None:
    options = {param.opts[-1] for param in fit.params if param.name not in ABOUT_THE_RUN}
    assert options == {option.typed for option in OPTIONS}
    asked = " ".join(case[1] for case in ASKED)
    assert {option for option in options if option not in asked} == set()
    assert options <= {param.opts[-1] for param in swap.params if isinstance(param, click.Option)}


@settings(max_examples=thorough.cases(60, 300))
@given(asked())
def test_what_is_asked_is_typed_such_that_it_asks_the_same(request: Request) -> None:
    assert asked_of_fit(typed(request)) == request


@settings(max_examples=thorough.cases(60, 300))
@given(asked())
def test_what_is_asked_is_written_into_a_song_set_such_that_it_asks_the_same(request: Request) -> None:
    keys = {option.key: toml_value(written(request, option), option.kind) for option in OPTIONS}
    song = {"score": "a.mid"} | {key: value for key, value in keys.items() if value is not None}
    text = f'title = "E"\nwheel = "w.toml"\n[[song]]\n{toml_text(song)}'
    assert parse_song_set(text.encode(), "set.toml", Path()).songs[0].request == request


def test_hear_keeps_its_own_turns() -> None:
    """It plays so many; what it fits is asked by all the other options."""
    assert len([param for param in hear.params if param.name == "turns"]) == 1
    assert {option.typed for option in OPTIONS} <= {param.opts[-1] for param in hear.params}
    given = hear.make_context("hear", ["song", "--turns", "3", "--whole-bars"]).params
    own = {"song", "out", "wheel_path", "turns", "seam_file", "compare", "only_changed", "no_leads", "even"}
    own |= {"soundfont", "overwrite"}
    request = request_from(**{name: value for name, value in given.items() if name not in own})
    assert (request.turns, request.whole_bars) == (None, True)


def test_pin_and_set_write_the_same(pegwright: Command) -> None:
    """Page and print are equal byte for byte, and the pin map but for the plates of the show."""
    name, options, keys, _ = ASKED[-1]
    assert pegwright("pin", SONGS / name, "-w", WHEEL, "-o", "pinned", *shlex.split(options)).code == 0
    assert pegwright("set", set_of(name, keys), "-o", "show").code == 0
    plan = json.loads(Path("show/data/plan.json").read_text("utf-8"))
    closed("show-plan-2.json").validate(plan)
    pinning = plan["pinnings"][0]
    assert (Path("show") / "pegwright.sha256").exists()
    folder = Path("show") / pinning["song_folder"]
    named = Path("show/songs") / folder.name
    written = {"pin-map.json": folder / "pin-map.json"}
    written |= {"report.html": named.with_suffix(".html"), "print-a4.pdf": Path(f"{named}-a4.pdf")}
    of_show = written.pop("pin-map.json")
    document = json.loads(of_show.read_text("utf-8"))
    assert document.pop("mounted") == [{"plate_set": pinning["plate_set"], "plates": pinning["plates"]}]
    assert json.loads(Path("pinned/pin-map.json").read_text("utf-8")) == document
    for name, path in written.items():
        assert (Path("pinned") / name).read_bytes() == path.read_bytes(), name
    report = json.loads(Path("pinned/report.json").read_text("utf-8"))
    closed("fit-report-3.json").validate(report)
    pins = json.loads(Path("pinned/pin-map.json").read_text("utf-8"))
    assert report["edits"] == pins["edits"]
    made = json.loads(Path(f"show/{pinning['swap_files']}.json").read_text("utf-8"))
    count = json.loads(Path("pinned/pin-count.json").read_text("utf-8"))
    assert made["set_count"] == count["pin_count"] == pins["pin_count"] == pinning["pin_count"]
    text = pegwright("set", "set.toml").out
    assert "--part-channels" in text
    thinned = plan["songs"][0]["count"]["dropped_by_option"]["thin"]
    assert f"{thinned} by --thin" in " ".join(text.split())


def test_every_so_many_steps_only_those_starts_are_tried(pegwright: Command) -> None:
    """The march loses a note at step 1 and none at step 2 (see above); from every fourth step some are as good."""
    path = set_of(MARCH, "every = 4")
    path.write_text(path.read_text("utf-8").replace("start = 1\n", ""), encoding="utf-8")
    plan = json.loads(pegwright("set", path, "--json").out)
    assert (int(plan["pinnings"][0]["start_step"]) - 1) % 4 == 0
    best = json.loads(pegwright("fit", SONGS / MARCH, "-w", WHEEL, "--start", "auto", "--every", "4", "--json").out)
    assert plan["songs"][0]["count"] == best["count"]
    assert any("--start auto --every 4" in it["message"] for it in plan["findings"])
    fixed = path.read_text("utf-8").replace("[[song]]", "[plates]\nfixed = [1]\n[[song]]")
    path.write_text(fixed.replace("every = 4", "every = 5"), encoding="utf-8")
    plan = json.loads(pegwright("set", path, "--json").out)
    assert (int(plan["pinnings"][0]["start_step"]) - 1) % 5 == 0


def test_the_plan_tells_how_many_notes_were_dropped(pegwright: Command) -> None:
    plan = json.loads(pegwright("set", set_of(REGRETS, "thin = 2"), "--json").out)
    song = plan["songs"][0]
    whole = json.loads(pegwright("fit", SONGS / REGRETS, "-w", WHEEL, "--json").out)["count"]
    assert song["count"]["dropped_by_option"]["thin"] == song["count"]["dropped"] > 0
    assert song["count"]["read"] == whole["read"]
    assert any(it["code"] == "asked" and "is fitted with --thin 2" in it["message"] for it in plan["findings"])


@pytest.mark.parametrize("asked", ["--swing 2:1 --start 1", "--thin 2 --channel-rule alternate"])
def test_a_swap_to_a_song_can_be_asked_the_same(pegwright: Command, asked: str) -> None:
    options = shlex.split(asked)
    assert pegwright("pin", SONGS / MARCH, "-w", WHEEL, "-o", "now").code == 0
    ran = pegwright("swap", "now/pin-map.json", SONGS / TANGO, "-w", WHEEL, "-o", "to", *options)
    assert ran.code == 0, ran
    pins = json.loads(Path("to/pin-map.json").read_text("utf-8"))
    start = str(32 * (pins["fit"]["start_plate"] - 1) + int(pins["fit"]["start_step"]))
    ran = pegwright("pin", SONGS / TANGO, "-w", WHEEL, "-o", "by-hand", *options, "--start", start)
    assert json.loads(Path("by-hand/pin-map.json").read_text("utf-8")) == pins
    assert pegwright("swap", "now/pin-map.json", "to/pin-map.json", "-w", WHEEL).code == 0


def test_a_swap_to_a_map_takes_no_options_of_the_fit(pegwright: Command) -> None:
    assert pegwright("pin", SONGS / MARCH, "-w", WHEEL, "-o", "now").code == 0
    told = pegwright("swap", "now/pin-map.json", "now/pin-map.json", "-w", WHEEL, "--swing", "2:1").refused(2)
    assert "options of the fit go with a score" in told


def test_swap_takes_but_does_not_list_what_says_how_a_song_is_read(pegwright: Command) -> None:
    """It belongs to the song: its song file says it."""
    listed, of_fit = (pegwright(command, "--help").out for command in ("swap", "fit"))
    for option in ("--performed", "--beats", "--beat-shift", "--metre", "--ornaments"):
        assert f"  {option}" not in listed
        assert f"  {option}" in of_fit
    assert "--performed" not in listed  # an option that goes with it is of no use by itself
    assert set(OF_THE_SONG) <= BY_NAME.keys()
    assert {"performed", "beats", "ornaments"} <= {param.name for param in swap.params}


def test_options_that_were_merged_are_gone(pegwright: Command) -> None:
    for options in (("--load-plot", "a.pdf"), ("--page", "a.html"), ("--channel-rule", "spread")):
        ran = pegwright("fit", SONGS / MARCH, "-w", WHEEL, *options)
        assert ran.code == 2
        assert "Traceback" not in ran.err


def test_a_search_lists_and_auto_takes(pegwright: Command) -> None:
    searched = pegwright("fit", SONGS / MARCH, "-w", WHEEL, "--search").out
    assert searched.startswith("Compared 25 transpositions x 192 starts; the best, proved:")
    assert "Sounding:" not in searched, "the report is that of the command that takes it"
    taken = " ".join(searched.partition("The first is taken by")[2].replace("\\", "").split())
    assert taken.endswith("--start 2")
    report = pegwright(*taken.split()[1:]).out
    auto = pegwright("fit", SONGS / MARCH, "-w", WHEEL, "--transpose", "auto", "--start", "auto").out
    assert report.partition("\n")[0] == auto.partition("\n")[0] == "All 204 notes sound."
    assert "Compared" not in auto
