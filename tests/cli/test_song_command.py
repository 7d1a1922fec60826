"""`pegwright song`: what a song is made of, and what of it a wheel can sound."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from places import BUNDLED_SCORES

REGRETS = SONGS / "the-committee-regrets.musicxml"
MARKED = """<score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>Piano</part-name></score-part></part-list><part id="P1">
<measure number="1"><attributes><divisions>2</divisions><time>
<beats>3</beats><beat-type>4</beat-type></time></attributes>
<direction><sound tempo="90"><swing><first>2</first><second>1</second><swing-type>eighth</swing-type></swing></sound>
</direction><note><rest/><duration>6</duration></note></measure>
<measure number="2"><note><pitch><step>G</step><octave>5</octave></pitch><duration>4</duration><type>half</type>
<notations><ornaments><trill-mark/></ornaments></notations></note>
<note><pitch><step>C</step><octave>2</octave></pitch><duration>1</duration></note>
<note><pitch><step>C</step><octave>2</octave></pitch><duration>1</duration></note></measure>
<measure number="3"><attributes><time><beats>2</beats><beat-type>4</beat-type></time></attributes>
<direction><sound tempo="60"/></direction>
<note><pitch><step>A</step><octave>5</octave></pitch><duration>4</duration></note></measure>
</part></score-partwise>"""


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "marked.musicxml").write_text(MARKED, encoding="utf-8")
    return runner(capsys)


def test_a_song_is_described_with_its_parts_and_what_the_wheel_has_no_sound_for(pegwright: Command) -> None:
    ran = pegwright("song", REGRETS, "-w", WHEEL)
    assert ran.code == 0, ran
    for line in (
        "Notes      247 notes in 4 parts",
        "Length     14 bars, 56 quarter notes, 26.7 s; 1.17 turns of Merrow Sands Pavilion",
        "Metre      4/4",
        "Tempo      126 quarter notes a minute",
        "Origin     written: all 88 onsets lie on a simple grid",
        '"Chimes"         93  C5           D6                   10                  2',
        '  "Bass": bass G2, bass A2, bass C3, bass D3, bass E3, bass F3',
        "Merrow Sands Pavilion has no sound for:",
        '  "Bass": B2 (1 note)',
    ):
        assert line in ran.out.splitlines()
    assert max(map(len, ran.out.splitlines())) <= 100


def test_what_has_no_channel_is_what_the_fit_leaves_out_for_it(pegwright: Command) -> None:
    song = json.loads(pegwright("song", REGRETS, "-w", WHEEL, "--json").out)
    fit = json.loads(pegwright("fit", REGRETS, "-w", WHEEL, "--json").out)
    silent = sum(sound["notes"] for part in song["parts"] for sound in part["without_a_channel"])
    assert silent == fit["count"]["left_out_by_reason"]["no-channel"] > 0
    assert (song["turns"], song["notes"]) == (fit["turns"], fit["count"]["read"])


def test_marks_metres_tempi_and_silence_are_described_without_a_wheel(pegwright: Command) -> None:
    text = pegwright("song", "marked.musicxml").out
    for words in (
        "Length     3 bars, 8 quarter notes, 6 s\n",
        "Metre      3/4 (2 bars), 2/4 (1 bar)\n",
        "Tempo      60 to 90 quarter notes a minute in 1 change; 90 holds longest\n",
        "Silence    1 bar before the first note; --skip-silence leaves it out\n",
        "Ornaments  1 trill; struck once, unless --ornaments 1/32 plays them out\n",
        "Swing      marked 2:1 in bars 1 to 3; played so, unless --swing 1:1 plays it even\n",
        '"Piano"      4  C2      A5\n',
    ):
        assert words in text
    assert "sound" not in text, "only a wheel says that"


def test_the_wheel_of_the_folder_is_used(pegwright: Command) -> None:
    assert pegwright("wheel", "--new").code == 0
    assert json.loads(pegwright("song", "marked.musicxml", "--json").out)["wheel"] is not None


def test_how_it_was_made_is_said_with_what_to_try(pegwright: Command) -> None:
    text = " ".join(pegwright("song", BUNDLED_SCORES / "40_freedoom_D_E2M9.mid").out.split())
    assert "Origin played by hand, or not to the file's own beat:" in text
    assert "of 716 onsets lie on a simple grid (chance alone puts" in text
    assert "try `pegwright fit --performed`" in text


def test_parts_can_be_left_out_and_an_unknown_one_is_refused_with_the_names_there_are(pegwright: Command) -> None:
    text = pegwright("song", REGRETS, "--without", "Perc*", "--without", "Bass").out
    assert "144 notes in 2 parts" in text
    assert "parts 'Bass' (37 notes) and 'Percussion' (66 notes) left out, as --without asks" in " ".join(text.split())
    line = pegwright("song", REGRETS, "--only", "Flute").refused(2)
    assert "no part has a name like 'Flute'" in line
    assert "the names are 'Chimes', 'Chimes II', 'Bass' and 'Percussion'" in line
    assert (
        pegwright("song", "marked.musicxml", "--only", " ")
        .refused(2)
        .startswith("pegwright: error: --only: the name is")
    )


def test_a_song_without_notes_is_described(pegwright: Command) -> None:
    Path("empty.mid").write_bytes(bytes.fromhex("4d546864000000060000000101e04d54726b0000000400ff2f00"))
    ran = pegwright("song", "empty.mid", "-w", WHEEL)
    assert ran.code == 0
    assert "0 notes in 0 parts" in ran.out
    assert "Origin" not in ran.out
