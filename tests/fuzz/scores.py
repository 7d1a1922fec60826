"""Scores at random, sound and broken: MIDI, MusicXML and packed MusicXML."""

from __future__ import annotations

import io
import random
import zipfile

import midi_bytes as midi
import musicxml_text as xml
from commands import SONGS
from fuzz.mutate import mutated_bytes, mutated_markup

NAMES = "CDEFGAB"
CONTAINER = (
    '<container><rootfiles><rootfile full-path="score.xml" '
    'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>'
)


def midi_file(chance: random.Random) -> bytes:
    """A MIDI file; of three, one sound one, one broken one and one broken one of the bundled songs."""
    if chance.random() < 1 / 3:
        return mutated_bytes(chance.choice(sorted(SONGS.glob("*.mid"))).read_bytes(), chance)
    division = chance.choice((1, 4, 24, 96, 480, 32767, 0xE728, 0xE350, 0))
    bodies = [_track(chance) for _ in range(chance.choice((0, 1, 1, 2, 3)))]
    data = midi.midi_file(*bodies, form=chance.choice((0, 1, 1, 2)), division=division)
    return mutated_bytes(data, chance) if chance.random() < 0.5 else data


def _track(chance: random.Random) -> bytes:
    events = []
    longest = chance.choice((2, 50, 500, 200_000))
    for _ in range(chance.choice((0, 3, 30, 200))):
        delta, pitch, channel = chance.randrange(longest), chance.randrange(128), chance.choice((0, 0, 1, 9))
        match chance.randrange(12):
            case 0:
                events.append(midi.tempo(delta, chance.choice((1, 250_000, 500_000, 0xFFFFFF))))
            case 1:
                events.append(midi.metre(delta, chance.choice((0, 1, 4, 7, 255)), chance.choice((0, 2, 3, 6, 200))))
            case 2:
                events.append(midi.program(delta, chance.randrange(128), channel))
            case 3:
                events.append(midi.name(chance.choice((b"", b"Bass", b"\xff\xfe", b"=1+1", b"\x1b[2J" * 20))))
            case 4:
                events.append(midi.on(delta, pitch, chance.choice((0, 1, 127)), channel))
            case 5:
                events.append(midi.off(delta, pitch, channel))
            case _:
                events.append(midi.note(delta, chance.choice((0, 1, 12, 480, 100_000)), pitch, channel))
    return b"".join(events) + midi.END


def musicxml(chance: random.Random) -> bytes:
    """A MusicXML file; of three, one sound one, one broken one and one broken one of the bundled songs."""
    if chance.random() < 1 / 3:
        return mutated_markup(chance.choice(sorted(SONGS.glob("*.musicxml"))).read_bytes(), chance)
    divisions = chance.choice((1, 4, 7, 480))
    lines = xml.attributes(f"<divisions>{divisions}</divisions>{chance.choice((xml.FOUR_FOUR, ''))}")
    bars = [xml.bar(*_bar(chance, divisions), number=number + 1) for number in range(chance.randint(1, 12))]
    data = xml.score([bars[0].replace(">", f">{lines}", 1), *bars[1:]])
    return mutated_markup(data, chance) if chance.random() < 0.5 else data


def _bar(chance: random.Random, divisions: int) -> list[str]:
    content = []
    for _ in range(chance.randint(0, 10)):
        duration = chance.choice((0, 1, divisions, 2 * divisions, 3 * divisions + 1))
        name = f"{chance.choice(NAMES)}{chance.randrange(10)}"
        match chance.randrange(14):
            case 0:
                content.append(xml.rest(duration))
            case 1:
                content.append(xml.backup(chance.choice((duration, 1000 * divisions))))
            case 2:
                content.append(xml.forward(duration))
            case 3:
                content.append(xml.repeat(chance.choice(("forward", "backward"))))
            case 4:
                content.append(xml.ending(chance.choice(("1", "2", "1,2")), chance.choice(("start", "stop"))))
            case 5:
                jumps = ('dacapo="yes"', 'fine="yes"', 'dalsegno="a"', 'segno="a"', 'tocoda="b"', 'coda="b"')
                content.append(xml.sound(chance.choice((*jumps, 'tempo="0"', 'tempo="1e9"', 'tempo="72.5"'))))
            case 6:
                content.append(xml.note(name, duration, xml.tie(chance.choice(("start", "stop")))))
            case 7:
                content.append(xml.note(name, duration, before="<chord/>"))
            case 8:
                content.append(xml.words(chance.choice(("D.C. al Fine", "Fine", "M. D. C.", "To Coda", "swing"))))
            case _:
                content.append(xml.note(name, duration))
    return content


def packed(chance: random.Random) -> bytes:
    """A packed MusicXML file, sound or broken."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", chance.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))) as archive:
        archive.writestr("META-INF/container.xml", CONTAINER)
        archive.writestr(chance.choice(("score.xml", "score.xml", "../score.xml")), musicxml(chance))
    data = out.getvalue()
    return mutated_bytes(data, chance) if chance.random() < 0.3 else data
