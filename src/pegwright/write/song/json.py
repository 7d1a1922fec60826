"""What a song is made of, as JSON for programs."""

from __future__ import annotations

from pegwright.json_value import Json
from pegwright.song_facts import PartFacts, SongFacts, SoundCount, Stretch
from pegwright.tell.report import note_name
from pegwright.units import fraction_text, printed, ratio_text
from pegwright.write.json_text import json_bytes, rounded


def song_json(song: SongFacts) -> bytes:
    """The facts of a song; bars count from 1 as played."""
    score, judgement = song.score, song.judgement
    document: dict[str, Json] = {
        "title": score.title,
        "file": score.file,
        "sha256": score.sha256,
        "notes": score.note_count,
        "bars": len(score.bar_map.ticks),
        "quarters": fraction_text(song.length_quarters),
        "seconds": rounded(song.seconds),
        "wheel": song.wheel.name if song.wheel else None,
        "turns": None if song.turns is None else fraction_text(song.turns),
        "metres": [_stretch(stretch) for stretch in song.metres],
        "metre_stated": score.bar_map.stated,
        "swing": [_stretch(stretch) for stretch in song.swings],
        "quarters_per_minute": [rounded(tempo) for tempo in song.tempi],
        "prevailing_quarters_per_minute": rounded(song.prevailing),
        "tempo_stated": score.tempo_map.stated,
        "played_by_hand": None if judgement.unclear else judgement.by_hand,
        "onsets": judgement.moments,
        "onsets_on_a_simple_grid": judgement.on_grid,
        "share_on_grid_by_chance": rounded(judgement.by_chance),
        "late_ticks": song.late_ticks,
        "silent_bars_first": song.silent_bars,
        "ornaments": dict(song.ornaments),
        "parts": [_part(song, facts) for facts in song.parts],
        "findings": [
            {"code": finding.code, "where": finding.where or None, "message": finding.message, "count": finding.count}
            for finding in song.findings
        ],
    }
    return json_bytes(document)


def _stretch(stretch: Stretch) -> dict[str, Json]:
    value = stretch.value
    text = f"{value[0]}/{value[1]}" if isinstance(value, tuple) else ratio_text(value)
    return {"value": text, "bars": [printed(stretch.first), printed(stretch.last)]}


def _part(song: SongFacts, facts: PartFacts) -> dict[str, Json]:
    on_wheel: dict[str, Json] = {}
    if song.wheel:
        on_wheel = {
            "channels": [song.wheel.channels[channel].name for channel in facts.channels],
            "without_a_channel": [_sound(song, sound) for sound in facts.silent],
        }
    return {
        "name": facts.part.name,
        "percussion": facts.part.percussion,
        "program": facts.part.program,
        "notes": facts.note_count,
        "lowest": _sound(song, facts.lowest),
        "highest": _sound(song, facts.highest),
        **on_wheel,
    }


def _sound(song: SongFacts, sound: SoundCount | None) -> dict[str, Json] | None:
    if sound is None:
        return None
    return {"pitch_midi": sound.pitch_midi, "pitch": note_name(song.score, sound.note), "notes": sound.count}
