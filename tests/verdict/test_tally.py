"""How rows fall into groups and are ordered."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pegwright.note_count import NoteCount
from pegwright.placement import Outcome
from pegwright.remedy.additions import Addition, AdditionKind
from pegwright.verdict.tally import FitGroup, group_of, tally
from pegwright.verdict.values import Sounding, SurveyRow, Verdict


def sounding(placed: int, out: int, shared: int = 0) -> Sounding:
    left_out = {Outcome.NO_CHANNEL: out} if out else {}
    return Sounding(NoteCount(placed + shared + out, placed, shared, left_out), 0, 0.0)


def verdict(as_is_out: int, best_out: int, semitones: int = 0, start: int = 0, title: str = "Air") -> Verdict:
    notes = 100
    return Verdict(
        title=title,
        bars=4,
        turns=1,
        us_per_quarter=500_000,
        as_is=sounding(notes - as_is_out, as_is_out),
        transpose_semitones=semitones,
        start_steps=start,
        at_best=sounding(notes - best_out, best_out),
        lacks=(),
        let_in=False,
    )


@pytest.mark.parametrize(
    ("told", "group"),
    [
        (verdict(0, 0), FitGroup.FITS),
        (verdict(0, 0, semitones=3), FitGroup.FITS),  # another place may move fewer notes; it fits all the same
        (verdict(1, 0, start=5), FitGroup.FITS_WITH_START),
        (verdict(1, 0, semitones=-2, start=5), FitGroup.FITS_WITH_TRANSPOSITION),
        (verdict(9, 5), FitGroup.NEARLY_FITS),
        (verdict(9, 6), FitGroup.DOES_NOT_FIT),
        (None, FitGroup.NOT_JUDGED),
    ],
)
def test_every_row_has_a_group(told: Verdict | None, group: FitGroup) -> None:
    assert group_of(SurveyRow("a.mid", told)) is group


def test_groups_are_sorted_for_reading_and_hold_every_row_once() -> None:
    rows = [
        SurveyRow("z.mid", verdict(0, 0, title="Zither")),
        SurveyRow("a.mid", verdict(0, 0, title="air")),
        SurveyRow("down.mid", verdict(1, 0, semitones=-2)),
        SurveyRow("far.mid", verdict(1, 0, semitones=7)),
        SurveyRow("up.mid", verdict(1, 0, semitones=2)),
        SurveyRow("near.mid", verdict(9, 4)),
        SurveyRow("nearer.mid", verdict(9, 1)),
        SurveyRow("b-bad.mid", None, "empty"),
        SurveyRow("a-bad.mid", None, "empty"),
    ]
    groups = tally(rows).groups
    assert list(groups) == list(FitGroup)
    assert [[row.path for row in members] for members in groups.values()] == [
        ["a.mid", "z.mid"],
        [],
        ["up.mid", "down.mid", "far.mid"],
        ["nearer.mid", "near.mid"],
        [],
        ["a-bad.mid", "b-bad.mid"],
    ]
    assert tally(reversed(rows)) == tally(rows)


def test_only_pieces_that_do_not_fit_lack_something() -> None:
    bell, bass = Addition(AdditionKind.PITCH, 60), Addition(AdditionKind.PITCH, 36)
    rows = [
        SurveyRow("1.mid", replace(verdict(9, 4), lacks=(bell,), let_in=True)),
        SurveyRow("2.mid", replace(verdict(9, 8), lacks=(bell,), let_in=True)),
        SurveyRow("3.mid", replace(verdict(90, 80), lacks=(bass,), let_in=True)),
        SurveyRow("4.mid", replace(verdict(90, 80), lacks=(bass, bell), let_in=True)),
        SurveyRow("5.mid", replace(verdict(90, 80), lacks=(bass,), let_in=False)),
        SurveyRow("6.mid", replace(verdict(90, 80), lacks=(bass,), let_in=False)),
    ]
    counted = tally(rows)
    assert [(it.addition, it.lets_in, it.lacked_by) for it in counted.missing] == [(bell, 2, 3), (bass, 1, 4)]
    assert [(it.additions, it.lets_in, it.exact) for it in counted.together] == [((bass, bell), 4, True)]


def test_no_rows_come_to_nothing() -> None:
    counted = tally([])
    assert (counted.missing, counted.together) == ((), ())
    assert set(counted.groups.values()) == {()}
