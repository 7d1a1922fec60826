"""What was changed in a song of several turns is told once, with its number over all of them."""

from __future__ import annotations

import json
from collections import Counter

import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.config import load_wheel
from pegwright.read import read_score


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def test_what_folding_and_transposing_changed_is_counted_over_all_turns(pegwright: Command) -> None:
    """The notes are counted from the score and the wheel, without what the fit says of them."""
    path, wheel = SONGS / "round-the-pier-and-back.mxl", load_wheel(WHEEL)
    score, semitones = read_score(path)[0], 19
    sounds = {pitch for channel in wheel.channels for pitch in channel.pitches}
    pitched = [(int(part), int(pitch) + semitones) for part, pitch in zip(score.part, score.pitch_midi, strict=True)]
    pitched = [(part, pitch) for part, pitch in pitched if not score.parts[part].percussion]
    folded = Counter(
        score.parts[part].name
        for part, pitch in pitched
        if pitch not in sounds and any((pitch - each) % 12 == 0 for each in sounds)
    )
    given = ("--transpose", str(semitones), "--fold-octaves", "--no-remedies", "--json")
    document = json.loads(pegwright("fit", path, "-w", WHEEL, *given).out)
    told: Counter[str] = Counter()
    for finding in document["findings"]:
        if finding["code"] == "octave-folded":
            told[finding["where"].removeprefix(f"{path.name}:")] += finding["count"]
    assert len(document["running_order"]) == 2
    assert len(folded) > 1
    assert told == folded
    assert [each["message"] for each in document["findings"] if each["code"] == "transposed"] == [
        f"{len(pitched):,} notes transposed 19 semitones higher"
    ]
