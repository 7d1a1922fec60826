"""Golden cases of songs of several turns: each turn's set of plates, its bars, and the outcome of its notes."""

from __future__ import annotations

from pathlib import Path

import pytest

from golden_cases import FOLDER, described, load, sections
from pegwright.ask.request import Request
from pegwright.check.verify import verify
from pegwright.song import EditedSong, FittedSong
from pegwright.song_pipeline.fitting import fit_edited
from pegwright.units import plural, printed

TURNS = sorted((FOLDER / "turns").glob("*.txt"))


def fitted(path: Path) -> FittedSong:
    case = load(path)
    request = Request(options=case.options)
    return fit_edited(EditedSong(path, case.score.note_count, case.score, request, (), {}), case.wheel)


def described_turns(song: FittedSong) -> tuple[list[str], list[str], list[str]]:
    """Turns, outcomes and findings as the files write them; quarters count from the beginning of the turn."""
    turns, outcomes, findings = [], [], []
    for number, (turn, pinning) in enumerate(zip(song.turns, song.running, strict=True)):
        count = plural(turn.placement.note_count, "note")
        turns.append(f"turn {printed(number)}: {song.letter(pinning)}, {song.bars_of(number)}, {count}")
        lines, found = described(turn.score, song.wheel, turn.placement, turn.findings)
        outcomes += [f"turn {printed(number)}, {line}" for line in lines]
        findings += found
    return turns, outcomes, findings


@pytest.mark.parametrize("path", TURNS, ids=lambda path: path.stem)
def test_golden_case_of_several_turns(path: Path) -> None:
    case, song = load(path), fitted(path)
    assert len(case.story) > 20
    for turn in song.turns:
        assert verify(turn.score, song.wheel, turn.placement) == ()
    assert described_turns(song) == (sections(path)["turns"], case.outcome, case.findings)
    starts = {turn.placement.start_ticks for turn in song.turns}
    assert len(starts) == 1, "all turns of a song begin on one step"


if __name__ == "__main__":
    for each in TURNS:
        made = described_turns(fitted(each))
        print(each.stem, *("\n".join(lines) for lines in made), sep="\n\n")  # noqa: T201  # to paste once checked
