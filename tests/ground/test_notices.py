"""Notices counted as they come, and the bound on what is read."""

from __future__ import annotations

import pytest

from pegwright.errors import InputError, check_limit
from pegwright.findings import Finding, NoticeKind, Notices, Severity, bar_of_place


class Kind(NoticeKind):
    FIRST = "first", Severity.NOTE, "bar", "without a note", "look there"
    SECOND = "second", Severity.MENDED, "", "read as {form}", ""


def test_notices_are_counted_with_their_first_place_in_the_order_of_their_kinds() -> None:
    notices = Notices(Kind, "song.mid")
    notices.add(Kind.SECOND, form=2)
    notices.add(Kind.FIRST, 0, "nowhere")
    notices.add(Kind.FIRST, 2, "song.mid:bar 3")
    notices.add(Kind.SECOND, form=9)
    notices.add(Kind.FIRST, where="song.mid:bar 5")
    assert notices.findings() == (
        Finding("first", Severity.NOTE, "song.mid:bar 3", "3 bars without a note", "look there", 3),
        Finding("second", Severity.MENDED, "song.mid", "read as 2", "", 2),
    )


class Listed(NoticeKind):
    SHORT = "short", Severity.NOTE, "bar", "shorter than the rest ({bars})", ""


def test_a_finding_of_some_bars_counts_and_lists_those_alone() -> None:
    notices = Notices(Listed, "song.mid")
    for bar in ("bar 2", "pickup bar", "bar 9", "bar 2", "bar 12"):
        notices.add(Listed.SHORT, where=f"song.mid:{bar}")
    (finding,) = notices.findings()
    assert finding.message == "5 bars shorter than the rest (pickup bar, bars 2, 9, 12)"
    later = finding.only_where(lambda where: bar_of_place(where) in {"bar 9", "bar 12"})
    assert later == Finding(
        "short", Severity.NOTE, "song.mid:bar 9", "2 bars shorter than the rest (bars 9, 12)", "", 2
    )
    assert finding.only_where(lambda where: bar_of_place(where) == "bar 3") is None
    whole = Finding("no-tempo", Severity.NOTE, "song.mid", "assumed")
    assert whole.only_where(lambda where: bar_of_place(where) in {"", "bar 3"}) == whole


@pytest.mark.parametrize(
    ("where", "bar"),
    [
        ("waltz.mid:Melody:bar 14 beat 2.5", "bar 14"),
        ("waltz.mid:Melody:bar 1, 2nd time near beat 2.44", "bar 1"),
        ("a:b.xml:pickup bar", "pickup bar"),
        ("bar 3.mid", ""),
        ("waltz.mid:Melody", ""),
        ("", ""),
    ],
)
def test_a_place_names_its_bar(where: str, bar: str) -> None:
    assert bar_of_place(where) == bar


def test_nothing_noticed_is_no_finding() -> None:
    assert Notices(Kind, "song.mid").findings() == ()


def test_a_bound_is_refused_from_one_more_on() -> None:
    check_limit(1000, 1000, "bars", "song.mid")
    with pytest.raises(InputError) as caught:
        check_limit(1001, 1000, "bars", "song.mid")
    assert str(caught.value) == "song.mid: 1,001 bars; at most 1,000 are read (cut the song into shorter files)"
