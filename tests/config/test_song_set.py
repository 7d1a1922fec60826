"""The song set file: what it may say, and every fault told at once with its place, value, bound and remedy."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thorough
from pegwright.ask.options import ChannelRule, FitOptions, SearchRange
from pegwright.ask.request import Beat, Played, Request
from pegwright.bundled import bundled_song_set
from pegwright.config.song_set import SongSet, load_song_set, parse_song_set
from pegwright.errors import ConfigError, PegwrightError, UsageError
from pegwright.show.plan import Aim
from pegwright.show.time import WorkTimes

FOLDER = Path("sets")
SHORT = 'title = "Evening"\nwheel = "w.toml"\n[[song]]\nscore = "a.mid"\n'
FULL = """
title = "Evening"
wheel = "wheels/w.toml"
order = "least-worst"
plate_sets = 3
spares_percent = 2.5
[work]
pull_s = 1.5
set_s = 2
find_s = 0.5
rest_percent = 10
people = 2
change_s = 40
[plates]
fixed = [1, 4]
carry = ["now/pin-map.json", ""]
[song_defaults]
times = 2
talk_s = 60
[[song]]
score = "a.mid"
bars = "5-16"
turns = 3
whole_bars = true
transpose = "auto"
semitones = 5
start = 17
performed = true
beats = "part:Taps"
move_parts = { "Bass line" = -12, Horns = 2 }
fold_octaves = true
ornaments = "1/32"
swing = "4:2"
thin = 4
tempo = 96
place = "last"
reach = "1/64"
offset = "auto"
priorities = { Melody = 3, "Bass line" = 2 }
drums = { 38 = 40 }
part_channels = { "Bass line" = "string*" }
channel_rule = "alternate"
[[song]]
score = "b.mxl"
bars = 3
times = 5
talk_s = 0
transpose = -2
start = "3/2"
offset = -4
place = "first"
[[song]]
score = "c.mid"
transpose = "auto"
every = 4
performed = true
beats = "taps/three.csv"
"""


def parsed(text: str) -> SongSet:
    return parse_song_set(text.encode(), "set.toml", FOLDER)


def faults(text: str) -> list[str]:
    with pytest.raises(ConfigError) as caught:
        parsed(text)
    assert caught.value.exit_code == 2
    return [str(fault) for fault in caught.value.faults]


def test_the_shortest_file() -> None:
    made = parsed(SHORT)
    assert (made.title, made.wheel, made.aim, made.plate_sets) == ("Evening", FOLDER / "w.toml", Aim.GIVEN, None)
    song = made.songs[0]
    assert (song.score, song.times, song.talk_s, song.place) == (FOLDER / "a.mid", 1, 0.0, None)
    assert song.request == Request(search=SearchRange(every_steps=1))
    assert not made.finding_given


def test_times_of_work_default_to_the_motion_standard() -> None:
    """MTM-1 sums, see tests/show/test_motion.py: 35.2, 43.1, 53.7 and 71.6 TMU of 0.036 s."""
    assert parsed(SHORT).work.pull_s == pytest.approx(1.267, abs=5e-4)
    assert parsed(SHORT).work.set_s == pytest.approx(1.933, abs=5e-4)
    for fit, seconds in (("loose", 1.552), ("close", 1.933), ("pressed", 2.578)):
        made = parsed(SHORT.replace("[[song]]", f'[work]\nmotion_times = "{fit}"\n[[song]]'))
        assert made.work.set_s == pytest.approx(seconds, abs=5e-4)


def test_every_key() -> None:
    made = parsed(FULL)
    assert made.aim == Aim.LEAST_WORST
    assert (made.plate_sets, made.spares_percent, made.fixed_plates) == (3, 2.5, (0, 3))
    assert made.carried == (FOLDER / "now/pin-map.json", None)
    assert made.work == WorkTimes(1.5, 2.0, 0.5, 10.0, 2, 40.0)
    assert made.finding_given
    one, two, three = made.songs
    assert one.request == Request(
        bars=(5, 16),
        offset="auto",
        played=Played(Beat.KEEP, tapped_part="Taps"),
        part_semitones=(("Bass line", -12), ("Horns", 2)),
        swing=Fraction(2),
        most_at_once=4,
        options=FitOptions(
            start_steps=Fraction(16),
            us_per_quarter=625_000,
            fold_octaves=True,
            reach_quarters=Fraction(1, 16),
            part_priorities=(("Melody", 3), ("Bass line", 2)),
            drum_keys=((38, 40),),
            part_channels=(("Bass line", "string*"),),
            channel_rule=ChannelRule.ALTERNATE,
        ),
        search=SearchRange(semitones=5),
        ornaments=Fraction(1, 8),
        turns=3,
        whole_bars=True,
    )
    assert (one.times, one.talk_s, one.place) == (2, 60.0, "last")
    assert (two.times, two.talk_s, two.place) == (5, 0.0, "first")
    assert two.request == Request(
        bars=(3, 3), offset=-4, options=FitOptions(transpose_semitones=-2, start_steps=Fraction(1, 2))
    )
    assert three.request == Request(
        played=Played(Beat.KEEP, beats_file=FOLDER / "taps/three.csv"), search=SearchRange(12, every_steps=4)
    )


def test_the_bundled_song_set_is_sound_and_names_songs_that_exist() -> None:
    made = load_song_set(bundled_song_set())
    assert len(made.songs) >= 8
    assert made.wheel.is_file()
    assert all(song.score.is_file() for song in made.songs)


def test_all_faults_are_told_at_once_with_place_value_bound_and_remedy() -> None:
    text = """
title = 3
wheel = ""
ordre = "given"
order = "quickest"
plate_sets = 0
[work]
pull_s = 1
motion_times = "tight"
people = 0
[plates]
fixed = [0]
carry = [7]
[[song]]
score = "a.mid"
bars = "9-4"
start = "soon"
transpose = 200
times = 0
priorities = { Melody = 100 }
drums = { snare = 40, 38 = 200 }
talk = 5
"""
    found = faults(text)
    expected = [
        "title (line 2): 3 is not a text (give a text in quotes of 1 to 60 characters on one line)",
        'wheel (line 3): "" is blank (give the path of a wheel file in quotes)',
        "ordre (line 4): is not a known key (did you mean `order`?)",
        'order (line 5): "quickest" is not a playing order (give a playing order: "given", "least-work", "least-w',
        "plate_sets (line 6): 0 is below the minimum, 1 (give a whole number from 1 to 20, sets of plates)",
        "work.pull_s (line 8): is given together with motion_times (keep your own measured seconds, or motion_times)",
        "work.people (line 10): 0 is below the minimum, 1",
        "plates.fixed[1] (line 12): 0 is below the minimum, 1",
        "plates.carry[1] (line 13): 7 is not a text",
        'song[1].bars (line 16): "9-4" does not run upwards from bar 1 or later',
        'song[1].start (line 17): "soon" is not a fraction',
        "song[1].transpose (line 18): 200 is above the maximum, 127",
        "song[1].times (line 19): 0 is below the minimum, 1",
        "100 is above the maximum, 99",
        '"snare" is not a whole number',
        "200 is above the maximum, 127",
        "song[1].talk (line 22): is not a known key (did you mean `talk_s`?)",
    ]
    for words in expected:
        assert any(words in fault for fault in found), (words, found)
    assert any('work.motion_times (line 9): "tight" is not a fit of pins' in fault for fault in found)
    assert len(found) == len(expected) + 1


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('title = "E"\nwheel = "w"\n', "song: is missing (add at least 1 table headed [[song]])"),
        (
            'title = "E"\nwheel = "w"\n[[song]]\n',
            "song[1].score (line 3): is missing (give the path of a MIDI or MusicXML file",
        ),
        (SHORT + 'place = "first"\n[[song]]\nscore = "b"\nplace = "first"\n', 'song[1] has place = "first" already'),
        (
            SHORT + '[[song]]\nscore = "b"\nplace = "first"\n',
            '"first" does not agree with its place in the file, where order = "given"',
        ),
        (SHORT + "offset = 0.5\n", "0.5 is not a whole number"),
        (SHORT + "fold_octaves = 1\n", "1 is neither true nor false"),
        (SHORT + "bars = 0\n", "does not run upwards"),
        (SHORT + "bars = true\n", "is not a range of bars"),
        (
            SHORT + 'score = "again"\n',
            "line 5: a second score in one table, the first is in line 4 (keep one of the two",
        ),
        (
            SHORT + "semitones = 5\n",
            'semitones (line 5): goes with transpose = "auto" (take it out, or leave the choice',
        ),
        (SHORT + "start = 1\nevery = 4\n", 'every (line 6): goes with start = "auto"'),
        (SHORT + 'transpose = "auto"\nsemitones = 0\n', "0 is below the minimum, 1"),
        (SHORT + "every = 0\n", "0 is below the minimum, 1"),
        (SHORT + 'beats = "find"\n', "beats (line 5): goes with performed = true"),
        (
            SHORT + 'performed = true\nbeats = "fond"\n',
            "give keep, follow, find, a tempo such as 92, part:NAME, FILE.csv in quotes",
        ),
        (SHORT + 'performed = true\nbeats = "part: "\n', "is not a way to know the beat"),
        (SHORT + 'performed = true\nbeats = ""\n', '"" is blank'),
        (SHORT + 'performed = "yes"\n', '"yes" is neither true nor false'),
        (SHORT + 'swing = "0:1"\n', '"0:1" has a side of 0 (give a ratio in quotes such as "2:1"'),
        (SHORT + "swing = 2\n", "2 is not a ratio"),
        (SHORT + 'swing = "99:2"\n', "divides into more than 100 parts"),
        (SHORT + "ornaments = 0.03125\n", "0.03125 is not such a note value"),
        (SHORT + 'ornaments = "1/200"\n', '"1/200" is outside 1/8 to 1/128'),
        (SHORT + 'ornaments = "1/0"\n', '"1/0" is outside 1/8 to 1/128'),
        (
            SHORT + "turns = 0\n",
            "0 is below the minimum, 1 (give a whole number from 1 to 1,000, turns of the song",
        ),
        (SHORT + "turns = 1001\n", "1001 is above the maximum, 1,000"),
        (SHORT + 'whole_bars = "yes"\n', '"yes" is neither true nor false'),
        (SHORT + f"drums = {{ {'9' * 5000} = 40 }}\n", "is not a whole number"),
        (SHORT + "thin = 0\n", "0 is below the minimum, 1"),
        (SHORT + "move_parts = { Bass = 1.5 }\n", "song[1].move_parts.Bass (line 5): 1.5 is not a whole number"),
        (SHORT + "part_channels = { Bass = 3 }\n", 'give a pattern of channel names in quotes, such as "string*"'),
        (SHORT + "part_channels = 3\n", "part_channels (line 5): 3 is not a table"),
        (SHORT + 'channel_rule = "alternat"\n', 'did you mean "alternate"?'),
        (SHORT + "drums = { 38 = 40, 038 = 42 }\n", "percussion key 38 is given twice (keep one of the two)"),
        (SHORT.replace("a.mid", "a\\u0000b"), "has line breaks or control characters"),
        (SHORT.replace('"a.mid"', f'"{"a" * 1001}"'), "has 1,001 characters, above the maximum, 1,000"),
    ],
)
def test_single_faults(text: str, fault: str) -> None:
    assert any(fault in told for told in faults(text)), faults(text)


def test_a_song_may_be_bound_where_it_stands_in_a_given_order() -> None:
    assert parsed(SHORT + 'place = "first"\n[[song]]\nscore = "b"\nplace = "last"\n').songs[1].place == "last"


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(UsageError, match="cannot be read"):
            load_song_set(path)


@settings(max_examples=thorough.cases(60, 300))
@given(st.data())
def test_a_damaged_file_is_told_never_fatal(data: st.DataObject) -> None:
    lines = FULL.splitlines()
    number = data.draw(st.integers(0, len(lines) - 1))
    junk = st.sampled_from(["", "x", "1", "= 3", '"', "[song]", "[[work]]", "a.b = 1", "[work.people]", "times = [[]]"])
    lines[number] = data.draw(junk | st.just(lines[number].replace("=", "= -")) | st.text(max_size=20))
    told: tuple[PegwrightError, ...] = ()
    try:
        parsed("\n".join(lines))
    except ConfigError as error:
        told = error.faults
    assert all("\n" not in str(fault) for fault in told)


@pytest.mark.parametrize("tempo", ["92", '"92"', "92.5"])
def test_the_tempo_of_a_song_played_by_hand_is_a_number_or_text(tempo: str) -> None:
    (song,) = parsed(f"{SHORT}performed = true\nbeats = {tempo}\n").songs
    assert song.request.played == Played(start_tempo=Fraction(tempo.strip('"')))
