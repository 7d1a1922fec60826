"""Quiet pieces, and the round that closes the evening."""

from __future__ import annotations

from notation import CHIMES, DRUMS, LOW_CHIMES, PLUCKED_BASS, UPRIGHT_BASS, Piece, Voice, lines, times

LIGHTHOUSE = Piece(
    file="lullaby-for-a-lighthouse.mid",
    title="Lullaby for a Lighthouse",
    metre=(4, 4),
    fifths=0,
    mode="major",
    tempo=63,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[p] E5h G5q E5 | C5h. D5q | F5q. G5e A5q F5 | G5h. -q",
                "E5h G5q C6 | A5h. G5q | F5q. E5e D5q G5 | E5w",
                "[mp] A5h C6q A5 | G5h E5q G5 | [p] F5q E5 D5h | [pp] C5w",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[pp] -e G4 C5 G4 - G4 C5 G4 | - A4 E5 A4 - A4 E5 A4 | - A4 C5 A4 - A4 C5 A4 | - G4 B4 G4 - G4 B4 G4",
                "-e G4 C5 G4 - G4 C5 G4 | - A4 E5 A4 - A4 E5 A4 | - A4 D5 A4 - G4 B4 G4 | - G4 C5 G4 - G4 C5 G4",
                "-e A4 C5 A4 - A4 C5 A4 | - G4 C5 G4 - G4 C5 G4 | - A4 D5 A4 - G4 B4 G4 | - G4 E5 G4 -h",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[p] C3h G2h | A2 E3 | F3 C3 | G2 D3 | C3 G2 | A2 E3 | D3 G2 | C3 G2",
                "F3h C3h | E3 C3 | D3 G2 | C3w",
            ),
        ),
        Voice("Percussion", DRUMS, "[pp] " + times(3, lines("TRq TRq -h", times(3, "_")))),  # two flashes and dark
    ),
)

EVENING_SANDS = Piece(
    file="the-sands-at-evening.musicxml",
    title="The Sands at Evening",
    metre=(3, 4),
    fifths=0,
    mode="dorian",
    tempo=76,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[p] D5q. E5e F5q | A5h G5e F5 | G5q. C5e E5q | ~h.",
                "D5q. E5e F5q | A5h C6q | B5e. A5s G5q D5q | A5h.",
                "[mf] C6q. B5e A5q | G5q E5q. G5e | A5q. G5e F5q | E5h C5q",
                "[p] D5q. E5e F5q | A5t B5t A5e. C6q A5q | G5e F5 E5q C5q | D5h.",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[pp] -q A4 - | - C5 - | - G4 - | - A4 C5 | - A4 - | - C5 F5 | - B4 - | - C5 E5",
                "[p] -q C5 F5 | - C5 - | - A4 D5 | - A4 - | [pp] - A4 - | - C5 F5 | - G4 - | - A4 -",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[p] D3h A2q | F3h C3q | C3h G2q | A2h E3q | D3h A2q | F3h C3q | G2h D3q | A2h E3q",
                "[mp] F3h C3q | C3h E3q | D3h F3q | A2h G2q | [p] D3h A2q | F3h C3q | C3h A2q | D3h.",
            ),
        ),
    ),
)

ROWING_BOAT = Piece(
    file="rowing-boat-barcarolle.mid",
    title="Rowing-Boat Barcarolle",
    metre=(6, 8),
    fifths=1,
    mode="major",
    tempo=84,
    tempo_beat="q.",
    midi_format=0,
    division=384,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[mp] B5q. G5q A5e | B5q. E5q. | E5q G5e C6q G5e | A5h.",
                "B5q. G5q A5e | B5q. D6q B5e | C6q A5e F#5q A5e | G5h.",
                "[mf] E5q G5e C6q. | B5q G5e D6q. | C6q A5e G5q E5e | F#5q A5e D5q.",
                "[mp] B5q. G5q A5e | C6q. E5q G5e | A5q F#5e E5q F#5e | [p] G5h.",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            "[p] "
            + lines(
                "-e B4 D5 - B4 D5 | - G4 B4 - G4 B4 | - G4 C5 - G4 C5 | - A4 D5 - A4 D5",
                "-e B4 D5 - B4 D5 | - G4 B4 - G4 B4 | - A4 C5 - A4 D5 | - B4 D5 - B4 D5",
                "-e G4 C5 - G4 C5 | - B4 D5 - B4 D5 | - A4 C5 - A4 C5 | - A4 C5 - A4 C5",
                "-e B4 D5 - B4 D5 | - G4 C5 - G4 C5 | - A4 C5 - A4 C5 | - B4 D5 B4q.",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[mp] G2q. D3q. | E3 G2 | C3 G2 | D3 A2 | G2 D3 | E3 G2 | A2 D3 | G2 D3",
                "C3q. E3q. | G2 D3 | A2 E3 | D3 A2 | G2 D3 | C3 E3 | D3 D3 | G2h.",
            ),
        ),
        Voice("Percussion", DRUMS, "[pp] " + lines(times(15, "WBq. -q WBe"), "TRh.")),
    ),
)

# The round's three strains fit over one ground. Each keeps to its own register, so that no two
# voices ever want the same bar at the same moment.
_STRAIN_1 = "E5q D5e E5 G5q E5q | F5q A5 G5 D5 | E5q C5 F5e E5 D5 C5 | D5e E5 F5 D5 E5h"
_STRAIN_2 = "C6q. B5e C6q G5q | A5q C6 B5 D6 | C6e B5 A5q C6q A5q | B5q D6q C6h"
_STRAIN_3 = "G4h C5h | A4 B4 | C5 A4 | B4 G4"
_SILENT = "_ | _ | _ | _"

ROUND = Piece(
    file="round-the-pier-and-back.mxl",
    title="Round the Pier and Back",
    metre=(4, 4),
    fifths=0,
    mode="major",
    tempo=104,
    voices=(
        Voice("Chimes I", CHIMES, "[mf] " + times(2, lines(_STRAIN_1, _STRAIN_2, _STRAIN_3))),
        Voice("Chimes II", CHIMES, lines(_SILENT, "[mf] " + _STRAIN_1, _STRAIN_2, _STRAIN_3, _STRAIN_1, _STRAIN_2)),
        Voice("Chimes III", CHIMES, lines(_SILENT, _SILENT, "[mf] " + _STRAIN_1, _STRAIN_2, _STRAIN_3, _STRAIN_1)),
        Voice("Bass", UPRIGHT_BASS, "[mp] " + times(6, "C3h E3h | F3 G2 | A2 F3 | G2 C3")),
        Voice(
            "Percussion",
            DRUMS,
            "[p] "
            + lines(
                lines("TRq -h.", times(3, "_")),
                lines("BD+TRq WBq BDq WBq", times(3, "BDq WB BD WB")),
                times(4, lines("BD+TRq WBq TBq WBe WBe", times(3, "BDq WBq TBq WBe WBe"))),
            ),
        ),
    ),
)

PIECES = (LIGHTHOUSE, EVENING_SANDS, ROWING_BOAT, ROUND)
