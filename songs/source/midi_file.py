"""A piece as a Standard MIDI File."""

from __future__ import annotations

import io
from fractions import Fraction

import mido
from notation import LOUDNESS, Piece, Voice, midi_key

DRUM_CHANNEL = 9  # channel 10 of General MIDI
_MAJOR_KEYS = {-1: "F", 0: "C", 1: "G", 2: "D"}
_MINOR_KEYS = {-1: "Dm", 0: "Am", 1: "Em", 2: "Bm"}
_Timed = tuple[int, int, mido.Message]  # tick, rank within the tick, message


def midi_bytes(piece: Piece) -> bytes:
    """The whole file; a piece with repeats must be MusicXML, since MIDI has no repeat signs."""
    if piece.repeats:
        raise ValueError(f"{piece.title}: repeats cannot be written in a MIDI file")
    end = _ticks(piece, sum((piece.bar_length(bar) for bar in range(_bar_count(piece))), Fraction(0)))
    tracks = [_conductor(piece), *(_voice(piece, number) for number in range(len(piece.voices)))]
    if piece.midi_format == 0:
        tracks = [[timed for track in tracks for timed in track if timed[2].type != "track_name" or timed[1] < 0]]
    file = mido.MidiFile(type=piece.midi_format, ticks_per_beat=piece.division, charset="utf-8")
    file.tracks.extend(_track(timed, end) for timed in tracks)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _bar_count(piece: Piece) -> int:
    return len(piece.bars(piece.voices[0]))


def _ticks(piece: Piece, quarters: Fraction) -> int:
    return round(quarters * piece.division)


def _conductor(piece: Piece) -> list[_Timed]:
    numerator, denominator = piece.metre
    keys = _MINOR_KEYS if piece.mode == "minor" else _MAJOR_KEYS  # MIDI knows no other modes
    messages = [
        mido.MetaMessage("track_name", name=piece.title),
        mido.MetaMessage("copyright", text="Pegwright project, MIT licence"),
        mido.MetaMessage("time_signature", numerator=numerator, denominator=denominator),
        mido.MetaMessage("key_signature", key=keys[piece.fifths]),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(piece.tempo)),
    ]
    return [(0, rank - len(messages), message) for rank, message in enumerate(messages)]


def _voice(piece: Piece, number: int) -> list[_Timed]:
    voice = piece.voices[number]
    channel = DRUM_CHANNEL if voice.sound.drums else number
    timed: list[_Timed] = [(0, 0, mido.MetaMessage("track_name", name=voice.name))]
    if not voice.sound.drums:
        timed.append((0, 1, mido.Message("program_change", channel=channel, program=voice.sound.program)))
    for onset, length, key, velocity in played(piece, voice):
        start, stop = _ticks(piece, onset), _ticks(piece, onset + length)
        timed.append((start, 3, mido.Message("note_on", channel=channel, note=key, velocity=velocity)))
        timed.append((stop, 2, mido.Message("note_off", channel=channel, note=key, velocity=64)))
    return timed


def played(piece: Piece, voice: Voice) -> list[tuple[Fraction, Fraction, int, int]]:
    """The notes a voice sounds, ties joined: (onset and length in quarters, key, velocity)."""
    notes: list[tuple[Fraction, Fraction, int, int]] = []
    bar_start, loudness = Fraction(0), LOUDNESS["mf"]
    for number, bar in enumerate(piece.bars(voice)):
        for event in bar:
            loudness = LOUDNESS[event.loudness] if event.loudness else loudness
            velocity = loudness - voice.sound.softer + 6 * (event.onset == 0) + 12 * event.accent
            if event.tied:
                count = len(event.names)
                notes[-count:] = [(at, length + event.length, key, loud) for at, length, key, loud in notes[-count:]]
            else:
                at = bar_start + event.onset
                notes.extend((at, event.length, midi_key(name), min(127, velocity)) for name in event.names)
        bar_start += piece.bar_length(number)
    return notes


def _track(timed: list[_Timed], end: int) -> mido.MidiTrack:
    track = mido.MidiTrack()
    now = 0
    for tick, _, message in sorted(timed, key=lambda item: item[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=end - now))
    return track
