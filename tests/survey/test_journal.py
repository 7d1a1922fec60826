"""What is kept of a survey comes back as it was, and nothing that is damaged does."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.errors import UsageError
from pegwright.note_count import NoteCount
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind
from pegwright.survey.files import Listed
from pegwright.survey.journal import JOURNAL, NEW_JOURNAL, open_journal, subject
from pegwright.verdict.values import Sounding, SurveyRow, Verdict
from samples import wheel
from strategies import note_counts

WHEEL = wheel()
SEMITONES = 12
COUNTS = st.integers(0, 2**40)
SOUNDINGS = st.builds(
    Sounding,
    note_counts(COUNTS),
    COUNTS,
    st.floats(0, 1e6),
)
VERDICTS = st.builds(
    Verdict,
    title=st.text(),
    bars=COUNTS,
    turns=COUNTS,
    us_per_quarter=COUNTS,
    as_is=SOUNDINGS,
    transpose_semitones=st.integers(-48, 48),
    start_steps=COUNTS,
    at_best=SOUNDINGS,
    lacks=st.lists(
        st.sampled_from(
            [
                Addition(AdditionKind.PITCH, 66),
                Addition(AdditionKind.DRUM_KEY, 49),
                Addition(AdditionKind.ROW, 0, (Fraction(1, 3), Fraction(5, 3)), 2),
            ]
        ),
        unique=True,
    ).map(tuple),
    let_in=st.booleans(),
    weight_gap=st.none() | COUNTS,
)
NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\0") | st.sampled_from("\udcff\udc80\n"), min_size=1)


def listed(name: str, size: int = 100, mtime_ns: int = 1) -> Listed:
    return Listed(name, Path(name), size, mtime_ns)


def a_verdict(title: str = "Air") -> Verdict:
    sounding = Sounding(NoteCount(5, 3, 1, {Outcome.NO_CHANNEL: 1}), 1, 2.5)
    return Verdict(title, 4, 1, 500_000, sounding, -2, 3, sounding, (Addition(AdditionKind.PITCH, 66),), let_in=True)


def write(folder: Path, count: int) -> bytes:
    with open_journal(folder, subject(WHEEL, SEMITONES), again=False) as journal:
        for number in range(count):
            journal.keep(listed(f"{number}.mid"), SurveyRow(f"{number}.mid", a_verdict(f"Air {number}")))
    return (folder / JOURNAL).read_bytes()


def kept(folder: Path, count: int) -> list[int]:
    with open_journal(folder, subject(WHEEL, SEMITONES), again=False) as journal:
        rows = [journal.row(listed(f"{number}.mid")) for number in range(count)]
    for number, row in enumerate(rows):
        assert row in [None, SurveyRow(f"{number}.mid", a_verdict(f"Air {number}"))]
    return [number for number, row in enumerate(rows) if row]


@settings(max_examples=30)
@given(st.dictionaries(NAMES, VERDICTS, max_size=4))
def test_verdicts_come_back_as_they_were(verdicts: dict[str, Verdict]) -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "out"
        with open_journal(folder, subject(WHEEL, SEMITONES), again=False) as journal:
            for name, verdict in verdicts.items():
                assert journal.row(listed(name)) is None
                journal.keep(listed(name), SurveyRow(name, verdict))
        for _ in range(2):  # the second time from the journal as it was written anew
            with open_journal(folder, subject(WHEEL, SEMITONES), again=False) as journal:
                for name, verdict in verdicts.items():
                    assert journal.row(listed(name)) == SurveyRow(name, verdict)


def test_a_changed_file_is_not_known_any_more(tmp_path: Path) -> None:
    write(tmp_path / "out", 1)
    with open_journal(tmp_path / "out", subject(WHEEL, SEMITONES), again=False) as journal:
        assert journal.row(listed("0.mid"))
        assert journal.row(listed("0.mid", size=101)) is None
        assert journal.row(listed("0.mid", mtime_ns=2)) is None


def test_what_could_not_be_judged_is_tried_again(tmp_path: Path) -> None:
    with open_journal(tmp_path / "out", subject(WHEEL, SEMITONES), again=False) as journal:
        journal.keep(listed("bad.mid"), SurveyRow("bad.mid", None, "given up"))
    assert (tmp_path / "out" / JOURNAL).read_text(encoding="utf-8").count("\n") == 1


def test_a_journal_cut_anywhere_keeps_every_whole_line(tmp_path: Path) -> None:
    whole = write(tmp_path / "out", 3)
    head = whole.index(b"\n") + 1
    ends = [place for place, byte in enumerate(whole) if byte == ord("\n")]
    for cut in sorted({*range(head, len(whole) + 1, 13), *(end + shift for end in ends for shift in (-1, 0, 1))}):
        if cut < ends[0]:
            continue
        (tmp_path / "out" / JOURNAL).write_bytes(whole[:cut])
        lines = sum(end <= cut for end in ends)
        assert kept(tmp_path / "out", 3) == list(range(lines - 1))
        assert (tmp_path / "out" / JOURNAL).read_bytes() == whole[: ends[lines - 1] + 1]


@pytest.mark.parametrize(
    "damage",
    [
        b"\0" * 200 + b"\n",
        b"{}\n",
        b"[1, 2]\n",
        b'{"path": "1.mid", "size": 100, "mtime_ns": 1, "verdict": {"title": "x"}}\n',
        b'{"path": ["1.mid"], "size": 100, "mtime_ns": 1, "verdict": 5}\n',
        b"[" * 100_000 + b"\n",
        b"\xff\xfe\n",
    ],
)
def test_a_damaged_line_is_passed_over(tmp_path: Path, damage: bytes) -> None:
    lines = write(tmp_path / "out", 3).splitlines(keepends=True)
    (tmp_path / "out" / JOURNAL).write_bytes(lines[0] + lines[1] + damage + lines[3])
    assert kept(tmp_path / "out", 3) == [0, 2]


def test_another_wheel_or_other_settings_are_refused_unless_begun_again(tmp_path: Path) -> None:
    out = tmp_path / "out"
    before = write(out, 2)
    other = replace(WHEEL, sha256="2" * 64)
    with (
        pytest.raises(UsageError, match="holds another survey: its wheel_sha256 is 000"),
        open_journal(out, subject(other, SEMITONES), again=False),
    ):
        pass
    with (
        pytest.raises(UsageError, match=r"its semitones is 12, now it is 5 .*--again"),
        open_journal(out, subject(WHEEL, 5), again=False),
    ):
        pass
    assert (out / JOURNAL).read_bytes() == before
    with open_journal(out, subject(other, SEMITONES), again=True) as journal:
        assert journal.row(listed("0.mid")) is None


def test_a_journal_without_its_first_line_is_no_survey(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(out, 1)
    (out / JOURNAL).write_bytes(b"")
    with (
        pytest.raises(UsageError, match="its format is nothing"),
        open_journal(out, subject(WHEEL, SEMITONES), again=False),
    ):
        pass


def test_a_folder_with_something_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(UsageError, match="no survey"), open_journal(tmp_path, subject(WHEEL, SEMITONES), again=True):
        pass
    with (
        pytest.raises(UsageError, match="is a file"),
        open_journal(tmp_path / "letter.txt", subject(WHEEL, SEMITONES), again=False),
    ):
        pass
    with (
        pytest.raises(UsageError, match="does not exist"),
        open_journal(tmp_path / "gone" / "out", subject(WHEEL, SEMITONES), again=False),
    ):
        pass
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_disk_that_takes_no_more_is_told(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full to write to")
    with (
        Path("/dev/full").open("wb", buffering=0) as full,
        open_journal(tmp_path / "out", subject(WHEEL, SEMITONES), again=False) as journal,
    ):
        journal._file = full
        with pytest.raises(UsageError, match="cannot be kept: no space left"):
            journal.keep(listed("0.mid"), SurveyRow("0.mid", a_verdict()))


def test_two_surveys_at_a_time_into_one_folder_are_refused(tmp_path: Path) -> None:
    """The second is refused whether or not it begins again, and leaves the journal of the first alone."""
    pytest.importorskip("fcntl")
    out = tmp_path / "out"
    with open_journal(out, subject(WHEEL, SEMITONES), again=False):
        before = (out / JOURNAL).read_bytes()
        for again in (False, True):
            with pytest.raises(UsageError, match="another survey is writing") as caught:
                open_journal(out, subject(WHEEL, 5), again=again).__enter__()
            assert caught.value.where == str(out)
        assert (out / JOURNAL).read_bytes() == before
    with open_journal(out, subject(WHEEL, SEMITONES), again=False):
        pass


def test_a_survey_stopped_before_its_journal_had_its_name_is_taken_up(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / NEW_JOURNAL).write_bytes(b'{"format": "pegwright sur')
    whole = write(out, 2)
    assert kept(out, 2) == [0, 1]
    assert (out / JOURNAL).read_bytes() == whole
    assert [path.name for path in out.iterdir()] == [JOURNAL]


@pytest.mark.parametrize("name", [JOURNAL, NEW_JOURNAL])
def test_a_journal_is_not_written_through_a_link(tmp_path: Path, name: str) -> None:
    whole = write(tmp_path / "before", 1)
    (tmp_path / "elsewhere").write_bytes(whole)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / name).symlink_to(tmp_path / "elsewhere")
    write(tmp_path / "out", 2)
    assert (tmp_path / "elsewhere").read_bytes() == whole
    assert not (tmp_path / "out" / JOURNAL).is_symlink()
