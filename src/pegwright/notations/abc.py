"""ABC made ready for music21: one tune, voice by voice, without what the library misreads.

Source: the ABC music standard 2.1 (2011), cited by section.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction

from pegwright.errors import InputError, check_limit
from pegwright.findings import Notices
from pegwright.musicxml.parts import clean
from pegwright.notations.abc_fields import KeyField, key_field, metre_text, note_length, tempo_quarters
from pegwright.notations.losses import NotationLoss
from pegwright.notations.prepared import Drums, PartExtra, Prepared

_FIELD = re.compile(r"([A-Za-z]):(.*)")
_MIDI = re.compile(r"(?:%%|I:)\s*MIDI\s+(\w+)\s*(.*)", re.IGNORECASE)
_PROPAGATION = re.compile(r"(?:%%|I:)\s*propagate-accidentals\s+(not|octave|pitch)\b")  # 11.3
_VOICE = re.compile(r"\s*(\S+)\s*(.*)")
_NAME = re.compile(r"""(?:^|\s)(?:name|nm)\s*=\s*(?:"([^"]*)"|(\S+))""")
_JUMP = re.compile(r"\bd\.?\s?[cs]\b|\bda capo\b|\bdal segno\b|\bfine\b|\bcoda\b|\bsegno\b|^D\.[CS]\.", re.IGNORECASE)
_LOST_SIGNS = {  # the last of each row are letters: 4.14, their usual meanings
    NotationLoss.JUMPS: "dacapo dacoda fine segno coda D.C. D.S. O S",
    NotationLoss.ORNAMENTS: "trill trill( lowermordent uppermordent mordent pralltriller roll turn turnx invertedturn "
    "invertedturnx / // /// //// -/ -// -/// slide ~ M P T",
    NotationLoss.FERMATAS: "fermata invertedfermata H",
    NotationLoss.ARPEGGIOS: "arpeggio",
}
_LOSSES = {sign: loss for loss, signs in _LOST_SIGNS.items() for sign in signs.split()}
_TOKEN = re.compile(
    r"""
    "(?P<text>[^"]*)" | !(?P<sign>[^!|\s]+)! | \+(?P<old_sign>[a-z]{4,}|D\.[CS]\.)\+
    | \[(?P<field>[A-Za-z]):(?P<value>[^\]]*)\] | \{(?P<graces>[^}]*)\}
    | (?P<bars>[ZX])(?P<count>\d*) | (?P<letter>[H-Wh-w~]) | (?P<spacer>y[\d/]*) | (?P<overlay>&)
    | (?P<tuplet>\(\d(?::\d*){0,2}) | (?P<slur>[().])
    | (?P<line>\[\|\] | \.?[:|\[\]]*[|:][|:\]]* (?:\[?(?P<ending>[1-9][0-9,\-]*))? | \[(?P<bare>[1-9][0-9,\-]*))
    | (?P<named>\[(?="[^"]*"[^\]]*\|)) | (?P<chord>\[[^\]|:]*\][\d/]*) | (?P<rest>.)
    """,
    re.VERBOSE,
)
_NOTES = re.compile(r"[A-Ga-g]")
_LENGTHS = re.compile(r"[A-Ga-gxyzXZ\]][,']*([0-9]+)")
MAX_LENGTH = 9_999  # of one note or rest, in unit lengths or bars: music21 takes minutes over a song much longer


@dataclass(slots=True)
class _Voice(PartExtra):
    """One voice as it comes together.

    Args:
        lines: fields and music.
        unit: quarters of a note without a length.
        bar: quarters of a bar.
        dropping: inside an overlay, which ends with the bar.
    """

    lines: list[str] = field(default_factory=list)
    unit: Fraction = Fraction(1, 2)
    bar: Fraction = Fraction(4)
    dropping: bool = False

    @property
    def unit_text(self) -> str:
        """The unit as a part of a whole note."""
        return f"{(self.unit / 4).numerator}/{(self.unit / 4).denominator}"

    def modify(self, key: KeyField) -> None:
        """Take in how a key or voice field shifts the pitch; one that says nothing changes nothing."""
        if key.semitones is not None:
            self.semitones = key.semitones
        if key.percussion:
            self.drums = Drums.KEYS


def prepare_abc(text: str, file: str) -> Prepared:
    """The first tune of a text.

    Args:
        text: lines end in a line feed.
        file: for messages.

    Raises:
        InputError: the tune holds no note, or one of a length that nobody means.
    """
    losses = Notices(NotationLoss, file)
    tune = _Tune(losses)
    for line in _first_tune(text, losses):
        tune.take_line(line)
        if not _FIELD.match(line):
            longest = max((int(length[:9]) for length in _LENGTHS.findall(line)), default=0)
            check_limit(longest, MAX_LENGTH, "unit lengths in one note or rest", file, "correct its length")
    prepared = tune.prepared()
    if not prepared.note_count:
        raise InputError("the tune holds no note", where=file, hint="check that this is the right file")
    return prepared


def _first_tune(text: str, losses: Notices) -> list[str]:
    """Lines of the first tune, fields of the file's header before it; 2.2: an empty line ends a tune."""
    lines = text.split("\n")
    starts = [place for place, line in enumerate(lines) if re.match(r"X:\s*\d", line)] or [0]
    losses.add(NotationLoss.TUNES, len(starts) - 1)
    header = [line for line in lines[: starts[0]] if _FIELD.match(line) or line.startswith("%%")]
    own = lines[starts[0] : starts[1] if len(starts) > 1 else len(lines)]
    blocks = "\n".join(own).strip("\n").split("\n\n")
    kept = blocks[:1]
    for block in blocks[1:]:
        if re.search(r"\|.*\||^K:", block, re.DOTALL | re.MULTILINE):  # music after a stray empty line
            kept.append(block)
        else:
            losses.add(NotationLoss.FREE_TEXT, sum(bool(line.strip()) for line in block.split("\n")))
    tune = "\n".join(kept).split("\n")
    return [tune[0], *header, *tune[1:]]


class _Tune:
    """Takes in a tune line by line and sorts its music by voices."""

    def __init__(self, losses: Notices) -> None:
        self._losses = losses
        self._title = ""
        self._voices: dict[str, _Voice] = {}
        self._common = _Voice()  # what holds for all voices: the header's key, metre and unit
        self._current = self._common
        self._in_body = False
        self._metre = ""
        self._unit_stated = False
        self._key = "C"
        self._propagation = "pitch"  # the standard's default: in all octaves, to the end of the bar
        self._tempo: Fraction | None = None
        self._note_count = 0
        self._tie_count = 0

    def take_line(self, line: str) -> None:
        """Take in the next line."""
        if midi := _MIDI.match(line):
            self._midi(midi[1].lower(), midi[2])
            return
        if propagation := _PROPAGATION.match(line):
            self._propagation = propagation[1]
        line = re.sub(r"(?<!\\)%.*", "", line)
        if field := _FIELD.match(line):
            self._field(field[1], field[2].strip())
        elif self._in_body and line.strip() and not line.startswith(("+:", "w:", "W:", "s:")):
            self._music(line)

    def prepared(self) -> Prepared:
        """The tune so far, ready for the library."""
        voices = [
            voice
            for voice in self._voices.values()
            if any(_NOTES.search(line) for line in voice.lines if not _FIELD.match(line))
        ]
        lines = ["%abc-2.1", "X:1", f"%%propagate-accidentals {self._propagation}", f"T:{self._title}"]
        lines += [f"M:{self._metre}"] if self._metre else []
        # The unit is always written out, so that the library need not find a default.
        lines += [f"L:{self._common.unit_text}", f"K:{self._key}"]
        for number, voice in enumerate(voices, start=1):
            lines += [f"V:{number}", *voice.lines] if len(voices) > 1 else voice.lines
        text = "\n".join(lines) + "\n"
        return Prepared(text, self._note_count, self._tie_count, self._losses, self._title, voices, tempo=self._tempo)

    # Fields

    def _field(self, name: str, value: str) -> None:
        if name == "V":
            self._switch(value)
        elif name == "K":
            self._take_key(key_field(value))
            self._in_body = True
        elif name == "M":
            self._take_metre(value)
        elif name == "L":
            if unit := note_length(value):
                self._unit_stated = True
                self._current.unit = unit
                self._add_field(f"L:{self._current.unit_text}")
        elif name == "Q":
            self._take_tempo(value)
        elif name == "T":
            self._title = self._title or clean(value)
        elif name == "P" and not self._in_body:
            self._losses.add(NotationLoss.PART_ORDER, len(re.findall(r"[A-Za-z]", value)) > 1)

    def _add_field(self, line: str) -> None:
        if self._in_body:
            self._voice().lines.append(line)

    def _voice(self) -> _Voice:
        if self._current is self._common:
            self._switch("1")
        return self._current

    def _switch(self, value: str) -> None:
        stated = _VOICE.match(value)
        if not stated:
            return
        if stated[1] not in self._voices:
            self._voices[stated[1]] = replace(self._common, lines=[])
        voice = self._voices[stated[1]]
        if named := _NAME.search(stated[2]):
            voice.name = clean(named[1] or named[2])
        voice.modify(key_field(stated[2]))
        if self._in_body:
            self._current = voice

    def _take_key(self, key: KeyField) -> None:
        self._losses.add(NotationLoss.KEY, key.has_accidentals)
        self._current.modify(key)
        if key.key and not self._in_body:
            self._key = key.key
        elif key.key:
            self._add_field(f"K:{key.key}")

    def _take_metre(self, value: str) -> None:
        metre = metre_text(value)
        if metre is None:
            return
        text, quarters = metre
        if not self._in_body:
            self._metre = text
            if not self._unit_stated:  # 3.1.7: a 16th where the metre is less than 3/4, else an eighth
                self._common.unit = Fraction(1, 4) if quarters < 3 else Fraction(1, 2)
        self._current.bar = quarters
        self._add_field(f"M:{text}")

    def _take_tempo(self, value: str) -> None:
        tempo = tempo_quarters(value, self._current.unit)
        if tempo is None:
            return
        if self._note_count:
            self._losses.add(NotationLoss.TEMPO, tempo != self._tempo)
        else:
            self._tempo = tempo

    def _midi(self, command: str, rest: str) -> None:
        """What is usual in ABC files for playing them: from memory of abc2midi's directives, no standard."""
        number = re.match(r"-?\d+", rest)
        if command == "transpose" and number:
            self._current.semitones = max(-60, min(60, int(number[0])))
        elif command == "channel" and number and int(number[0]) == 10:
            self._current.drums = Drums.KEYS
        elif command in ("drummap", "percmap"):
            self._losses.add(NotationLoss.DRUM_MAPS)

    # Music

    def _music(self, line: str) -> None:
        self._voice()
        line = line.rstrip().removesuffix("\\")
        out: list[str] = []
        for token in _TOKEN.finditer(line):
            if token["field"]:
                self._flush(out)
                self._field(token["field"], token["value"].strip())
                self._voice()
            elif token["line"]:
                self._current.dropping = False
                out.append(self._bar_line(token))
            elif token["overlay"]:
                self._current.dropping = True
            elif self._current.dropping:
                self._losses.add(NotationLoss.OVERLAYS, len(_NOTES.findall(token["rest"] or token["chord"] or "")))
            else:
                out.append(self._token(token))
        self._flush(out)

    def _flush(self, out: list[str]) -> None:
        music = "".join(out).strip()
        out.clear()
        if music:
            self._losses.add(NotationLoss.CHORD_TIES, len(re.findall(r"\[[^\]|]*\][\d/]*-|\[[^\]|]*-[^\]|]*\]", music)))
            self._note_count += len(_NOTES.findall(music))
            self._tie_count += len(re.findall(r"[A-Ga-g][,']*[\d/]*-", re.sub(r"\[[^\]|]*\]", "", music)))
            lines = self._current.lines
            if music[0] in ":|[" and lines and re.search(r"[^:|]\|$", lines[-1]) and not _FIELD.match(lines[-1]):
                lines[-1] = lines[-1][:-1]  # two bar lines with only the end of a line between them
            lines.append(music)

    def _token(self, token: re.Match[str]) -> str:
        """What the library gets in place of one token."""
        sign = token["sign"] or token["old_sign"] or token["letter"]
        if token["text"] is not None:
            self._losses.add(NotationLoss.JUMPS, bool(_JUMP.search(token["text"].lstrip("_^<>@ "))))
        elif sign in _LOSSES:
            self._losses.add(_LOSSES[sign])
        elif token["named"]:
            self._losses.add(NotationLoss.ENDINGS)
        elif token["graces"] is not None:
            self._losses.add(NotationLoss.GRACE_CHORDS, token["graces"].count("["))
            inside = re.sub(r"[^A-Ga-g,'=_^\d/]", "", token["graces"])
            return f"{{{inside}}}" if _NOTES.search(inside) else ""
        elif token["bars"]:
            rest = f"z{self._current.bar / self._current.unit}"
            return "|".join([rest] * min(int(token["count"][:4] or 1), 1000))
        elif not (sign or token["spacer"] or token["slur"]):
            return token[0]  # slurs and dots would part a broken rhythm's sign from its notes
        return ""

    def _bar_line(self, token: re.Match[str]) -> str:
        """A bar line in the forms that the library knows, with the number of an ending."""
        line, number = token["line"], token["ending"] or token["bare"] or ""
        if line == "[|]":
            return ""
        if number:
            self._losses.add(NotationLoss.ENDINGS, number not in ("1", "2"))
            line = line[: -len(number)].rstrip("[")
        ends, begins = re.search(r":+[|\]]|^:+$", line), re.search(r"\|\]?\[?:+$|^:{2,}$", line)
        self._losses.add(NotationLoss.TIMES, "|::" in line or line.startswith("::|"))
        if ends:
            plain = ":| |:" if begins else ":|"
        elif begins:
            plain = "|:"
        elif "|]" in line or "[|" in line:
            plain = "|]"
        elif "||" in line:
            plain = "||"
        else:
            plain = "|" if line else ""
        return f"{plain}[{number[0]} " if number else plain
