"""`--performed` and `--beats`, as a user meets them."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np
import pytest

from commands import SONGS, WHEEL, Command, runner
from drawn import texts
from pegwright.ask.request import Beat, Played, Request, played_by
from pegwright.columns import frozen_floats
from pegwright.config import load_wheel
from pegwright.draw.paper import A4
from pegwright.errors import UsageError
from pegwright.played import quantise
from pegwright.played.bar_places import metre_of
from pegwright.played.beats import BeatTrack
from pegwright.played.findings import findings_of
from pegwright.played.quantise import quantise_performed
from pegwright.played.result import PerformedResult
from pegwright.read import read_score
from pegwright.score import LOW_CONFIDENCE
from pegwright.song_pipeline import performed
from pegwright.song_pipeline.fitting import fit_file, fit_score
from pegwright.song_pipeline.performed import put_on_grid
from song_sheets import song_sheets

TANGO = SONGS / "turnstile-tango.mid"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture
def by_hand(tmp_path: Path) -> Path:
    """The tango with 10 ms of jitter on every onset, and its beats tapped on a channel of their own."""
    song = mido.MidiFile(TANGO)
    chance = np.random.default_rng(5)
    tick_ms = 60_000 / 104 / song.ticks_per_beat
    made = mido.MidiFile(ticks_per_beat=song.ticks_per_beat)
    for track in song.tracks:
        now = 0
        events: list[tuple[int, int, mido.Message]] = []
        for message in track:
            now += message.time
            late = round(float(chance.normal(0, 10)) / tick_ms) if message.type == "note_on" and message.velocity else 0
            if message.type != "end_of_track":
                events.append((max(0, now + late), len(events), message))
        played, before = mido.MidiTrack(), 0
        for at, _, message in sorted(events, key=lambda event: event[:2]):
            played.append(message.copy(time=at - before))
            before = at
        made.tracks.append(played)
    taps = mido.MidiTrack([mido.MetaMessage("track_name", name="Taps")])
    for beat in range(50):
        taps.append(
            mido.Message("note_on", channel=5, note=60, velocity=90, time=song.ticks_per_beat - 10 if beat else 0)
        )
        taps.append(mido.Message("note_off", channel=5, note=60, time=10))
    made.tracks.append(taps)
    path = tmp_path / "by-hand.mid"
    made.save(path)
    return path


def test_a_song_played_by_hand_goes_in_where_it_was_meant(pegwright: Command, by_hand: Path) -> None:
    as_written = json.loads(pegwright("fit", TANGO, "--wheel", WHEEL, "--json").out)
    raw = json.loads(pegwright("fit", by_hand, "--wheel", WHEEL, "--json").out)
    ran = pegwright("fit", by_hand, "--wheel", WHEEL, "--performed", "--beats", "part:Taps", "--json")
    assert ran.code == 0, ran
    report = json.loads(ran.out)
    assert raw["placed_by_audibility"]["exact"] < 0.7 * as_written["count"]["read"]
    assert report["count"]["dropped_by_option"] == {"beats": 50}, "the taps are no notes of the song"
    assert report["count"]["read"] - 50 == as_written["count"]["read"]
    assert report["placed_by_audibility"]["exact"] > 0.97 * as_written["count"]["read"]
    assert any(finding["code"] == "performed" for finding in report["findings"])


def test_beats_are_taken_from_a_file(pegwright: Command, by_hand: Path, tmp_path: Path) -> None:
    beats = tmp_path / "beats.csv"
    beats.write_text("seconds\n" + "\n".join(f"{beat * 60 / 104:.4f}" for beat in range(50)), encoding="utf-8")
    ran = pegwright("fit", by_hand, "--wheel", WHEEL, "--performed", "--beats", beats)
    assert ran.code == 0, ran
    assert "played by hand put on the grid" in ran.out
    assert "where the beat was carried on" not in ran.out


@pytest.mark.parametrize("given", [range(20), range(20, 50)], ids=["end early", "begin late"])
def test_beats_that_are_not_of_the_whole_song_are_told(
    pegwright: Command, by_hand: Path, tmp_path: Path, given: range
) -> None:
    beats = tmp_path / "few.csv"
    beats.write_text("\n".join(f"{beat * 60 / 104:.4f},{beat}" for beat in given), encoding="utf-8")
    asked = ("--wheel", WHEEL, "--performed", "--beats", beats, "--json")
    findings = json.loads(pegwright("fit", by_hand, *asked).out)["findings"]
    (told,) = [finding for finding in findings if finding["code"] == "beats-too-few"]
    assert told["count"] > 50
    assert f"the {len(given)} beats given" in told["message"]


@pytest.mark.parametrize(
    ("beats", "code", "said"),
    [
        ("part:Tap", 2, "no part 'Tap'"),
        ("part:taps", 2, "did you mean Taps?"),
        ("nowhere.csv", 1, "nowhere.csv"),
        (TANGO, 1, "CSV"),
    ],
)
def test_beats_that_cannot_be_had_are_told(
    pegwright: Command, by_hand: Path, beats: str | Path, code: int, said: str
) -> None:
    assert said in pegwright("fit", by_hand, "--wheel", WHEEL, "--performed", "--beats", beats).refused(code)


def test_beats_that_run_backwards_are_told(pegwright: Command, by_hand: Path, tmp_path: Path) -> None:
    beats = tmp_path / "beats.csv"
    beats.write_text("1.0\n2.0\n1.5\n", encoding="utf-8")
    assert "line 3" in pegwright("fit", by_hand, "--wheel", WHEEL, "--performed", "--beats", beats).refused(2)


BAD_BEATS = {
    "": (2, "0 beats given, fewer than 2"),
    "1\n": (2, "1 beat given, fewer than 2"),
    "0\nnan\n2\n": (2, "line 2"),
    "0\n1\ninf\n": (2, "line 3"),
    "0,0,0\n1,1,1\n": (1, "3 columns"),
    "0\none\n": (1, "'one' is not a number"),
    "0" * 200_000: (1, "this is not a CSV file"),
    "\n".join(f"{beat / 1000}" for beat in range(5000)): (2, "60,000 quarter notes a minute, above 1,000"),
    "0,0\n1,1e9\n2,2e9\n": (2, "60,000,000,000 quarter notes a minute, above 1,000"),
    "0\n1e-300\n2e-300\n": (2, "e+301 quarter notes a minute"),
}


@pytest.mark.parametrize("text", BAD_BEATS, ids=[said for _, said in BAD_BEATS.values()])
def test_a_file_of_bad_beats_is_told_with_its_name(pegwright: Command, tmp_path: Path, text: str) -> None:
    """At the pace of the last three the song would be longer than any machine can hold."""
    (tmp_path / "beats.csv").write_text(text, encoding="utf-8")
    code, said = BAD_BEATS[text]
    told = pegwright("fit", TANGO, "-w", WHEEL, "--performed", "--beats", tmp_path / "beats.csv").refused(code)
    assert said in told
    assert "beats.csv" in told


def test_beats_without_performed_are_refused(pegwright: Command) -> None:
    assert "--performed" in pegwright("fit", TANGO, "--wheel", WHEEL, "--beats", "find").refused(2)


def test_playing_is_reported_with_what_to_try_and_remedies_say_what_that_does(
    pegwright: Command, by_hand: Path
) -> None:
    """`fit` names the option, `--remedies` has tried it, and neither does so of the song as it is written."""
    fit = ("fit", by_hand, "--wheel", WHEEL, "--without", "Taps")
    text = " ".join(pegwright(*fit).out.split())
    assert "lie on a simple grid (chance alone puts" in text
    assert "--performed puts every note on the hole that was meant" in text
    text = " ".join(pegwright(*fit, "--remedies").out.split())
    said = "- It was played by hand; with every note on the hole that was meant "
    assert said in text
    performed = pegwright(*fit, "--performed", "--json")
    count = json.loads(performed.out)["count"]
    sound = f"{count['sounding']:,} of {count['read']:,} notes sound"
    assert text.partition(said)[2].startswith(sound)
    assert "--performed" in text.partition(said)[2][:300]
    data = json.loads(pegwright(*fit, "--remedies", "--json").out)["remedies"]
    assert data["performed"]["not_sounding"] == count["left_out"] < data["now"]["not_sounding"] + 1
    assert "played by hand" not in pegwright("fit", TANGO, "--wheel", WHEEL, "--remedies").out


def test_notes_in_doubt_are_among_the_remarks_of_the_sheets() -> None:
    wheel, (written, _) = load_wheel(WHEEL), read_score(TANGO)
    sure = np.where(np.arange(written.note_count) < 2, LOW_CONFIDENCE - 0.1, 1.0)
    doubted = fit_score(replace(written, confidence=sure), wheel)
    words = "2 notes whose hole is in doubt: bar 1"
    assert any(words in text.text for page in song_sheets(doubted, 0, A4) for text in texts(page))
    assert not any(
        "in doubt" in text.text for page in song_sheets(fit_file(TANGO, wheel), 0, A4) for text in texts(page)
    )


def test_what_is_known_of_the_rhythm_is_kept_to(pegwright: Command, by_hand: Path) -> None:
    """The tango begins on beat 1, and has eighths and sixteenths alone."""
    taps = ("fit", by_hand, "--wheel", WHEEL, "--performed", "--beats", "part:Taps")
    placed = [
        json.loads(pegwright(*taps, *known, "--json").out)["placed_by_audibility"]["exact"]
        for known in ((), ("--subdivisions", "sixteenths"))
    ]
    assert placed[1] >= placed[0]
    refused = pegwright(*taps, "--subdivisions", "fifths")
    assert refused.code == 2
    assert "sixteenths" in refused.err


def test_bars_are_counted_in_the_metre_and_from_the_beat_given(by_hand: Path) -> None:
    played = Played(Beat.KEEP, tapped_part="Taps")
    wheel, (score, _) = load_wheel(WHEEL), read_score(by_hand)
    plain, _ = put_on_grid(score, wheel, Request(played=played))
    waltz, _ = put_on_grid(score, wheel, Request(played=played, metre="3/4", first_note=Fraction(3)))
    assert waltz.bar_map.beats.tolist()[0] == 3
    assert int(waltz.onset_ticks[0]) == 2 * waltz.resolution
    assert np.ptp(waltz.onset_ticks - plain.onset_ticks) == 0, "all notes are moved by as much"
    assert np.array_equal(np.diff(waltz.bar_map.ticks), np.full(len(waltz.bar_map.ticks) - 1, 3 * waltz.resolution))
    with pytest.raises(UsageError, match="lies between the places of the grid"):
        put_on_grid(score, wheel, Request(played=played, first_note=Fraction(9, 7)))
    eighths, _ = put_on_grid(score, wheel, Request(played=played, subdivisions="eighths"))
    assert not (eighths.onset_ticks % (eighths.resolution // 2)).any()


@pytest.fixture
def slower(by_hand: Path, tmp_path: Path) -> Path:
    """The same playing in a file that says 120 where the player begins at 104, as recorders do that know no tempo."""
    song = mido.MidiFile(by_hand)
    for track in song.tracks:
        track[:] = [message for message in track if message.type != "set_tempo"]
    song.ticks_per_beat = round(song.ticks_per_beat * 104 / 120)  # as many ticks a second
    song.save(tmp_path / "slower.mid")
    return tmp_path / "slower.mid"


def test_a_tempo_at_the_start_is_given_where_the_file_knows_none(pegwright: Command, slower: Path) -> None:
    fit = ("fit", slower, "--wheel", WHEEL, "--without", "Taps", "--performed", "--json", "--beats")
    found, given = (json.loads(pegwright(*fit, words).out) for words in ("find", "104"))
    assert given["edits"]["performed"] == "104"
    assert "tempo-open" in {finding["code"] for finding in found["findings"]}
    assert "tempo-open" not in {finding["code"] for finding in given["findings"]}
    wheel, (score, _) = load_wheel(WHEEL), read_score(slower)
    placed, _ = put_on_grid(score, wheel, Request(played=Played(start_tempo=Fraction(104))))
    written, _ = read_score(TANGO)
    meant = np.unique(np.round((written.onset_ticks - written.onset_ticks.min()) / written.resolution * 24))
    heard = np.unique(np.round((placed.onset_ticks - placed.onset_ticks.min()) / placed.resolution * 24))
    assert len(np.intersect1d(meant, heard)) >= 0.95 * len(meant)


@pytest.mark.parametrize(
    ("words", "fault"),
    [("19", "outside 20 to 400"), ("-5", "outside 20 to 400"), ("401", "outside 20 to 400"), ("0", "20 to")],
)
def test_a_tempo_at_which_nobody_plays_is_refused(pegwright: Command, by_hand: Path, words: str, fault: str) -> None:
    assert fault in pegwright("fit", by_hand, "--wheel", WHEEL, "--performed", "--beats", words).refused(2)


@pytest.mark.parametrize("words", ["20", "92.5", "92.123456", "399.999999"])
def test_a_tempo_is_written_as_it_was_given(words: str) -> None:
    assert str(played_by(words, Path())) == words


@pytest.mark.parametrize(
    ("tempo", "named"), [(100, "200, 50, 150 or 67"), (230, "115, 345 or 153"), (36, "72, 54 or 24")]
)
def test_tempi_that_are_offered_can_be_given(tempo: int, named: str) -> None:
    score, _ = read_score(TANGO)
    beats = BeatTrack(frozen_floats([0.0, 60 / tempo]), frozen_floats([0.0, 1.0]))
    result, _ = quantise_performed(score, beats, Beat.KEEP)
    (said,) = [
        each for each in findings_of(score, replace(result, beats=beats, tempo_open=True)) if each.code == "tempo-open"
    ]
    assert said.hint.endswith(f"--beats {named}")


def test_a_tempo_is_kept_in_a_song_file(pegwright: Command, by_hand: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.toml"
    options = ("--performed", "--beats", "92.5", "--without", "Taps")
    plain = pegwright("fit", by_hand, "--wheel", WHEEL, *options, "--keep", kept, "--json")
    assert plain.code == 0, plain.err
    assert 'beats = "92.5"' in kept.read_text(encoding="utf-8")
    again = json.loads(pegwright("fit", kept, "--json").out)
    assert again["edits"]["performed"] == "92.5"
    assert again["count"] == json.loads(plain.out)["count"]


def eighths(tmp_path: Path, metre: str, first_quarters: float, silence_s: float = 0.0) -> Path:
    """Scales in eighths at 120 with 4 ms of jitter; the file states the metre."""
    chance, number, kind = np.random.default_rng(3), *map(int, metre.split("/"))
    track = mido.MidiTrack([mido.MetaMessage("time_signature", numerator=number, denominator=kind)])
    at_s = silence_s + 0.25 * np.arange(48) + np.abs(chance.normal(0, 0.004, 48))
    ticks, before = np.round(at_s * 960).astype(int).tolist(), 0
    for note, tick in enumerate(ticks):
        pitch = 60 + (0, 2, 4, 5, 7, 9, 11, 12)[(note - round(2 * first_quarters)) % 8]
        track.append(mido.Message("note_on", note=pitch, velocity=80, time=tick - before))
        track.append(mido.Message("note_off", note=pitch, time=100))
        before = tick + 100
    made = mido.MidiFile(ticks_per_beat=480)
    made.tracks.append(track)
    made.save(tmp_path / "eighths.mid")
    return tmp_path / "eighths.mid"


@pytest.mark.parametrize("beats", [Beat.KEEP, Beat.FOLLOW, Beat.FIND])
@pytest.mark.parametrize(
    ("metre", "first", "silence_s", "where"),
    [
        ("4/4", "9/2", 0.0, "bar 1 beat 4.5"),
        ("4/4", "9/2", 1.25, "bar 1 beat 4.5"),
        ("4/4", "1", 1.0, "bar 1 beat 1"),
        ("6/8", "6", 0.0, "bar 1 beat 6"),
        ("3/4", "3", 2.0, "bar 1 beat 3"),
    ],
)
def test_the_first_note_begins_where_it_is_said_to(
    tmp_path: Path, beats: Beat, metre: str, first: str, silence_s: float, where: str
) -> None:
    """After silence, on half a beat and in the metre of the file too."""
    quarters = float((Fraction(first) - 1) * 4 / int(metre[-1]))
    score, _ = read_score(eighths(tmp_path, metre, quarters, silence_s))
    request = Request(played=Played(beats), first_note=Fraction(first))
    song, _ = put_on_grid(score, load_wheel(WHEEL), request)
    assert str(song.source(0)).endswith(where)
    assert (int(song.bar_map.beats[0]), int(song.bar_map.beat_types[0])) == tuple(map(int, metre.split("/")))


def test_a_first_note_beyond_its_bar_is_refused(pegwright: Command, tmp_path: Path) -> None:
    asked = ("fit", eighths(tmp_path, "3/4", 0), "-w", WHEEL, "--performed", "--first-note")
    assert "a bar of 3/4 has 3 beats, and no beat 4 (give a beat from 1" in pegwright(*asked, "4").refused(2)
    assert pegwright(*asked, "3.5").code == 0
    assert pegwright(*asked, "4", "--metre", "4/4").code == 0


def test_a_metre_that_is_given_is_not_assumed(pegwright: Command, by_hand: Path) -> None:
    asked = ("fit", by_hand, "-w", WHEEL, "--performed", "--json")
    for options, assumed in (((), True), (("--metre", "3/4"), False)):
        codes = {finding["code"] for finding in json.loads(pegwright(*asked, *options).out)["findings"]}
        stated = any(message.type == "time_signature" for track in mido.MidiFile(by_hand).tracks for message in track)
        assert ("metre-assumed" in codes) == (assumed and not stated)


def test_taps_that_are_far_from_even_are_reported(pegwright: Command, by_hand: Path, tmp_path: Path) -> None:
    even = [beat * 60 / 104 for beat in range(50)]
    asked = ("fit", by_hand, "-w", WHEEL, "--performed", "--json", "--beats", tmp_path / "taps.csv")
    for taps, said in (
        (even, None),
        (
            [*even[:20], even[19] + 0.03, *even[20:]],
            "beat 21, at 10.99 s, makes a quarter of 0.03 s among some of 0.58 s",
        ),
        (even[:20] + even[21:], "beat 21, at 12.12 s, makes a quarter of 1.15 s among some of 0.58 s"),
    ):
        (tmp_path / "taps.csv").write_text("\n".join(f"{tap:.4f}" for tap in taps), encoding="utf-8")
        findings = json.loads(pegwright(*asked).out)["findings"]
        uneven = [finding["message"] for finding in findings if finding["code"] == "beats-uneven"]
        assert len(uneven) == (said is not None)
        assert said is None or said in uneven[0]


def test_beats_in_milliseconds_are_refused(pegwright: Command, by_hand: Path, tmp_path: Path) -> None:
    (tmp_path / "ms.csv").write_text("\n".join(f"{beat * 60_000 / 104:.1f}" for beat in range(50)), encoding="utf-8")
    refused = pegwright("fit", by_hand, "-w", WHEEL, "--performed", "--beats", tmp_path / "ms.csv").refused(2)
    assert "quarter notes a minute, below 20 (give beats in seconds" in refused


@pytest.mark.parametrize(
    ("stated", "options", "heading", "quarters"),
    [
        ("6/8", (), "", 1.5),
        ("4/4", ("--metre", "12/8"), "", 1.5),
        ("4/4", ("--metre", "3/8"), "", 1.5),
        ("3/4", (), "", 1.0),
        ("4/4", ("--metre", "6/4"), "", 1.0),
        ("6/8", (), "seconds,quarters\n", 1.0),
    ],
)
def test_a_tap_in_compound_time_is_a_dotted_quarter(
    pegwright: Command, tmp_path: Path, stated: str, options: tuple[str, ...], heading: str, quarters: float
) -> None:
    """Unless the file of beats says how long it is: 24 quarters of eighths, tapped 16 times or 24 times."""
    song, taps = eighths(tmp_path, stated, 0), tmp_path / "taps.csv"
    lines = [f"{0.5 * each * quarters:.3f}" + f",{each}" * bool(heading) for each in range(28)]
    taps.write_text(heading + "\n".join(lines) + "\n", encoding="utf-8")
    report = json.loads(pegwright("fit", song, "-w", WHEEL, "--performed", "--json", "--beats", taps, *options).out)
    assert report["fit"]["quarters_per_minute"] == pytest.approx(120, rel=0.02)


@pytest.mark.parametrize(
    ("stated", "given", "followed"),
    [("3/4", None, "3/4"), ("6/8", "3/4", "3/4"), ("4/4", None, None), ("4/4", "4/4", "4/4"), ("7/8", None, None)],
)
def test_the_metre_of_a_file_is_followed_unless_it_is_what_recorders_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stated: str, given: str | None, followed: str | None
) -> None:
    """A file that states 4/4 may be of any metre."""
    asked: list[object] = []

    def put_on_holes(*arguments: object) -> PerformedResult:
        asked.append(arguments[-1])
        return quantise.put_on_holes(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(performed, "put_on_holes", put_on_holes)
    score, _ = read_score(eighths(tmp_path, stated, 0))
    put_on_grid(score, load_wheel(WHEEL), Request(played=Played(Beat.FOLLOW), metre=given))
    assert asked == [None if followed is None else metre_of(followed)]
