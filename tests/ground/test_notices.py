"""Notices counted as they come, and the bound on what is read."""

from __future__ import annotations

import pytest

from pegwright.errors import InputError, check_limit
from pegwright.findings import Finding, NoticeKind, Notices, Severity


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


def test_nothing_noticed_is_no_finding() -> None:
    assert Notices(Kind, "song.mid").findings() == ()


def test_a_bound_is_refused_from_one_more_on() -> None:
    check_limit(1000, 1000, "bars", "song.mid")
    with pytest.raises(InputError) as caught:
        check_limit(1001, 1000, "bars", "song.mid")
    assert str(caught.value) == "song.mid: 1,001 bars; at most 1,000 are read (cut the song into shorter files)"
