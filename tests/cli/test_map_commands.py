"""A pin map where a command takes a song: heard, printed and swapped without its score, as a user meets it."""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import mido
import pytest

import thorough
from commands import SONGS, WHEEL, Command, runner
from documents import pages_of
from pdf_shapes import MM, black_middles_mm, measured, pins_missing
from schemas import closed

TANGO, MINUET, LONG = "turnstile-tango.mid", "bathing-machine-minuet.musicxml", "low-water-slowly.mid"
OF_WHEEL = tomllib.loads(WHEEL.read_text(encoding="utf-8"))


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


class Strike(NamedTuple):
    """A pin by the map and the wheel file alone: its channel, and when it sounds after the start."""

    channel: str
    seconds: float


def strikes_of(path: Path) -> list[Strike]:
    """The strikes of a map, computed from its JSON and from the wheel file as TOML, in exact arithmetic."""
    document = json.loads(path.read_bytes())
    wheel, fit = OF_WHEEL["wheel"], document["fit"]
    step_s = 4 * Fraction(wheel["step"]) * Fraction(fit["us_per_quarter"], 1_000_000)
    start = (fit["start_plate"] - 1) * wheel["steps_per_plate"] + steps_of(fit["start_step"])
    turn = wheel["plates"] * wheel["steps_per_plate"]
    step_mm = 2 * 3.141592653589793 * OF_WHEEL["geometry"]["radius_mm"] / turn
    lead_ms = {
        channel["name"]: channel.get("lead_ms", OF_WHEEL["channel_defaults"]["lead_ms"])
        for channel in OF_WHEEL["channel"]
    }
    offset_mm = {kind["name"]: kind.get("offset_mm", 0.0) for kind in OF_WHEEL["pin_type"]}
    found = []
    for plate in document["plates"]:
        for pin in plate["pins"]:
            place = (plate["plate"] - 1) * wheel["steps_per_plate"] + steps_of(pin["step"])
            late_steps = offset_mm[pin["pin_type_name"]] / step_mm
            seconds = (
                float(((place - start) % turn + Fraction(late_steps)) * step_s) + lead_ms[pin["channel_name"]] / 1000
            )
            found.append(Strike(pin["channel_name"], seconds))
    return sorted(found)


def steps_of(text: str) -> Fraction:
    return sum((Fraction(part) for part in text.split()), Fraction(0)) - 1


def pinned(pegwright: Command, folder: Path, song: str, *options: str) -> Path:
    """The folder of pins of a song."""
    out = folder / "pins"
    assert pegwright("pin", SONGS / song, "-w", WHEEL, "-o", out, "--no-remedies", *options).code == 0
    return out


@pytest.mark.parametrize("options", [(), ("--start", "17")])
@pytest.mark.parametrize("song", [TANGO, MINUET])
def test_what_a_map_sounds_like_is_its_strikes(
    pegwright: Command, tmp_path: Path, song: str, options: tuple[str, ...]
) -> None:
    """Read back by pretty_midi and symusic, which know nothing of pegwright."""
    import pretty_midi
    import symusic

    pins, sound = pinned(pegwright, tmp_path, song, *options), tmp_path / "map.mid"
    ran = pegwright("hear", pins / "pin-map.json", "-w", WHEEL, "-o", sound)
    expected = strikes_of(pins / "pin-map.json")
    assert f": {len(expected)} strikes, 1 turn of " in ran.out
    assert "Every pin is heard equally loud" in ran.out
    delay_s = min(0.0, *(strike.seconds for strike in expected))
    assert delay_s == 0.0
    by_library = (
        [
            Strike(track.name, note.start)
            for track in pretty_midi.PrettyMIDI(str(sound)).instruments
            for note in track.notes
        ],
        [
            Strike(track.name, note.start)
            for track in symusic.Score(sound, ttype="second").tracks
            for note in track.notes
        ],
    )
    for strikes in by_library:
        assert len(strikes) == len(expected)
        for heard, wanted in zip(sorted(strikes), expected, strict=True):
            assert heard.channel == wanted.channel
            assert heard.seconds == pytest.approx(wanted.seconds, abs=131e-6)


def onsets(path: Path) -> list[tuple[int, float]]:
    now, found = 0.0, []
    for message in mido.MidiFile(path):
        now += message.time
        if message.type == "note_on" and message.velocity:
            found.append((message.note, now))
    return sorted(found)


def test_the_folder_of_a_song_of_several_turns_is_heard_as_the_song(pegwright: Command, tmp_path: Path) -> None:
    pins, of_song, of_map = pinned(pegwright, tmp_path, LONG), tmp_path / "song.mid", tmp_path / "map.mid"
    assert pegwright("hear", SONGS / LONG, "-w", WHEEL, "-o", of_song, "--even").code == 0
    ran = pegwright("hear", pins, "-w", WHEEL, "-o", of_map)
    assert ran.out.startswith("Low Water, Slowly: 103 strikes, 2 turns of 130.9 s at 22 quarter notes a minute.")
    for heard, wanted in zip(onsets(of_map), onsets(of_song), strict=True):
        assert heard == pytest.approx(wanted, abs=0.001)
    assert pegwright("hear", pins / "B", "-w", WHEEL, "-o", tmp_path / "b.mid").code == 0
    assert len(onsets(tmp_path / "b.mid")) == 5


def test_a_map_that_lacks_its_other_sets_is_refused_as_a_song(pegwright: Command, tmp_path: Path) -> None:
    pins = pinned(pegwright, tmp_path, LONG)
    (pins / "A/pin-map.json").rename(tmp_path / "a.json")
    (pins / "C").mkdir()
    (pins / "C/pin-map.json").write_bytes((pins / "B/pin-map.json").read_bytes())
    assert "two of its pin maps are the same set of plates" in pegwright("hear", pins, "-w", WHEEL).refused(1)
    (pins / "C/pin-map.json").write_bytes(pinned_minuet(pegwright, tmp_path))
    assert "are not sets of plates of one song" in pegwright("hear", pins, "-w", WHEEL).refused(1)


def pinned_minuet(pegwright: Command, folder: Path) -> bytes:
    (folder / "other").mkdir()
    return (pinned(pegwright, folder / "other", MINUET) / "pin-map.json").read_bytes()


@pytest.mark.parametrize(
    ("command", "options", "told"),
    [
        ("hear", ("--compare", "beside"), "--compare: needs the score, which a pin map is not"),
        ("hear", ("--only-changed",), "--only-changed: needs the score"),
        ("hear", ("--bars", "1-2"), "pin-map.json: a pin map is not fitted: options of the fit go with a score"),
        ("pin", ("--transpose", "2"), "a pin map is not fitted"),
        ("pin", ("--remedies",), "--remedies: needs the score"),
        ("pin", ("--strict",), "--strict: needs the score"),
        ("fit", (), "the file is a pin map, not a score: its notes are placed already (`hear`, `pin` and `swap` take"),
        ("song", (), "the file is a pin map, not a score"),
    ],
)
def test_what_goes_with_a_score_alone_is_refused_in_one_line(
    pegwright: Command,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    command: str,
    options: tuple[str, ...],
    told: str,
) -> None:
    pins = pinned(pegwright, tmp_path, MINUET, "--bars", "1-2")
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    ran = pegwright(command, pins / "pin-map.json", "-w", WHEEL, *options)
    assert told in ran.refused(2 if options else 1)
    assert not list(Path().iterdir())


@pytest.mark.parametrize("song", [MINUET, LONG], ids=["one-turn", "two-turns"])
def test_the_folder_of_a_map_is_no_score_and_says_what_takes_it(pegwright: Command, tmp_path: Path, song: str) -> None:
    pins = pinned(pegwright, tmp_path, song)
    for command in ("fit", "song"):
        told = pegwright(command, pins, "-w", WHEEL).refused(1)
        assert "the folder is that of a pin map, not a score: its notes are placed already (`hear`, `pin` and" in told
        assert "folder of one song" not in told


def test_pin_says_to_pull_pins_only_where_there_are_any(pegwright: Command, tmp_path: Path) -> None:
    old = pinned(pegwright, tmp_path, TANGO)
    for before, work in ((old, "pull and set the pins of one plate"), ("empty", "and pin one plate")):
        ran = pegwright("pin", SONGS / MINUET, "-w", WHEEL, "--from", before, "-o", tmp_path / work.replace(" ", "-"))
        assert f"{work} after another by its sheet." in " ".join(ran.out.split())


def test_a_map_is_printed_again_without_its_score(pegwright: Command, tmp_path: Path) -> None:
    pins = pinned(pegwright, tmp_path, LONG)
    ran = pegwright("pin", pins, "-w", WHEEL, "-o", tmp_path / "again")
    assert ran.out.startswith("Low Water, Slowly: 103 pins in 2 sets of plates, as the pin map has them.")
    again = tmp_path / "again"
    names = {str(path.relative_to(again)) for path in again.rglob("*") if path.is_file()}
    of_score = {"report.txt", "report.json"}
    assert names == {str(path.relative_to(pins)) for path in pins.rglob("*") if path.is_file()} - of_score
    same = sorted(name for name in names if name.endswith((".csv", "pin-map.json")))
    assert len(same) == 2 * 6 + 2
    assert [name for name in same if (again / name).read_bytes() != (pins / name).read_bytes()] == []
    (count,) = pages_of(again / "print-a4.pdf", "Pin count")
    assert "Low Water, Slowly, sets of plates A and B" in count.extract_text()
    counted = json.loads((again / "pin-count.json").read_bytes())
    closed("pin-count-1.json").validate(counted)
    assert counted["places"] == json.loads((pins / "pin-count.json").read_bytes())["places"]


@pytest.mark.parametrize("song", [MINUET, TANGO][: thorough.cases(1, 2)])
def test_the_pins_on_the_sheets_of_a_map_are_where_the_map_has_them(
    pegwright: Command, tmp_path: Path, song: str
) -> None:
    """Measured as a maker does: from the line of step 1, in the sheet's own 100 mm, at the scale printed on it."""
    pins = pinned(pegwright, tmp_path, song)
    assert pegwright("pin", pins / "pin-map.json", "-w", WHEEL, "-o", tmp_path / "again", "--paper", "a3").code == 0
    document = json.loads((pins / "pin-map.json").read_bytes())
    pages = pages_of(tmp_path / "again/print-a3.pdf", "Pin sheets")
    checked = 0
    for plate, page in zip(document["plates"], pages, strict=True):
        sheet = measured(page, OF_WHEEL["wheel"]["steps_per_plate"])
        assert pins_missing(page, sheet, plate, away_mm=0.1) == []
        checked += len(plate["pins"])
        on_lanes = [y for _, y in black_middles_mm(page) if sheet.lanes[0] < y * MM < sheet.lanes[-1]]
        assert len(on_lanes) == plate["pin_count"]
    assert checked == document["pin_count"] > 100


def test_a_map_is_not_written_into_its_own_folder(pegwright: Command, tmp_path: Path) -> None:
    pins = pinned(pegwright, tmp_path, MINUET)
    before = sorted(path.name for path in pins.iterdir())
    for source in (pins, pins / "pin-map.json"):
        told = pegwright("pin", source, "-w", WHEEL, "-o", pins, "--overwrite").refused(2)
        assert "is the folder of the pin map itself" in told
    assert sorted(path.name for path in pins.iterdir()) == before


def page_data(path: Path) -> Any:  # noqa: ANN401  # JSON
    text = path.read_text(encoding="utf-8")
    return json.loads(text.partition('<script type="application/json" id="data">')[2].partition("</script>")[0])


def test_the_page_of_a_map_has_every_pin_and_names_its_note(pegwright: Command, tmp_path: Path) -> None:
    pins = pinned(pegwright, tmp_path, MINUET)
    assert pegwright("pin", pins, "-w", WHEEL, "-o", tmp_path / "again").code == 0
    of_map, of_song = page_data(tmp_path / "again/report.html"), page_data(pins / "report.html")
    assert of_map["pins_only"] is True
    assert of_map["verdict"] == "161 pins as the pin map has them, without the score."
    keys = ("channel", "plate", "row", "step", "at", "pin_s", "pin", "where", "pitch")
    both = [Counter(zip(*(data["notes"][key] for key in keys), strict=True)) for data in (of_map, of_song)]
    assert both[0] == both[1]
    assert [of_map["parts"][part] for part in of_map["notes"]["part"]].count("Chimes") > 0
    assert of_map["counts"] == of_song["counts"]
    assert len(of_song["bars"]) == 19
    assert of_map["bars"] == of_song["bars"]


def words_on(path: Path) -> list[Counter[str]]:
    """The words of every page but those on how the notes of the song fare, which a map does not say."""
    return [
        Counter(word for word in page.extract_text().split() if word.isdecimal() or word == "bar")
        for page in pages_of(path, "Pin sheets")
    ]


def test_the_sheets_of_a_map_mark_its_bars_as_those_of_the_song_do(pegwright: Command, tmp_path: Path) -> None:
    pins = pinned(pegwright, tmp_path, TANGO, "--start", "17")
    assert pegwright("pin", pins, "-w", WHEEL, "-o", tmp_path / "again").code == 0
    of_song, of_map = (words_on(folder / "print-a4.pdf") for folder in (pins, tmp_path / "again"))
    assert of_map[0]["bar"] >= 1
    for song_page, map_page in zip(of_song, of_map, strict=True):
        assert not map_page - song_page
        assert map_page["bar"] == song_page["bar"]
    document = json.loads((pins / "pin-map.json").read_bytes())
    assert document["bars"][0] == {"label": "1", "step": "17", "beats": ["21"]}


@pytest.mark.parametrize("song", [LONG, MINUET])
def test_pages_and_call_lists_of_a_first_pinning_set_every_pin(pegwright: Command, tmp_path: Path, song: str) -> None:
    out = tmp_path / "pins"
    assert pegwright("pin", SONGS / song, "-w", WHEEL, "-o", out, "--no-remedies", "--from", "empty").code == 0
    for path in out.rglob("pin-map.json"):
        swap = json.loads((path.parent / "swap.json").read_bytes())
        closed("swap-1.json").validate(swap)
        document = json.loads(path.read_bytes())
        assert (swap["pull_count"], swap["stay_count"]) == (0, 0)
        assert swap["set_count"] == document["pin_count"]
        holes = [[(pin["channel"], pin["row"], pin["hole"]) for pin in plate["set"]] for plate in swap["plates"]]
        wanted = [[(pin["channel"], pin["row"], pin["hole"]) for pin in plate["pins"]] for plate in document["plates"]]
        assert [sorted(plate) for plate in holes] == [sorted(plate) for plate in wanted]
        letter = [] if path.parent == out else [f"Set of plates {path.parent.name}"]
        calls = pages_of(out / "print-a4.pdf", *letter, "Call list")
        assert "empty plates" in calls[0].extract_text()
        boxes = sum(1 for page in calls for rect in page.rects if abs(rect["width"] - rect["height"]) < 0.1)
        assert boxes >= document["pin_count"]


def test_a_swap_goes_from_empty_plates_and_from_a_folder(pegwright: Command, tmp_path: Path) -> None:
    pins = pinned(pegwright, tmp_path, MINUET)
    first = pegwright("swap", "--from", "empty", pins, "-w", WHEEL)
    assert "Set 161 pins on empty plates." in first.out
    assert "empty plates" in first.out
    again = pegwright("swap", pins, pins / "pin-map.json", "-w", WHEEL)
    assert "Pull 0, set 0, 161 stay" in again.out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("swap", "x"), "swap: 1 file given, not OLD and NEW (give two, or --from empty and one)"),
        (("swap", "--from", "empty", "x", "y"), "swap: 2 files given, not NEW alone"),
        (
            ("swap", "--from", "x", "y"),
            "--from: takes only empty, not 'x' (name a pin map before NEW: `pegwright swap x NEW`)",
        ),
        (("swap", "--from", " ", "x"), "--from: takes only empty, not ' ' (name a pin map before NEW"),
        (("pin", "--from", " ", "x"), "--from: the name is blank"),
        (("swap",), "swap: 0 files given, not OLD and NEW"),
    ],
)
def test_what_swap_is_given_is_counted(pegwright: Command, arguments: tuple[str, ...], told: str) -> None:
    assert told in pegwright(*arguments, "-w", WHEEL).refused(2)


def test_one_map_is_not_what_several_sets_of_plates_carry(pegwright: Command, tmp_path: Path) -> None:
    pins = pinned(pegwright, tmp_path, MINUET)
    out = tmp_path / "long"
    ran = pegwright("pin", SONGS / LONG, "-w", WHEEL, "-o", out, "--from", pins)
    assert "the song takes 2 sets of plates, and one of them at most carries this map" in ran.refused(2)
    assert not out.exists()
