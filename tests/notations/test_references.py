"""What music21 and our reader make of a song, against verovio, and against the same song in another format.

verovio reads all three notations by itself and shares no code with this route. Where the two differ, the one that is
right was found by hand; the exceptions stand below, each with its reason. With PEGWRIGHT_THOROUGH=1 whole corpora are
compared.
"""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest

from notated import THOROUGH, corpus, onsets, read, unmatched, verovio_hears
from pegwright.formats import Format
from pegwright.musicxml.reader import read_musicxml
from places import SCORES, SONGS

pytestmark = pytest.mark.usefixtures("in_process")

OUR_SONGS = sorted([*SONGS.glob("*.musicxml"), *SONGS.glob("*.mxl")])
SHARED = sorted([*SCORES.glob("*.xml"), *SCORES.glob("*.mxl")])

# Where verovio's own conversion to MEI changes the music, so that our MEI reading and our MusicXML reading must differ.
NOT_THE_SAME_AS_MEI = {
    "11_lily_23f": "tuplets without a bracket lose their ratio",
    "15_lily_33i": "a tie that ends nowhere loses both its ends",
    "47_m21_haydn": "notes lose their lengths",
    "51_m21_demos": "a bar repeat sign stands in place of four notes that MusicXML writes out beside it",
    "52_m21_demos": "a tuplet inside a tuplet gets another ratio",
}
# Where verovio plays its own MEI otherwise than our route reads it, and ours is as the file says.
NOT_AS_VEROVIO_PLAYS = {
    "10_lily_23d": "the times of nested tuplets",
    "12_lily_24a": "grace notes take time from the main note",
    "13_lily_24c": "grace notes take time from the main note",
    "15_lily_33i": "a tie that ends nowhere",
    "46_m21_mozart": "everything after the first ornament is shifted",
    "48_m21_joplin": "the second repeat begins at the start of the piece",
    "49_m21_schumann": "a tie whose end is not marked is struck again",
    "50_m21_schumann": "a tie whose end is not marked is struck again",
    "52_m21_demos": "the times of nested tuplets",
}
# Where it gives a note of **kern no length.
NO_LENGTH = {"Kyrie_89": "a note of a triplet that a rest follows"}
# What verovio misreads in ABC, by what is seen of it in the text.
MISREAD_ABC = {
    "endings: all are played at every time round": r"[|\[]\s*[12]",
    "triplets after a note, a slur or another triplet: begin too early": r"[\w)][^|\s]{0,2}\(+u?\(?3|\(\(+u?\(?3",
    "grace notes: take time from the main note": r"\{",
    "broken rhythm with a sign, dot or slur beside it: not broken": r'[<>][uv"~.]|[<>]\s*\)|[)"]\s*[<>]| [<>]',
    "a key inside the tune: not followed": r"(?s)\nK:.*\nK:|\[K:",
    "accidentals: not carried on to the end of the bar": r"[\^_=]",
    "two-sided repeats: not begun again": "::",
    "endings named by words: left out": r'\["',
    "triplets with a note run on to them: reach over it": r"\(3\w{4}",
    "a repeat after a final bar line: goes back to the start, ours to that line": r"(?s)\|\].*:\|",
    "an invisible bar line before a repeat: not repeated": r"\[\|\]",
    "broken text encoding": r"=20|=\n",
}
CRASHES = "verovio crashes"
# What music21 misreads, seen in its own bars.
NOT_AS_WRITTEN_ABC = {
    "LafricansJig": "a bar of eleven eighths in 6/8 is parted, and its repeat sign put between the parts"
}

# Two bars, repeated, with a triplet, a tie and accidentals of the key.
IN_THREE = (
    "X:1\nT:Slipway\nM:3/4\nL:1/8\nK:D\n|: d2 e f g A | (3fga a2- a B :|\n",
    "**kern\n*k[f#c#]\n*M3/4\n=1!|:\n4dd\n8ee\n8ff#\n8gg\n8a\n=2\n12ff#\n12gg\n12aa\n[4aa\n8aa]\n8b\n=:|!\n*-\n",
    """<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0"><meiHead/><music><body><mdiv><score>
    <scoreDef meter.count="3" meter.unit="4"><staffGrp><staffDef n="1" lines="5" clef.shape="G" clef.line="2"/>
    </staffGrp></scoreDef><section>
    <measure n="1" left="rptstart"><staff n="1"><layer n="1"><note pname="d" oct="5" dur="4"/>
    <note pname="e" oct="5" dur="8"/><note pname="f" oct="5" dur="8" accid.ges="s"/><note pname="g" oct="5" dur="8"/>
    <note pname="a" oct="4" dur="8"/></layer></staff></measure><measure n="2" right="rptend"><staff n="1"><layer n="1">
    <tuplet num="3" numbase="2"><note pname="f" oct="5" dur="8" accid.ges="s"/><note pname="g" oct="5" dur="8"/>
    <note pname="a" oct="5" dur="8"/></tuplet><note pname="a" oct="5" dur="4" tie="i"/>
    <note pname="a" oct="5" dur="8" tie="t"/><note pname="b" oct="4" dur="8"/></layer></staff></measure></section>
    </score></mdiv></body></music></mei>""",
)


def same(ours: list[tuple[float, int]], theirs: list[tuple[float, int]]) -> bool:
    return unmatched(ours, theirs) == ([], [])


def heard(text: str, form: str) -> tuple[list[tuple[float, int]], str]:
    notes, mei = verovio_hears(text, form)
    return [(onset, pitch) for onset, pitch, _ in notes], mei


def as_mei(path: Path) -> str:
    data = path.read_bytes()
    packed = data.startswith(b"PK")
    return heard(base64.b64encode(data).decode() if packed else data.decode(), "mxl" if packed else "musicxml")[1]


def exception(path: Path, exceptions: dict[str, str]) -> str:
    return next((reason for name, reason in exceptions.items() if path.name.startswith(name)), "")


def test_a_tune_of_our_own_is_the_same_in_three_notations_and_as_verovio_hears_them() -> None:
    abc, kern, mei = IN_THREE
    expected = onsets(read(abc, Format.ABC)[0])
    assert len(expected) == 2 * (5 + 5)  # both times round, the tie joined
    for text, form in ((abc, Format.ABC), (kern, Format.KERN), (mei, Format.MEI)):
        assert same(onsets(read(text, form)[0]), expected)
        assert same(heard(text, form.value)[0], expected)


@pytest.mark.parametrize("path", OUR_SONGS, ids=lambda path: path.stem)
def test_the_same_song_in_musicxml_and_mei(path: Path) -> None:
    expected, _ = read_musicxml(path.read_bytes(), path.name)
    score, findings = read(as_mei(path), Format.MEI)
    assert same(onsets(score), onsets(expected))
    assert [part.name for part in score.parts] == [part.name for part in expected.parts]
    assert [part.percussion for part in score.parts] == [part.percussion for part in expected.parts]
    assert score.bar_map.labels == expected.bar_map.labels
    assert (score.bar_map.ticks / score.resolution).tolist() == (expected.bar_map.ticks / expected.resolution).tolist()
    assert score.tempo_map.us_per_quarter.tolist() == expected.tempo_map.us_per_quarter.tolist()
    assert set(findings) <= {"pickup-bar", "short-bars"}  # of the minuet, which begins with an upbeat


@pytest.mark.skipif(not SHARED, reason="the folder of real scores is not here")
@pytest.mark.parametrize("path", SHARED if THOROUGH else SHARED[:22:2], ids=lambda path: path.stem)
def test_others_songs_in_musicxml_and_mei(path: Path) -> None:
    mei = as_mei(path)
    score, _ = read(mei, Format.MEI)
    expected, _ = read_musicxml(path.read_bytes(), path.name)
    assert same(onsets(score), onsets(expected)) == (not exception(path, NOT_THE_SAME_AS_MEI))
    assert same(onsets(score), heard(mei, "mei")[0]) == (not exception(path, NOT_AS_VEROVIO_PLAYS))


@pytest.mark.parametrize("path", corpus("palestrina/*.krn", 5, seed=1), ids=lambda path: path.stem)
def test_kern_as_verovio_hears_it_and_as_mei(path: Path) -> None:
    text = path.read_text(encoding="utf-8", errors="replace")  # some remarks are in another encoding
    notes, mei = verovio_hears(text, "humdrum")
    score, findings = read(text, Format.KERN)
    assert same(onsets(score), [(onset, pitch) for onset, pitch, _ in notes])
    ours = sorted((float(t) / score.resolution, p) for t, p in zip(score.duration_ticks, score.pitch_midi, strict=True))
    lengths = [(quarters, pitch) for _, pitch, quarters in notes]
    assert same(ours, lengths) == (not exception(path, NO_LENGTH))
    assert same(onsets(read(mei, Format.MEI)[0]), onsets(score))
    assert "notes-not-carried" not in findings


@pytest.mark.parametrize("name", ["bach/bwv277.krn", "bach/bwv281.krn", "bach/bwv366.krn", "chopin/mazurka06-2.krn"])
def test_kern_with_repeats_as_verovio_hears_it(name: str) -> None:
    (path,) = corpus(name, 1, seed=0)
    text = path.read_text(encoding="utf-8")
    # Of two lists of sections verovio follows neither.
    with_one_list = "\n".join(line for line in text.split("\n") if not line.startswith("*>norep"))
    assert same(onsets(read(text, Format.KERN)[0]), heard(with_one_list, "humdrum")[0])


@pytest.mark.slow
def test_a_quartet_with_a_da_capo_as_verovio_hears_it() -> None:
    (path,) = corpus("beethoven/opus18no1/movement3.krn", 1, seed=0)
    text = path.read_text(encoding="utf-8")
    with_one_list = "\n".join(line for line in text.split("\n") if not line.startswith("*>norep"))
    score, _ = read(text, Format.KERN)
    ours, theirs = unmatched(onsets(score), heard(with_one_list, "humdrum")[0])
    # Only grace notes and the notes that they lead to differ: in verovio the graces take time from these.
    graces = score.duration_ticks * 8 == score.resolution
    before = set(onsets(score.with_notes(graces)))
    led_to = {onset + 1 / 8 for onset, _ in before}
    assert len(ours) == len(theirs)
    assert all(note in before or note[0] in led_to for note in ours)
    assert score.note_count == 2731


def plain_abc(count: int) -> list[Path]:
    paths = corpus("ryansMammoth/*.abc", 1100, seed=0)
    plain = [
        path
        for path in paths
        if not any(re.search(sign, path.read_text(encoding="utf-8", errors="replace")) for sign in MISREAD_ABC.values())
    ]
    return plain if THOROUGH else plain[:: max(1, len(plain) // count)]


@pytest.mark.parametrize("path", plain_abc(10), ids=lambda path: path.stem)
def test_abc_as_verovio_hears_it(path: Path) -> None:
    text = path.read_text(encoding="utf-8", errors="replace")
    score, findings = read(text, Format.ABC)
    assert "notes-not-carried" not in findings
    try:
        theirs, _ = heard(text, "abc")
    except AssertionError as fault:
        if CRASHES not in str(fault):
            raise
        pytest.skip(CRASHES)
    assert same(onsets(score), theirs) == (path.stem not in NOT_AS_WRITTEN_ABC)
