"""What is written of a survey: harmless, complete, and the same thing in every format."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from pegwright.note_count import REASONS, NoteCount
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind, addition_from
from pegwright.units import plural
from pegwright.verdict.tally import FitGroup, Survey, group_of, tally
from pegwright.verdict.values import Sounding, SurveyRow, Verdict
from pegwright.write.survey.csv import HEADER, path_text, survey_csv
from pegwright.write.survey.json import survey_json
from pegwright.write.survey.text import survey_text
from places import ROOT
from samples import wheel
from schemas import closed, schema
from strategies import note_counts

WHEEL = wheel()
VALID = closed("survey-1.json")
PAGE = ROOT / "docs" / "survey.md"
THING = Addition(AdditionKind.PITCH, 73)
HOSTILE = st.text(
    st.characters(codec="utf-8") | st.sampled_from("\n\r\t\0=+-@\u202e\u200b\udcff\x1b\\,\"'")
) | st.sampled_from(["=1+1", "\x1b[31mred", "\u202egnp.exe", "a" * 500, "жуткое 🎵 名前", "@SUM(A1)"])
COUNTS = st.integers(0, 3000)
SOUNDINGS = st.builds(Sounding, note_counts(COUNTS), COUNTS, st.floats(0, 500))
WHOLE = st.builds(Sounding, note_counts(COUNTS, whole=True), COUNTS, st.floats(0, 500))
VERDICTS = st.builds(
    Verdict,
    title=HOSTILE,
    bars=st.integers(1, 5000),
    turns=st.integers(1, 500),
    us_per_quarter=st.integers(1, 5_000_000),
    as_is=SOUNDINGS | WHOLE,
    transpose_semitones=st.integers(-48, 48),
    start_steps=st.integers(0, 191),
    at_best=SOUNDINGS | WHOLE,
    lacks=st.sampled_from([(), (THING,), tuple(Addition(AdditionKind.DRUM_KEY, key) for key in range(40))]),
    let_in=st.booleans(),
    weight_gap=st.none() | COUNTS,
    by_hand=st.booleans(),
)
ROWS = st.lists(
    st.builds(SurveyRow, HOSTILE, VERDICTS) | st.builds(SurveyRow, HOSTILE, st.none(), st.just("the file is empty"))
)


@given(st.lists(HOSTILE, max_size=6))
def test_paths_are_one_plain_line_and_no_two_alike(paths: list[str]) -> None:
    shown = [path_text(path) for path in paths]
    assert len(set(shown)) == len(set(paths))
    for text in shown:
        text.encode("utf-8")
        assert "\n" not in text
        assert "\x1b" not in text
        assert "\u202e" not in text


def survey_of(rows: Sequence[SurveyRow]) -> Survey:
    return Survey("scores", 12, 3, WHEEL, tuple(rows), tally(rows))


def test_paths_are_escaped_as_a_maker_would_guess() -> None:
    assert path_text("a\nb") == "a\\nb"
    assert path_text("\udcff\udc80.mid") == "\\xff\\x80.mid"
    assert path_text("\\n") == "\\\\n"
    assert path_text("\x80\u200b") == "\\u0080\\u200b"
    assert path_text("Ärger/🎵 名.mid") == "Ärger/🎵 名.mid"


@settings(max_examples=40)
@given(ROWS)
def test_every_format_is_sound_and_tells_the_same(rows: list[SurveyRow]) -> None:
    table = list(csv.reader(io.StringIO(survey_csv(rows).decode(), newline="")))
    assert tuple(table[0]) == HEADER
    assert len(table) == len(rows) + 1
    for cells, row in zip(table[1:], rows, strict=True):
        assert len(cells) == len(HEADER)
        assert not any(cell.startswith((*"=+@＝＋－＠", "\t", "\r", "\n", "\0")) for cell in cells)
        told = dict(zip(HEADER, cells, strict=True))
        path = path_text(row.path)
        assert told["path"] == (f"'{path}" if path.startswith(tuple("=+-@＝＋－＠")) else path)
        assert told["verdict"] == group_of(row)
        if row.verdict is None:
            assert told["error"] == row.error
            continue
        best = row.verdict.at_best
        counted = {reason: int(told[reason.name.lower()]) for reason in REASONS}
        assert {reason: count for reason, count in counted.items() if count} == best.count.left_out_by_reason
        assert int(told["left_out"]) == sum(counted.values())
        assert int(told["sounding"]) == int(told["placed"]) + int(told["shared"])
        assert int(told["notes"]) == int(told["sounding"]) + int(told["left_out"]) + int(told["dropped"])
        assert int(told["start_step"]) == row.verdict.start_steps + 1
        assert told["weight_gap"] == ("" if row.verdict.weight_gap is None else str(row.verdict.weight_gap))
        lacks = tuple(addition_from(code) for code in told["lacks"].split("; ") if code)
        assert lacks == row.verdict.lacks
    survey = survey_of(rows)
    text = survey_text(survey)
    text.encode("utf-8")
    assert not any(mark in text for mark in "\x1b\0\r\u202e")
    assert max(cell_len(line) for line in text.splitlines() if "the file is empty" not in line) <= 110
    document = json.loads(survey_json(survey))
    VALID.validate(document)
    assert Counter({group: count for group, count in document["counts"].items() if count}) == Counter(
        map(group_of, rows)
    )
    assert f"{len(rows):,} score file" in " ".join(text.split())
    stopped = sum(row.verdict is not None and row.verdict.weight_gap is not None for row in rows)
    assert (f"\n{plural(stopped, 'piece')} not proved to be at the best choice" in text) == (stopped > 0)


def a_row(number: int, out: int, lacks: tuple[Addition, ...] = (), let_in: bool = False) -> SurveyRow:
    sounding = Sounding(NoteCount(200, 200 - out, 0, {Outcome.NO_CHANNEL: out} if out else {}), 0, 0.0)
    return SurveyRow(
        f"{number}.mid",
        Verdict(f"Air {number}", 12, 1, 500_000, sounding, 0, 0, sounding, lacks, let_in, lack_notes=(2,) * len(lacks)),
    )


def test_the_summary_reads_as_it_should() -> None:
    c_sharp, f_sharp = Addition(AdditionKind.PITCH, 73), Addition(AdditionKind.PITCH, 78)
    rows = [
        *(a_row(number, 0) for number in range(2)),
        *(a_row(number, 3, (c_sharp,), let_in=True) for number in range(2, 5)),
        *(a_row(number, 5, (c_sharp, f_sharp), let_in=True) for number in range(5, 7)),
        a_row(8, 150, (f_sharp,)),
        a_row(7, 11, (c_sharp,)),
        SurveyRow("bad.mid", None, "the file is empty: 0 bytes"),
    ]
    assert survey_text(survey_of(rows)) == (
        "10 score files in scores on Test wheel\n"
        "Tried with each: 12 semitones up and down, each with every start; long pieces take several turns\n"
        "\n"
        "                                               Pieces   Share\n"
        "Fits as it is                                       2  20.0 %\n"
        "Fits with another start                             0   0.0 %\n"
        "Fits with a transposition                           0   0.0 %\n"
        "Nearly fits: 95 % of its notes sound, or more       5  50.0 %\n"
        "Does not fit                                        2  20.0 %\n"
        "Could not be judged                                 1  10.0 %\n"
        "All score files                                    10\n"
        "3 files of other kinds skipped\n"
        "\n"
        "Fits as it is\n"
        "  Title  Turns  Notes  Moved  File\n"
        "  Air 0      1    200      0  0.mid\n"
        "  Air 1      1    200      0  1.mid\n"
        "\n"
        "Nearly fits: 95 % of its notes sound, or more\n"
        "  Title       Sound   Share  Semitones  Start  Lacks               File\n"
        "  Air 2  197 of 200  98.5 %          0      1  C#5 (73)            2.mid\n"
        "  Air 3  197 of 200  98.5 %          0      1  C#5 (73)            3.mid\n"
        "  Air 4  197 of 200  98.5 %          0      1  C#5 (73)            4.mid\n"
        "  Air 5  195 of 200  97.5 %          0      1  C#5 (73), F#5 (78)  5.mid\n"
        "  Air 6  195 of 200  97.5 %          0      1  C#5 (73), F#5 (78)  6.mid\n"
        "\n"
        "Does not fit\n"
        "  Title       Sound   Share  Semitones  Start  Lacks     File\n"
        "  Air 7  189 of 200  94.5 %          0      1  C#5 (73)  7.mid\n"
        "  Air 8   50 of 200  25.0 %          0      1  F#5 (78)  8.mid\n"
        "\n"
        "Missing most: how many pieces and notes lack a thing, and how many pieces it lets in alone\n"
        "  Thing                   Pieces  Notes  Lets in alone\n"
        "  a channel for C#5 (73)       6     12              3\n"
        "  a channel for F#5 (78)       3      6              0\n"
        "\n"
        "Best together\n"
        "  2 things let in 5 pieces (no others let in more at the transposition already chosen):\n"
        "      a channel for C#5 (73)\n"
        "      a channel for F#5 (78)\n"
        "\n"
        "Could not be judged\n"
        "  bad.mid: the file is empty: 0 bytes\n"
    )


def test_a_column_of_zeros_is_left_out() -> None:
    """Where nothing lets a piece in alone, how many lack a thing is all there is to say."""
    things = Addition(AdditionKind.PITCH, 73), Addition(AdditionKind.PITCH, 78)
    text = survey_text(survey_of([a_row(number, 9, things, let_in=True) for number in range(3)]))
    assert "Missing most: how many pieces and notes lack a thing; none lets a piece in alone\n" in text
    assert "  a channel for C#5 (73)       3      6\n" in text
    assert "Lets in alone" not in text


def test_long_lists_say_where_the_rest_is() -> None:
    text = survey_text(survey_of([a_row(number, 0) for number in range(1000)]))
    assert "  and 970 more, in survey.csv\n" in text
    assert len(text.splitlines()) < 60


def test_groups_and_columns_are_on_the_page() -> None:
    page = " ".join(PAGE.read_text(encoding="utf-8").split())
    for name in (*HEADER, *map(str, FitGroup)):
        assert f"`{name}`" in page
    described = schema("survey-1.json")
    for part in (described, *(node for node in described["$defs"].values() if "properties" in node)):
        for key in part["properties"]:
            assert f"`{key}`" in page


def test_songs_played_by_hand_are_listed_with_what_to_try() -> None:
    whole = Sounding(NoteCount(3, 3), 0, 0.0)
    verdict = Verdict("Air", 1, 1, 500_000, whole, 0, 0, whole, (), let_in=False)
    rows = [SurveyRow("a.mid", replace(verdict, by_hand=True)), SurveyRow("b.mid", verdict)]
    text = survey_text(Survey("scores", 12, 0, WHEEL, tuple(rows), tally(rows)))
    assert "to the file's own beat: try `pegwright fit FILE --performed`\n  a.mid\n" in text
    assert "b.mid" not in text.partition("Played by hand")[2]
    lines = list(csv.DictReader(io.StringIO(survey_csv(rows).decode("utf-8-sig"))))
    assert [line["played_by_hand"] for line in lines] == ["yes", "no"]
