"""Ornaments of MusicXML notes: kinds, neighbour notes, tremolo marks; the notes themselves stay plain."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from musicxml_text import FOUR_FOUR, attributes, backup, bar, drum, note, one_bar, repeat, score, tie, tuplet
from pegwright.findings import Finding
from pegwright.musicxml.reader import read_musicxml
from pegwright.score import NO_ORNAMENT, Ornament, OrnamentKind, Score

SHARP = "<accidental-mark>sharp</accidental-mark>"


def read(data: bytes) -> tuple[Score, dict[str, Finding]]:
    song, findings = read_musicxml(data, "tune.musicxml")
    return song, {finding.code: finding for finding in findings if not finding.code.endswith("-assumed")}


def signed(*signs: str, extra: str = "") -> str:
    return f"{extra}<notations><ornaments>{''.join(signs)}</ornaments></notations>"


def key(fifths: int | str) -> str:
    return attributes(f"<key><fifths>{fifths}</fifths></key>")


def ornaments(song: Score) -> list[Ornament | None]:
    """The ornament of every note."""
    if not len(song.ornament):
        return [None] * song.note_count
    assert len(song.ornament) == song.note_count
    return [None if number == NO_ORNAMENT else song.ornaments[number] for number in song.ornament.tolist()]


def only(*content: str) -> Ornament:
    """The ornament of the last note of a bar, by onset."""
    found = ornaments(read(one_bar(*content))[0])[-1]
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("sign", "kind", "up", "down"),
    [
        ("<trill-mark/>", OrnamentKind.TRILL, 2, 0),
        ("<shake/>", OrnamentKind.TRILL, 2, 0),
        ("<mordent/>", OrnamentKind.MORDENT, 0, 1),
        ("<inverted-mordent/>", OrnamentKind.INVERTED_MORDENT, 2, 0),
        ("<turn/>", OrnamentKind.TURN, 2, 1),
        ("<inverted-turn/>", OrnamentKind.INVERTED_TURN, 2, 1),
    ],
)
def test_signs_on_c_without_key_have_d_and_b_as_neighbours(sign: str, kind: OrnamentKind, up: int, down: int) -> None:
    # W3C MusicXML 4.0: mordent is the sign with the vertical line (the note below), inverted-mordent the one without.
    assert only(note("C4", 4, signed(sign))) == Ornament(kind, up, down)


@pytest.mark.parametrize(
    ("fifths", "name", "up", "down"),
    [
        # The notes of the major scales: handbook matter, common practice.
        (0, "E4", 1, 2),
        (1, "E4", 2, 2),  # G major has F sharp
        (2, "B4", 2, 2),  # D major has C sharp: B to C sharp up, to A down
        (-1, "A4", 1, 2),  # F major has B flat
        (-5, "C5", 1, 2),  # D flat major: D flat above, B flat below
        (4, "C5", 3, 1),  # C natural in E major: D sharp above is an augmented second
        (7, "E#4", 1, 2),  # C sharp major: F sharp and D sharp
        (-7, "Cb5", 2, 1),  # C flat major: D flat and B flat
        (0, "E#4", 1, 3),  # F natural would be no step: never less than a semitone; D below is three
        ("many", "E4", 1, 2),  # no number: as without key
    ],
)
def test_the_key_signature_gives_the_neighbours(fifths: int | str, name: str, up: int, down: int) -> None:
    assert only(key(fifths), note(name, 4, signed("<turn/>"))) == Ornament(OrnamentKind.TURN, up, down)


def test_every_key_signature_gives_the_steps_that_music21_gives() -> None:
    from music21 import expressions  # a second opinion, slow to load
    from music21 import key as keys
    from music21 import note as notes

    for fifths in range(-7, 8):
        for step in "CDEFGAB":
            signature = keys.KeySignature(fifths)
            theirs = notes.Note(f"{step}4")
            theirs.pitch.accidental = signature.accidentalByStep(step)
            played = expressions.Trill().realize(theirs, keySig=signature)[0]
            below = expressions.Mordent().realize(theirs, keySig=signature)[0]
            name = theirs.pitch.nameWithOctave.replace("-", "b")
            ours = only(key(fifths), note(name, 4, signed("<turn/>")))
            assert ours.upper_semitones == played[1].pitch.midi - played[0].pitch.midi, (fifths, name)
            assert ours.lower_semitones == below[0].pitch.midi - below[1].pitch.midi, (fifths, name)


def test_accidental_marks_bend_the_neighbour_and_trill_step_settles_it() -> None:
    assert only(note("E4", 4, signed("<trill-mark/>", SHARP))).upper_semitones == 2
    assert only(note("C4", 4, signed("<mordent/>", "<accidental-mark>flat</accidental-mark>"))).lower_semitones == 2
    both = only(note("D4", 4, signed("<turn/>", '<accidental-mark placement="below">sharp</accidental-mark>')))
    assert (both.upper_semitones, both.lower_semitones) == (2, 1)
    # W3C MusicXML 4.0, trill-step: whole, half or unison.
    steps = [only(note("C4", 4, signed(f'<trill-mark trill-step="{step}"/>', SHARP))) for step in ("half", "unison")]
    assert [step.upper_semitones for step in steps] == [1, 0]
    assert only(note("C4", 4, signed('<mordent trill-step="whole"/>'))).lower_semitones == 2
    unknown = only(note("C4", 4, signed("<trill-mark/>", "<accidental-mark>koron</accidental-mark>")))
    assert unknown.upper_semitones == 2


def test_an_accidental_earlier_in_the_bar_holds_for_the_neighbour_until_the_bar_ends() -> None:
    trill = signed("<trill-mark/>")
    assert only(note("C#4", 1), note("B3", 3, trill)).upper_semitones == 2
    assert only(note("C#5", 1), note("B3", 3, trill)).upper_semitones == 1, "another octave"
    other_voice = note("C#4", 4, "<voice>1</voice>"), backup(4), note("B3", 4, f"<voice>2</voice>{trill}")
    song = read(one_bar(*other_voice))[0]
    assert [found.upper_semitones for found in ornaments(song) if found] == [1]
    song = read(
        score([bar(attributes("<divisions>1</divisions>" + FOUR_FOUR), note("C#4", 4)), bar(note("B3", 4, trill))])
    )[0]
    assert [found.upper_semitones for found in ornaments(song) if found] == [1]


def test_transposing_parts_keep_the_step_as_written() -> None:
    horn = attributes("<transpose><chromatic>-7</chromatic></transpose>")
    song, _ = read(one_bar(horn, note("E4", 4, signed("<trill-mark/>"))))
    assert song.pitch_midi.tolist() == [57]
    assert ornaments(song) == [Ornament(OrnamentKind.TRILL, 1)]


@pytest.mark.parametrize(
    ("marks", "written", "every"),
    [
        # W3C MusicXML 4.0, tremolo: the marks do not include the beams (or flags) of the note.
        (1, "<type>quarter</type>", Fraction(1, 2)),
        (2, "<type>quarter</type>", Fraction(1, 4)),
        (3, "<type>whole</type>", Fraction(1, 8)),
        (3, "", Fraction(1, 8)),
        (1, "<type>eighth</type>", Fraction(1, 4)),
        (2, "<type>16th</type>", Fraction(1, 16)),
        (8, "<type>half</type>", Fraction(1, 256)),
        (1, tuplet("eighth", 3, 2), Fraction(1, 6)),
        (2, tuplet("quarter", 3, 2), Fraction(1, 6)),
    ],
)
def test_tremolo_marks_tell_how_often_it_is_struck(marks: int, written: str, every: Fraction) -> None:
    found = only(note("C4", 4, signed(f"<tremolo>{marks}</tremolo>", extra=written)))
    assert found == Ornament(OrnamentKind.TREMOLO, every_quarters=every)


def test_a_tremolo_holds_for_the_whole_chord_whichever_note_carries_it() -> None:
    tremolo = signed("<tremolo>2</tremolo>")
    for carrier in range(3):
        extra = ["", "", ""]
        extra[carrier] = tremolo
        chord = [
            note(name, 2, extra[place], before="<chord/>" if place else "")
            for place, name in enumerate(("C4", "E4", "G4"))
        ]
        song, findings = read(one_bar(*chord, note("C4", 2)))
        repeated = Ornament(OrnamentKind.TREMOLO, every_quarters=Fraction(1, 4))
        assert ornaments(song) == [repeated, repeated, repeated, None]
        assert findings["tremolos"].count == 1
    trill_and_tremolo = note("C4", 4, signed("<trill-mark/>")), note("E4", 4, tremolo, before="<chord/>")
    kinds = [found.kind for found in ornaments(read(one_bar(*trill_and_tremolo))[0]) if found]
    assert kinds == [OrnamentKind.TRILL, OrnamentKind.TREMOLO]


def test_unmeasured_tremolos_are_as_fast_as_can_be_and_drums_roll() -> None:
    assert only(note("C4", 4, signed('<tremolo type="unmeasured">0</tremolo>'))) == Ornament(OrnamentKind.TREMOLO)
    rolled = drum(4).replace("</note>", signed("<trill-mark/>") + "</note>")
    assert only(rolled) == Ornament(OrnamentKind.TRILL)


def test_what_cannot_be_played_is_told_apart_from_what_can() -> None:
    song, findings = read(
        one_bar(
            note("C4", 1, signed("<delayed-turn/>", "<schleifer/>")),
            note("C4", 1, signed('<tremolo type="start">3</tremolo>')),
            note("D4", 1, signed('<tremolo type="stop">3</tremolo>')),
            note("C4", 1, signed("<tremolo>9</tremolo>", "<wavy-line type='start'/>", "<other-ornament/>")),
        )
    )
    assert {code: finding.count for code, finding in findings.items()} == {"other-ornaments": 3, "two-note-tremolos": 2}
    assert ornaments(song) == [None] * 4
    assert song.ornaments == ()
    _, findings = read(one_bar(note("C4", 2, signed("<trill-mark/>")), note("C4", 2, signed("<tremolo>3</tremolo>"))))
    assert all("--ornaments 1/32" in findings[code].hint for code in ("ornaments", "tremolos"))


def test_rests_and_cues_take_no_ornament_and_the_first_of_two_counts() -> None:
    cue = note("C4", 1, signed("<trill-mark/>"), before="<cue/>")
    silent = f"<note><rest/><duration>1</duration>{signed('<trill-mark/>')}</note>"
    song, _ = read(one_bar(cue, silent, note("D4", 2, signed("<mordent/>", "<trill-mark/>"))))
    assert ornaments(song) == [Ornament(OrnamentKind.MORDENT, 0, 2)]


def test_ties_repeats_and_several_parts_keep_ornaments_with_their_notes() -> None:
    start = attributes("<divisions>1</divisions>" + FOUR_FOUR)
    upper = [
        bar(start, note("C5", 4, tie("start") + signed("<trill-mark/>"))),
        bar(note("C5", 4, tie("stop") + signed("<trill-mark/>")), repeat("backward")),
    ]
    lower = [bar(start, note("E3", 4)), bar(note("E3", 4, signed("<tremolo>1</tremolo>")))]
    song, _ = read(score(upper, lower))
    trill, tremolo = Ornament(OrnamentKind.TRILL, 2), Ornament(OrnamentKind.TREMOLO, every_quarters=Fraction(1, 2))
    played = list(zip(song.onset_ticks.tolist(), song.pitch_midi.tolist(), ornaments(song), strict=True))
    once = [(0, 72, trill), (0, 52, None), (4, 52, tremolo)]
    assert played == [*once, *((onset + 8, pitch, found) for onset, pitch, found in once)]


def test_an_ornament_that_begins_inside_a_tied_note_is_told_unless_the_note_has_one() -> None:
    def tied(*first: str) -> tuple[Score, dict[str, Finding]]:
        begin, end = note("C5", 2, tie("start") + signed(*first)), note("C5", 2, tie("stop") + signed("<trill-mark/>"))
        return read(one_bar(begin, end, repeat("backward")))  # told once, not for each time round

    song, findings = tied()
    assert ornaments(song) == [None, None]
    assert (findings["ornaments-in-ties"].count, findings["ornaments-in-ties"].where) == (
        1,
        "tune.musicxml:Part P1:bar 1",
    )
    song, findings = tied("<trill-mark/>")
    assert ornaments(song) == [Ornament(OrnamentKind.TRILL, 2)] * 2
    assert "ornaments-in-ties" not in findings


def test_notes_are_those_of_the_same_file_without_its_ornaments() -> None:
    marked = one_bar(
        note("C#4", 1, signed("<trill-mark/>", SHARP)),
        note("E4", 1, signed("<tremolo>3</tremolo>"), before="<chord/>"),
        note("D4", 1, before="<grace/>", extra=signed("<mordent/>")),
        note("E4", 2, signed("<turn/>")),
    )
    bare = re.sub(rb"<notations>.*?</notations>", b"", marked)
    with_signs, without = read(marked)[0], read(bare)[0]
    assert len(with_signs.ornament) == 4
    assert len(without.ornament) == 0
    for name in ("onset_ticks", "duration_ticks", "pitch_midi", "velocity", "part"):
        assert getattr(with_signs, name).tolist() == getattr(without, name).tolist()
    assert with_signs.resolution == without.resolution
