"""The song file: what is written is read back as the same, and what is wrong is reported key by key."""

from __future__ import annotations

import random
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings

import thorough
from pegwright.ask.convert import written
from pegwright.ask.request import Request
from pegwright.ask.song_file import SongFile, in_effect, request_of_values
from pegwright.ask.table import OPTIONS
from pegwright.config.song_file import parse_song_file
from pegwright.errors import ConfigError, PegwrightError
from pegwright.write.song_file import song_file_bytes
from requests_asked import asked

PATH = Path("song.toml")


@settings(max_examples=thorough.cases(60, 300))
@given(asked())
def test_what_is_asked_is_kept_such_that_it_asks_the_same(request: Request) -> None:
    values = {option.name: written(request, option) for option in OPTIONS}
    given, taken = in_effect(values), ("fold octaves",)
    file = SongFile(PATH, Path("a.mid"), "0f" * 32, Path("w.toml"), given, taken)
    read = parse_song_file(song_file_bytes(file), PATH)
    assert request_of_values(read.given) == request
    assert (read.score, read.sha256, read.wheel, read.taken) == (file.score, file.sha256, file.wheel, file.taken)
    assert song_file_bytes(read) == song_file_bytes(file)


def test_all_faults_are_reported_at_once_with_key_line_and_bound() -> None:
    text = b'score = 3\nthin = 0\nstart = "auto"\nsemitones = 3\nmove_parts = { Bass = 200 }\ntaken = "x"\nwhel = "w"\n'
    with pytest.raises(ConfigError) as refused:
        parse_song_file(text, PATH)
    faults = "\n".join(str(fault) for fault in refused.value.faults)
    for says in (
        "score (line 1): 3 is not a text",
        "thin (line 2): 0 is below the minimum, 1",
        'semitones (line 4): goes with transpose = "auto"',
        "move_parts.Bass (line 5): 200 is above the maximum, 127",
        'taken (line 6): "x" is not a list',
        "whel (line 7): is not a known key (did you mean `wheel`?)",
    ):
        assert says in faults


def test_a_file_with_random_damage_is_read_or_refused_in_one_line() -> None:
    given = {"thin": 3, "only": ("Bass", "S*"), "move_part": (("Bass", -12),)}
    whole = song_file_bytes(SongFile(PATH, Path("a.mid"), "0f" * 32, Path("w.toml"), given, ("fold octaves",)))
    chance, read = random.Random(14), 0  # noqa: S311
    for _ in range(thorough.cases(100, 300)):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            at = chance.randrange(len(data))
            data[at : at + chance.randint(0, 3)] = chance.randbytes(chance.randint(0, 3))
        with suppress(PegwrightError):  # any other error would be a traceback for the user
            parse_song_file(bytes(data), PATH)
            read += 1
    assert 0 < read < thorough.cases(100, 300) // 2
