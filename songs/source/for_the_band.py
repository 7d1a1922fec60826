"""Marches and quick dances: what the Pavilion's band plays at noon."""

from __future__ import annotations

from notation import CHIMES, DRUMS, LOW_CHIMES, PLUCKED_BASS, UPRIGHT_BASS, Piece, Voice, lines, times

_MARCH_BEAT = "BDq SNe SNs SNs BDq SNq"
_MARCH_TRIO = "BD+TRq SNq BDq SNe SNe"

LAMPLIGHTERS = Piece(
    file="lamplighters-march.mid",
    title="Lamplighters' March",
    metre=(4, 4),
    fifths=0,
    mode="major",
    tempo=112,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                # Question: I, IV, I, and a half close on V. Its pickup of two 32nds ends on a seam.
                "[f] G5q! E5e. F5s G5q C6q | A5q F5e. G5s A5q C6q | G5e. F5s E5e F5 G5q E5q",
                "A5e. G5s F#5e. A5s G5q D5e. E5t F#5t",
                # Answer: the same opening, then up to the sixth and home.
                "G5q! E5e. F5s G5q C6q | A5q F5e. G5s A5q D6q | C6e. A5s G5e E5 D5e. F5s E5e D5 | C5q G5e. E5s C5q -q",
                # Trio: a falling sequence, then the whole scale up to the close.
                "[mf] F5e A5 C6 A5 F5q A5q | E5e G5 C6 G5 E5q G5q | [f] D5e F5 A5 F5 G5e. A5s B5e. D6s",
                "C6q! G5e. A5s C6q -q",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[mp] -q G4+C5q -q G4+C5q | -q A4+C5q -q A4+C5q | -q G4+C5q -q G4+C5q | -q A4+D5q -q G4+B4q",
                "-q G4+C5q -q G4+C5q | -q A4+C5q -q A4+D5q | -q G4+C5q -q G4+B4q | -q G4+C5q -h",
                "[p] A4h C5h | G4h C5h | A4h B4h | C5q -q E5q -q",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[mf] C3q - G2 - | F3 - C3 - | E3 - C3 - | D3 - G2 -",
                "C3q - G2 - | F3 - D3 - | G2 - G2 - | C3 G2 C3 -",
                "F3q - C3 - | C3 - E3 - | D3 - G2 - | C3 G2 C3 -",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[mf] "
            + lines(
                times(3, _MARCH_BEAT),
                "BDq SNe SNs SNs BDq SNe SNe",
                times(3, _MARCH_BEAT),
                "BDq SNq BDq -e. SNt SNt",  # the drag: its second 32nd is the last of plate 4
                times(3, _MARCH_TRIO),
                "BDq SNq BD+TRq -q",
            ),
        ),
    ),
)

SHRIMPERS = Piece(
    file="shrimpers-jig.mid",
    title="The Shrimpers' Jig",
    metre=(6, 8),
    fifths=1,
    mode="mixolydian",
    tempo=156,
    tempo_beat="q.",
    division=96,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[mf] D5e! F#5 A5 B5 A5 F#5 | G5 E5 C5 E5 G5 E5 | D5! F#5 A5 B5 A5 F#5 | E5 F#5 G5 E5q C5e",
                "D5e! F#5 A5 B5 A5 F#5 | G5 E5 C5 E5 G5 C6 | B5 A5 G5 A5 G5 E5 | F#5q E5e D5q.",
                "[f] D6e! C6 A5 F#5 A5 C6 | B5! A5 G5 D5 G5 B5 | C6! B5 G5 E5 G5 C6 | A5 G5 E5 F#5q A5e",
                "D6e! C6 A5 F#5 A5 C6 | B5! A5 G5 D5 G5 B5 | A5 G5 E5 G5 E5 C5 | D5q F#5e D5q.!",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                times(8, "_"),
                "[mp] A4q. D5q. | B4 G4 | C5 G4 | C5 A4 | A4 D5 | B4 G4 | C5 G4 | A4 A4",
            ),
        ),
        Voice(
            "Bass",
            UPRIGHT_BASS,
            lines(
                "[mf] D3q. A2q. | C3 G2 | D3 A2 | C3 G2 | D3 A2 | C3 G2 | G2 A2 | D3 D3",
                "D3q. A2q. | G2 D3 | C3 G2 | A2 D3 | D3 A2 | G2 D3 | A2 C3 | D3 D3",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[mp] "
            + lines(
                times(7, "BDq WBe SNq WBe"),
                "BDq SNe BDq.",
                times(7, "BDq WBe SN+TBq WBe"),
                "BDq SNe BDq.",
            ),
        ),
    ),
)

PIER_MASTER = Piece(
    file="pier-masters-hornpipe.mid",
    title="The Pier Master's Hornpipe",
    metre=(4, 4),
    fifths=1,
    mode="major",
    tempo=116,
    division=960,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[f] G5e. F#5s G5e. A5s B5q! G5q | C6e. B5s A5e. G5s F#5q! D5q",
                "D5e. E5s G5e. B5s A5e. G5s E5e. G5s | A5q F#5q D5q! -q",
                "G5e. F#5s G5e. A5s B5q! G5q | E5e. G5s C6e. B5s A5q! E5q",
                "3:2(B4e D5 G5) B5e. A5s G5e. F#5s E5e. F#5s | G5q! G5q G5q -q",
                "[mf] B5e. E5s G5e. B5s A5e. G5s F#5e. E5s | A5e. D5s F#5e. A5s G5e. F#5s E5e. D5s",
                "[f] E5e. G5s C6e. E5s F#5e. A5s D6e. C6s | B5q! G5q G5q -q",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[mp] B4h D5h | C5h A4h | B4h C5h | -q D5q A4q -q",
                "B4h D5h | C5h A4h | -q D5q C5q A4q | B4q B4q B4q -q",
                "G4h C5h | A4h B4h | C5h A4h | D5q B4q B4q -q",
            ),
        ),
        Voice(
            "Bass",
            UPRIGHT_BASS,
            lines(
                "[mf] G2q - D3 - | A2 - D3 - | G2 - C3 - | D3 A2 D3 -",
                "G2q - D3 - | C3 - A2 - | G2 - D3 - | G2 D3 G2 -",
                "E3q - A2 - | D3 - G2 - | C3 - D3 - | G2 D3 G2 -",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[mp] "
            + times(
                3,
                lines(
                    times(3, "BDe. WBs WBe. WBs BDe. WBs WBe. WBs"),
                    "BDq BD+TBq BD+TBq -q",
                ),
            ),
        ),
    ),
)

DONKEY = Piece(
    file="donkey-ride-polka.mxl",
    title="Donkey Ride Polka",
    metre=(2, 4),
    fifths=0,
    mode="major",
    tempo=116,
    repeats={0: ("open",), 7: ("ending 1", "close"), 8: ("ending 2",)},
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[mf] G5s F#5 G5 A5 G5e E5 | G5s F#5 G5 A5 G5e C6 | B5s A5 G5 F5 D5e F5 | E5 G5 C5q",
                "G5s F#5 G5 A5 G5e E5 | A5s G5 A5 B5 C6e A5 | G5s A5 G5 F5 D5e B4",
                "C5e E5 G5q",
                "C5e G5 C6q!",
                "[f] D6e! B5s C6 D6e B5 | A5s G5 A5 B5 G5q | A5e! F#5s G5 A5e D5 | B5s A5 G5 F#5 G5q",
                "A5e! F5s G5 A5e C6 | G5e! E5s F5 G5e C6 | B5s C6 D6 B5 G5 A5 B5 G5 | C6e G5 C6q!",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[mp] " + times(2, "-e G4+C5e -e G4+C5e"),
                "-e G4+B4 -e G4+B4 | -e G4+C5 -e G4+C5 | -e G4+C5 -e G4+C5 | -e A4+C5 -e A4+C5 | -e G4+B4 -e G4",
                "-e G4+C5e -e D5e",
                "-e C5e E5q",
                times(2, "-e G4+B4e -e G4+B4e"),
                "-e A4+D5 -e A4 | -e G4+B4 -e G4+B4 | -e A4+C5 -e A4+C5 | -e G4+C5 -e G4+C5 | -e G4+B4 -e G4+B4",
                "-e C5e E5q",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[mf] " + times(2, "C3e - G2 -"),
                "G2e - D3 - | C3 - G2 - | C3 - G2 - | F3 - C3 - | G2 - D3 -",
                "C3e - G2 -",
                "C3e G2 C3q",
                times(2, "G2e - D3 -"),
                "D3e - A2 - | G2 - D3 - | F3 - C3 - | E3 - C3 - | G2 - D3 - | C3 G2 C3q",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[mp] "
            + lines(
                times(7, "BDe WBs WB BDe WBe"),  # hooves
                "BDe SN BD SN",
                "BDe SN BDq",
                times(7, "BDe SN BD SNs SN"),
                "BDe SN BD+TRq",
            ),
        ),
    ),
)

ROCKET = Piece(
    file="penny-rocket-galop.musicxml",
    title="Penny Rocket Galop",
    metre=(2, 4),
    fifths=0,
    mode="major",
    tempo=132,
    repeats={7: ("fine",), 15: ("da capo",)},
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[f] C6e! G5s A5 G5e E5 | C6s B5 C6 D6 C6e G5 | A5e! F5s G5 A5e C6 | G5e E5 C5q",
                "D5s E5 F5 G5 A5e F5 | E5s F5 G5 A5 G5e C6 | D5e G5 B5 D6 | C6e G5 C6q!",
                "[mf] B5e G5s A5 B5e D6 | A5e F#5s G5 A5e D6 | G5e E5s F#5 G5e C6 | F#5q D5q",
                "G5e D5s E5 G5e B5 | C6e A5s B5 C6e E5 | D6s C6 B5 A5 F#5e A5 | [f] G5e F5s E5 D5e B4",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[mp] " + times(2, "-e G4+C5e -e G4+C5e"),
                "-e A4+C5 -e A4+C5 | -e G4+C5 -e G4 | -e A4 -e A4 | -e G4+C5 -e G4+C5 | -e G4+B4 -e G4+B4 | -e C5 E5q",
                "-e G4+B4 -e G4+B4 | -e A4+D5 -e A4+D5 | -e G4+C5 -e G4+C5 | -e A4 -e A4",
                "-e G4+B4 -e G4+B4 | -e A4+C5 -e A4+C5 | -e A4+D5 -e A4+D5 | -e G4+B4 -e G4",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[mf] C3q G2 | C3 E3 | F3 C3 | C3 G2 | D3 A2 | C3 E3 | G2 D3 | C3e G2 C3q",
                "G2q D3 | D3 A2 | C3 E3 | D3 A2 | G2 D3 | A2 E3 | D3 A2 | G2 D3",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[mf] "
            + lines(
                times(7, "BDe SN BD SN"),
                "BDe SN BD+TRq",
                times(7, "BDe WBs WB BDe TB"),
                "BDe SNs SN SN SN SN SN",
            ),
        ),
    ),
)

PIECES = (LAMPLIGHTERS, SHRIMPERS, PIER_MASTER, DONKEY, ROCKET)
