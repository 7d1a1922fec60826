"""What is read of ABC, **kern and MEI, rule by rule: small songs of our own, every expectation worked out by hand."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from notated import ABC, KERN, MEI, convert_here, read
from pegwright.errors import InputError
from pegwright.formats import Format
from pegwright.notations import to_musicxml
from pegwright.score import Score

pytestmark = pytest.mark.usefixtures("in_process")

HEAD = "X:1\nT:Tune\nM:4/4\nL:1/4\n"
C, D, E, F, G, A, B, C2 = 60, 62, 64, 65, 67, 69, 71, 72


def exact(score: Score) -> list[tuple[Any, int, Any]]:
    """(onset, pitch, duration), quarters exact."""
    ticks = score.resolution
    return [
        (Fraction(onset, ticks), pitch, Fraction(duration, ticks))
        for onset, pitch, duration in zip(
            score.onset_ticks.tolist(), score.pitch_midi.tolist(), score.duration_ticks.tolist(), strict=True
        )
    ]


def pitches(score: Score) -> list[int]:
    return [int(pitch) for pitch in score.pitch_midi]


def tempi(score: Score) -> list[float]:
    return [round(60e6 / us, 1) for us in score.tempo_map.us_per_quarter.tolist()]


# ABC. The rules are those of the ABC music standard 2.1.


def abc(body: str, head: str = HEAD) -> tuple[Score, dict[str, int]]:
    return read(head + body, Format.ABC)


def test_an_abc_tune_of_two_voices() -> None:
    score, findings = read(ABC, Format.ABC, "whistle.abc")
    assert score.title == "The Ferryman's Second Whistle"
    assert [part.name for part in score.parts] == ["Bells", "Bass"]
    assert tempi(score) == [120.0]
    assert score.bar_map.labels == ("1", "2", "3", "4", "1, 2nd time", "2, 2nd time", "3, 2nd time", "5")
    bass = [pitch for pitch, part in zip(pitches(score), score.part.tolist(), strict=True) if part]
    # F sharp comes with the key of D in bar 3; the second ending is a whole bar's rest.
    assert bass == [55, 62, 66, 57, 55, 62, 66]
    assert findings == {"ornaments-not-read": 1, "grace-notes": 1}


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("K:G\nCDEF|GABc|\n", [C, D, E, F + 1, G, A, B, C2]),  # key
        ("K:Ddor\nCDEF|GABc|\n", [C, D, E, F, G, A, B, C2]),  # mode
        ("K:G\nF^F=FF|F4|\n", [66, 66, 65, 65, 66]),  # accidentals last to the bar line, in all octaves (11.3)
        ("K:C\n^ff'FF|F4|\n", [78, 90, 66, 66, 65]),
        ("%%propagate-accidentals octave\nK:C\n^ff'FF|F4|\n", [78, 89, 65, 65, 65]),
        ("I:propagate-accidentals not\nK:C\n^ff'fF|F4|\n", [78, 89, 77, 65, 65]),
        ("K:C\nCDEF|[K:D]CDEF|\n", [C, D, E, F, 61, 62, 64, 66]),  # inline fields
        ("K:C\nCDEF|\nK:D\nCDEF|\n", [C, D, E, F, 61, 62, 64, 66]),
        ("K:C transpose=-2\nCDEF|c4|\n", [58, 60, 62, 63, 70]),
        ("K:C octave=-1\nCDEF|c4|\n", [48, 50, 52, 53, 60]),
        ("K:C treble-8\nCDEF|c4|\n", [48, 50, 52, 53, 60]),
        ("K:C clef=bass\nCDEF|c4|\n", [60, 62, 64, 65, 72]),  # a clef alone moves nothing
        ('K:C\n"Am"C"^up"D"G7"EF|c4|\n', [60, 62, 64, 65, 72]),  # chord symbols and texts are no notes
        ("K:C\n!f!C!trill!D~EHF|c4|\n", [60, 62, 64, 65, 72]),
        ("U:W=!trill!\nK:C\nWCDEF|c4|\n", [60, 62, 64, 65, 72]),
        ("K:C\nCDEF|c4|\nw:la la ABC|\n", [60, 62, 64, 65, 72]),
        ("K:C\nCDEF| % |GABc|\nc4|\n", [60, 62, 64, 65, 72]),
        ("K:C\nCDEF|c4|\n\nDedicated to all|Dancers.\n", [60, 62, 64, 65, 72]),  # text after an empty line
    ],
)  # fmt: skip
def test_pitches_of_abc(body: str, expected: list[int]) -> None:
    assert pitches(abc(body)[0]) == expected


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("K:C\nC/2C/D//E2F3/4|c4|\n", ["0", "1/2", "1", "5/4", "13/4", "4"]),
        ("K:C\n(3CDE F G|c4|\n", ["0", "2/3", "4/3", "2", "3", "4"]),  # three in the time of two
        ("K:C\n(5CDEFG A2|c4|\n", ["0", "2/5", "4/5", "6/5", "8/5", "2", "4"]),
        ("K:C\n(3:2:2C2D EF|c4|\n", ["0", "4/3", "2", "3", "4"]),  # p notes in the time of q for the next r
        ("K:C\nC>D E<F|C>>D E<<F|\n", ["0", "3/2", "2", "5/2", "4", "23/4", "6", "25/4"]),
        ("K:C\n(C>.D) (E<F)|c4|\n", ["0", "3/2", "2", "5/2", "4"]),  # slurs and dots about a broken rhythm
        ("K:C\nC{d}E{cd}FG|c4|\n", ["0", "7/8", "1", "7/4", "15/8", "2", "3", "4"]),  # graces: 32nds before the note
        ("K:C\nCDEF|Z2|c4|\n", ["0", "1", "2", "3", "12"]),  # two whole bars of rest
        ("K:C\nCDEF|\nL:1/8\nCDEFGABc|\n", ["0", "1", "2", "3", "4", "9/2", "5", "11/2", "6", "13/2", "7", "15/2"]),
        ("K:C\nC|DEFG|ABc|\n", ["0", "1", "2", "3", "4", "5", "6", "7"]),  # a pickup stays short
    ],
)  # fmt: skip
def test_times_of_abc_are_exact(body: str, expected: list[str]) -> None:
    assert [str(onset) for onset, _, _ in exact(abc(body)[0])] == expected


@pytest.mark.parametrize(
    ("body", "bars"),
    [
        ("K:C\n|:CDEF|GABc:|c4|\n", "1 2 1 2 3"),
        ("K:C\nCDEF|GABc::cBAG|c4:|\n", "1 2 1 2 3 4 3 4"),
        ("K:C\nCDEF|GABc:|\n|:cBAG|c4:|\n", "1 2 1 2 3 4 3 4"),
        ("K:C\n|:CDEF:|GABc|\n", "1 1 2"),  # fewer than two plain bar lines, which the library alone misreads
        ("K:C\nCDEF|GABc::\nc|BAGF|EDC:|\n", "1 2 1 2 3 4 5 3 4 5"),
        ("K:C\n|:CDEF|1GABc:|2cBAG|C4|\n", "1 2 1 3 4"),
        ("K:C\n|:CDEF|c4[|] :|\n", "1 2 1 2"),  # an invisible bar line before the repeat
        ("K:C\n|:CDEF|[1GABc|c4:|[2cBAG|G4||C4|\n", "1 2 3 1 4 5 6"),
        ("K:C\n|:CDEF|1GABc|\n:|2cBAG|]\n", "1 2 1 3"),  # two bar lines about the end of a line are one
    ],
)
def test_repeats_and_endings_of_abc_are_played_out(body: str, bars: str) -> None:
    labels = abc(body)[0].bar_map.labels
    assert " ".join(label.split(",")[0] for label in labels) == bars


@pytest.mark.parametrize(
    ("field", "quarters_a_minute"),
    [
        ("Q:1/4=100", 100), ("Q:3/8=80", 120), ('Q:"Allegro" 1/4=130', 130), ("Q:1/4 3/8=40", 100),
        ("Q:90", 90), ("Q:C=90", 90), ("Q:C3=30", 90),  # the old forms count unit notes, here quarters
    ],
)  # fmt: skip
def test_tempo_of_abc(field: str, quarters_a_minute: int) -> None:
    assert tempi(abc(f"{field}\nK:C\nCDEF|c4|\n")[0]) == [quarters_a_minute]


def test_voices_of_abc_that_take_turns_sound_together() -> None:
    both = (
        'V:1 name="High"\nV:2 name="Low" clef=bass octave=-1\nK:C\n[V:1]CDEF|c4|\n[V:2]EFGA|e4|\n[V:1]G4|\n[V:2]C4|\n'
    )
    score, findings = abc(both)
    assert [part.name for part in score.parts] == ["High", "Low"]
    assert exact(score)[:2] == [(0, 60, 1), (0, 52, 1)]
    assert exact(score)[-2:] == [(8, 67, 4), (8, 48, 4)]
    assert findings == {"tempo-assumed": 1}


def test_drums_of_abc_on_midi_channel_10_are_drums() -> None:
    score, _ = abc("%%MIDI channel 10\nK:C\nB,,,2 D,,2|B,,,2 ^F,,2|\n")
    assert score.parts[0].percussion
    assert pitches(score) == [35, 38, 35, 42]


@pytest.mark.parametrize(
    ("body", "code", "count"),
    [
        ("K:C\nCDEF & c4|GABc|\n", "overlay-notes", 1),
        ("K:C\nCDEF|[Q:1/4=60]GABc|\n", "tempo-changes-not-read", 1),
        ("K:C\n|::CDEF::|GABc|\n", "repeat-times-not-read", 2),
        ("K:C\n|:CDEF|[1,3GABc:|[2 cBAG|\n", "endings-not-read", 1),
        ("K:D =c\nc4|f4|\n", "key-accidentals-not-read", 1),
        ("K:C\n[CE]2-[CE]2|c4|\n", "chord-ties-not-read", 1),
        ("K:C\nC{[ce]}DEF|c4|\n", "grace-chords", 1),
        ('K:C\nCDEF|c4"D.C."|\n', "jumps-not-read", 1),
        ("K:C\n!segno!CDEF|c4!D.S.!|\n", "jumps-not-read", 2),
        ("P:AAB\nK:C\nP:A\nCDEF|\nP:B\nc4|\n", "part-order-not-read", 1),
        ("K:C\nTCDEF|!turn!c4|\n", "ornaments-not-read", 2),
        ("K:C\nCDEF|Hc4|\n", "fermatas", 1),
        ("%%percmap C 35\nK:C\nCDEF|c4|\n", "drum-maps-not-read", 0),
        ("%%MIDI drummap C 35\nK:C\nCDEF|c4|\n", "drum-maps-not-read", 1),
        ('K:C\nCDEF|c4||["Last time" G4|]\n', "endings-not-read", 1),
        ("K:C\nCDEF|c4|\n\nX:2\nK:C\nc4|\n\nX:3\nK:C\nc4|\n", "tunes-not-read", 2),
        ("K:C\nCDEF|c4|\n\nSome words.\n", "free-text", 1),
    ],
)  # fmt: skip
def test_what_is_lost_of_abc_is_told(body: str, code: str, count: int) -> None:
    assert abc(body)[1].get(code, 0) == count


# **kern


def kern(*rows: str) -> tuple[Score, dict[str, int]]:
    return read("\n".join("\t".join(row.split()) for row in rows) + "\n", Format.KERN)


def test_a_kern_piece_of_two_spines() -> None:
    score, findings = read(KERN, Format.KERN, "tide.krn")
    assert (score.title, [part.name for part in score.parts]) == ("Tide Table", ["Bells", "Bass"])
    assert tempi(score) == [96.0]
    assert score.bar_map.labels == ("1", "2", "1, 2nd time", "2, 2nd time", "3")
    assert set(zip(score.bar_map.beats.tolist(), score.bar_map.beat_types.tolist(), strict=True)) == {(3, 4)}
    third = Fraction(1, 3)
    assert [note for note in exact(score) if 3 <= note[0] < 6] == [
        (3, 57, third), (3, 69, 2), (3, 50, 3), (3 + third, 59, third), (3 + 2 * third, 60, third),
        (4, 62, 1), (5, 64, 1), (5, 67, 1),
    ]  # fmt: skip
    assert findings == {"grace-notes": 2, "fermatas": 2}
    assert score.length_ticks == 15 * score.resolution


def test_a_spine_that_divides_inside_a_bar_keeps_its_time() -> None:
    score, _ = kern("**kern", "*M4/4", "=1", "4c", "*^", "4d 2e", "4d .", "*v *v", "4f", "=2", "1c", "==", "*-")
    assert exact(score) == [(0, 60, 1), (1, 62, 1), (1, 64, 2), (2, 62, 1), (3, 65, 1), (4, 60, 4)]


def test_values_of_kern_are_exact() -> None:
    score, _ = kern("**kern", "*M4/4", "=1", "12c", "12d", "12e", "20c", "20d", "20e", "20f", "20g", "3%2a", "*-")
    fifth, third = Fraction(1, 5), Fraction(1, 3)
    assert [duration for _, _, duration in exact(score)] == [third] * 3 + [fifth] * 5 + [Fraction(8, 3)]


def test_a_grace_note_after_a_bar_line_without_a_number_is_read() -> None:
    score, findings = kern("**kern", "*M3/4", "=1", "2.c", "=", "8bq", "2.cc", "==", "*-")
    assert exact(score) == [(0, 60, 3), (Fraction(23, 8), 71, Fraction(1, 8)), (3, 72, 3)]
    assert "notes-not-carried" not in findings


def test_pitches_of_kern_are_concert_pitches_whatever_the_instrument() -> None:
    score, _ = kern("**kern", "*Iclars", "*ITrd-1c-2", "*M4/4", "=1", "4c", "4cc", "4C", "4BB-", "==", "*-")
    assert pitches(score) == [60, 72, 48, 46]


def test_repeat_signs_of_kern_are_played_out_where_there_is_no_list() -> None:
    score, _ = kern("**kern", "*M4/4", "=1", "1c", "=2:|!|:", "1d", "==:|!", "*-")
    assert [label.split(",")[0] for label in score.bar_map.labels] == ["1", "1", "2", "2"]


def test_a_da_capo_in_an_expansion_list_is_played() -> None:
    score, findings = kern(
        "**kern", "*>[A,A,B,A]", "*>norep[A,B,A]", "*>A", "*M3/4", "=1", "2.c", "=:|!",
        "*>B", "*M2/4", "=2", "2d", "==", "*-",
    )  # fmt: skip
    assert exact(score) == [(0, 60, 3), (3, 60, 3), (6, 62, 2), (8, 60, 3)]
    assert score.bar_map.labels == ("1", "1, 2nd time", "2", "1, 3rd time")
    assert score.bar_map.beats.tolist() == [3, 3, 2, 3]
    assert "section-order-not-read" not in findings


def test_notes_that_do_not_come_through_the_library_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def lossy(text: str, form: Format, file: str) -> bytes:
        return re.sub(rb"(?s)<note>.*?</note>", b"", convert_here(text, form, file), count=2)

    monkeypatch.setattr(to_musicxml, "convert", lossy)
    for text, form in ((ABC, Format.ABC), (KERN, Format.KERN), (MEI, Format.MEI)):
        assert read(text, form)[1]["notes-not-carried"] == 2


@pytest.mark.parametrize(
    ("rows", "code", "count"),
    [
        (("**kern", "*clefX", "*M4/4", "=1", "4c", "4d", "4e", "4f", "==", "*-"), "drum-by-place", 4),
        (("**kern **dynam", "4c f", "*- *-"), "spines-not-read", 1),
        (("**kern", "*>[A,A,C]", "*>A", "=1", "1c", "*-"), "section-order-not-read", 1),
        (("**kern", "4c", "*-", "**kern", "4d", "*-"), "movements-not-read", 1),
        (("**kern", "4c", "!!LO:TX:t=D.C._al_Fine", "*-"), "jumps-not-read", 1),
        (("**kern", "2@16@c", "4c:", "*-"), "tremolos-not-read", 1),
    ],
)
def test_what_is_lost_of_kern_is_told(rows: tuple[str, ...], code: str, count: int) -> None:
    assert kern(*rows)[1].get(code, 0) == count


def test_a_section_of_kern_after_the_end_is_refused_in_one_line() -> None:
    with pytest.raises(InputError, match="music21 cannot read this"):
        kern("**kern", "*>[A,A]", "=1", "1c", "*-", "*>A")


# MEI


def test_an_mei_score_with_drums_endings_and_ties() -> None:
    score, findings = read(MEI, Format.MEI, "lock.mei")
    assert (score.title, [part.name for part in score.parts]) == ("Lock Gates", ["Bells", "Kit"])
    assert [part.percussion for part in score.parts] == [False, True]
    assert score.bar_map.labels == ("1", "2", "1, 2nd time", "3")
    assert tempi(score) == [108.0]  # 72 dotted quarters
    bells = [note for note, part in zip(exact(score), score.part.tolist(), strict=True) if part == 0]
    half, third = Fraction(1, 2), Fraction(1, 3)
    assert bells == [
        (0, 72, half), (half, 78, half), (1, 64, 2), (1, 67, 2),
        (3, 60, third), (3 + third, 62, third), (3 + 2 * third, 64, third),
        (4, 72, half), (4 + half, 78, half), (5, 64, 1), (5, 67, 1),
        (Fraction(47, 8), 71, Fraction(1, 8)), (6, 72, 2), (7, 64, 1),
    ]  # fmt: skip
    drums = [note for note, part in zip(exact(score), score.part.tolist(), strict=True) if part == 1]
    assert drums == [(0, 36, 1), (1, 38, 1), (4, 36, 1), (5, 38, 1), (6, 36, 2)]
    # The chord's tie goes on into the first ending; at the second time round it leads to no note.
    assert findings == {
        "drum-by-place": 1, "tremolos-not-read": 1, "grace-notes": 1, "tie-not-ended": 2,
    }  # fmt: skip


def mei_with(music: str, attributes: str = "", more: str = "") -> tuple[Score, dict[str, int]]:
    start, end = MEI.index("<section>"), MEI.index("</section>")
    staff = f'<staff n="1"><layer n="1">{music}</layer></staff>'
    text = f'{MEI[:start]}<section><measure n="1" {attributes}>{staff}{more}</measure></section>{MEI[end + 10 :]}'
    return read(text, Format.MEI)


QUARTER, THIRD = '<note pname="c" oct="4" dur="4"/>', Fraction(2, 3)


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        (QUARTER * 2, [(0, 60, 1), (1, 60, 1)]),
        ('<note pname="c" oct="4" dur="4" dots="1"/><note pname="d" oct="4" dur="8"/>', [(0, 60, 1.5), (1.5, 62, 0.5)]),
        ('<note pname="c" oct="4" dur="4"><accid accid="s"/></note>', [(0, 61, 1)]),
        ('<note pname="c" oct="4" dur="4"><accid accid.ges="f"/></note>', [(0, 59, 1)]),
        ('<note pname="f" oct="4" dur="4" accid="x"/>', [(0, 67, 1)]),
        ('<note pname="c" oct="5" oct.ges="4" dur="4"/>', [(0, 60, 1)]),
        ('<choice><orig>' + QUARTER + '</orig><reg><note pname="d" oct="4" dur="4"/></reg></choice>', [(0, 60, 1)]),
        ('<fTrem><note pname="c" oct="4" dur="2"/><note pname="e" oct="4" dur="2"/></fTrem>', [(0, 60, 1), (1, 64, 1)]),
        ('<note pname="c" oct="4" dur="4" cue="true"/>' + QUARTER, [(1, 60, 1)]),
        (f'<tuplet num="3" numbase="2">{QUARTER * 2}<rest dur="4"/></tuplet>', [(0, 60, THIRD), (THIRD, 60, THIRD)]),
    ],
)  # fmt: skip
def test_notes_of_mei(music: str, expected: list[tuple[float, int, float]]) -> None:
    assert exact(mei_with(music)[0]) == expected


@pytest.mark.parametrize(
    ("music", "more", "code", "count"),
    [
        ("<mRpt/>", "", "bar-repeat-signs", 1),
        ('<multiRest num="4"/>', "", "long-rests", 1),
        ('<note copyof="#x"/>' + QUARTER, "", "copied-notes", 1),
        ('<note dur="4"/>' + '<note pname="c" oct="4" dur="4"/>', "", "no-pitch", 1),
        ('<note pname="c" oct="4"/>' + QUARTER, "", "no-duration", 1),
        ('<note pname="c" oct="4" dur="4" accid="1qs"/>' + QUARTER, "", "microtones", 1),
        (QUARTER, '<trill staff="1" tstamp="1"/><fermata staff="1" tstamp="1"/>', "ornaments-not-read", 1),
        (QUARTER, '<octave staff="1" tstamp="1" dis="8" dis.place="above"/>', "octave-signs-not-read", 1),
        (QUARTER, '<tie staff="1" tstamp="1" tstamp2="0m+2"/>', "ties-not-read", 1),
        ("<app><rdg>" + QUARTER + "</rdg><rdg/></app>", "", "variant-readings", 1),
    ],
)
def test_what_is_lost_of_mei_is_told(music: str, more: str, code: str, count: int) -> None:
    assert mei_with(music, more=more)[1].get(code) == count


@pytest.mark.parametrize("dots", ["", "12", "x"])
def test_a_tempo_of_mei_with_dots_that_are_no_number_is_read_without_them(dots: str) -> None:
    score, _ = read(MEI.replace('mm.dots="1"', f'mm.dots="{dots}"'), Format.MEI)
    assert tempi(score) == [72.0]


def test_a_metre_of_mei_whose_unit_is_a_sum_is_left_out() -> None:
    plain, (score, findings) = read(MEI, Format.MEI)[0], read(MEI.replace('unit="4"/>', 'unit="4+4"/>'), Format.MEI)
    assert score.onset_ticks.tolist() == plain.onset_ticks.tolist()
    assert findings["metre-assumed"] == 1


def test_a_transposing_staff_of_mei_sounds_where_it_should() -> None:
    text = MEI.replace('clef.line="2"', 'clef.line="2" trans.semi="-2" trans.diat="-1"')
    plain, moved = read(MEI, Format.MEI)[0], read(text, Format.MEI)[0]
    shift = np.where(plain.part == 0, -2, 0)
    assert moved.pitch_midi.tolist() == (plain.pitch_midi + shift).tolist()


def test_words_of_mei_that_ask_for_a_jump_are_followed() -> None:
    bar = (
        '<measure n="{n}"><staff n="1"><layer n="1"><note pname="{p}" oct="4" dur="2"/></layer></staff>{more}</measure>'
    )
    fine, back = '<repeatMark func="fine" tstamp="3"/>', '<dir tstamp="3" type="dacapo">D.C. al Fine</dir>'
    bars = [bar.format(n=n, p=p, more=more) for n, p, more in ((1, "c", fine), (2, "d", ""), (3, "e", back))]
    start, end = MEI.index("<section>"), MEI.index("</section>")
    score, findings = read(f"{MEI[:start]}<section>{''.join(bars)}{MEI[end:]}", Format.MEI)
    assert pitches(score) == [60, 62, 64, 60]
    assert findings == {"tempo-assumed": 1}


def test_a_song_without_a_note_is_refused_or_told() -> None:
    for text, form in ((HEAD + "K:C\nz4|\n", Format.ABC), ("**kern\n4r\n*-\n", Format.KERN)):
        with pytest.raises(InputError, match="no note"):
            read(text, form)
    assert "no-notes" in mei_with("<mRest/>")[1]
