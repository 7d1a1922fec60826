"""Parts that are taken or left out by name or pattern, and silence before the first note."""

from __future__ import annotations

import pytest

from commands import WHEEL
from pegwright.ask.request import Played, Request
from pegwright.config import load_wheel
from pegwright.edit.bars import silent_bars
from pegwright.edit.parts import matching_parts, without_parts
from pegwright.errors import UsageError
from pegwright.score import Part
from pegwright.song_pipeline.editing import edit_score
from pegwright.song_pipeline.fitting import fit_score
from pegwright.tell.counts import count_words
from samples import score

PARTS = tuple(map(Part, ("Melody", "String high", "String low", "Foot [1]")))
NOTES = score([(0, 60, 80, 0), (0, 62, 80, 1), (0, 64, 80, 2), (24, 65, 80, 2), (48, 67, 80, 3)], parts=PARTS)


def names(*patterns: str) -> list[str]:
    return [part.name for part, chosen in zip(PARTS, matching_parts(NOTES, patterns, "--only"), strict=True) if chosen]


def test_a_pattern_takes_all_parts_like_it_and_a_name_itself() -> None:
    assert names("String*") == ["String high", "String low"]
    assert names("Melody", "*low") == ["Melody", "String low"]
    assert names("Foot [1]") == ["Foot [1]"], "brackets mean something in a pattern, and nothing in a name"


def test_a_pattern_without_a_part_is_an_error_that_names_the_parts() -> None:
    with pytest.raises(UsageError) as refused:
        names("Melody", "Bass*")
    assert str(refused.value) == (
        "test.mid, --only: no part has a name like 'Bass*' "
        "(the names are 'Melody', 'String high', 'String low' and 'Foot [1]')"
    )
    with pytest.raises(UsageError, match=r"like 'STRING HIHG' \(the nearest name is 'String high'; the names are "):
        names("STRING HIHG")


def test_capital_and_small_letters_are_the_same_unless_a_part_has_the_name_as_written() -> None:
    assert names("melody") == ["Melody"]
    assert names("STRING*") == ["String high", "String low"]
    assert names("foot [1]") == ["Foot [1]"]
    both = score([(0, 60, 80, 0), (0, 62, 80, 1)], parts=(Part("Bass"), Part("bass")))
    assert matching_parts(both, ["bass"], "--only") == (False, True)
    assert matching_parts(both, ["BASS"], "--only") == (True, True)


def test_parts_left_out_are_named_with_their_notes_and_the_others_keep_their_numbers() -> None:
    left, (finding,) = without_parts(NOTES, (False, True, True, False), "--without")
    assert left.parts == NOTES.parts
    assert (left.pitch_midi.tolist(), left.part.tolist()) == ([60, 67], [0, 3])
    assert finding.message == "parts 'String high' (1 note) and 'String low' (2 notes) left out, as --without asks"
    assert finding.count == 3


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (Request(only=("String*",)), "3 of 5 notes sound; none left out; 2 dropped on request: 2 by --only"),
        (Request(without=("String*",)), "2 of 5 notes sound; none left out; 3 dropped on request: 3 by --without"),
        (
            Request(only=("String*",), without=("*low",)),
            "1 of 5 notes sounds; none left out; 4 dropped on request: 2 by --only, 2 by --without",
        ),
    ],
    ids=str,
)
def test_their_notes_are_dropped_on_request_in_the_one_count(asked: Request, words: str) -> None:
    wheel = load_wheel(WHEEL)
    pitched = score([(0, 72, 80, 0), (0, 74, 80, 1), (0, 76, 80, 2), (24, 77, 80, 2), (48, 79, 80, 3)], parts=PARTS)
    fitted = fit_score(pitched, wheel, asked)
    assert count_words(fitted.count) == words


def test_a_part_of_taps_can_be_left_out_by_name_too() -> None:
    taps = [(24 * beat, 40, 80, 3) for beat in range(16)]
    played = score([*((24 * beat + 1, 72, 80, 0) for beat in range(16)), *taps], parts=PARTS)
    asked = Request(played=Played(tapped_part="Foot [1]"), without=("Foot*",))
    edited = edit_score(played, load_wheel(WHEEL), asked)
    assert (edited.dropped["beats"], edited.dropped["without"], edited.score.note_count) == (16, 0, 16)


def test_silence_before_the_first_note_is_reported_and_left_out_only_when_asked() -> None:
    late = score([(96 * 2 + 24, 72), (96 * 3, 74)])
    assert (silent_bars(late), silent_bars(NOTES), silent_bars(score([]))) == (2, 0, 0)
    wheel = load_wheel(WHEEL)
    kept = edit_score(late, wheel, Request())
    assert kept.score is late
    (finding,) = kept.findings
    assert (finding.message, finding.hint) == (
        "the song begins with 2 bars of silence before the first note",
        "--skip-silence leaves them out",
    )
    skipped = edit_score(late, wheel, Request(skip_silence=True))
    assert skipped.score.onset_ticks.tolist() == [24, 96]
    assert skipped.score.bar_map.labels == ("3", "4")
    assert [found.message for found in skipped.findings] == ["2 bars of silence before the first note left out"]
    assert sum(skipped.dropped.values()) == 0, "no note is lost"
