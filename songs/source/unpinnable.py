"""Two pieces that no peg wheel of this sort can play whole: between them they meet every reason."""

from __future__ import annotations

from notation import CHIMES, DRUMS, LOW_CHIMES, PLUCKED_BASS, UPRIGHT_BASS, Piece, Voice, lines

COMMITTEE = Piece(
    file="the-committee-regrets.musicxml",
    title="The Committee Regrets",
    metre=(4, 4),
    fifths=0,
    mode="major",
    tempo=126,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                # The motion is put; its turn needs a bar the Pavilion does not own, and crosses a seam.
                "[f] C5q. G5e C6q G5 | B5e. A5s G5q F5e. E5s D5e. C#5t D5t",
                # Amendments in five and in seven.
                "5:4(C5s D5 E5 F5 G5) C6q! 5:4(C6s B5 A5 G5 F5) E5q | 7:8(D5t E5 F5 G5 A5 B5 C6) D6q! A5q F#5q",
                # Seconded, by everyone on the same bar; and a speech that dwells on one note.
                "G5q B5 D6 B5 | D6t! D6 D6 D6 D6 D6 D6 D6 D6q B5 G5",
                # The motion again, in thirds; the treasurer hurries below it.
                "[ff] C5q. G5e C6q G5 | A5e. G5s F5q B5e. A5s G5q",
                # A gloomy minute in the minor, with a lament on a flat.
                "[p] A5h G5q E5 | F5q E5 D5h | Bb5q! A5 G5e. F5s E5e D5",
                # Carried, by all the drums at once; then carried again after the wheel has come round.
                "[ff] E5+G5+C6q! D5+G5+B5 E5+G5+C6h! | E5+G5+C6q! D5+G5+B5 E5+G5+C6h! | C5+E5+G5+C6w!",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[mf] -q G4+C5 - G4+C5 | - G4+B4 - G4+B4 | - G4+C5 - G4+C5 | -h A4+D5q A4+D5",
                "G5q G5 G5 G5 | -q G4+B4 G4+B4 G4+B4 | E5q. B4e E5q C5 | C5e. B4s A4q D5e. C5s B4q",
                "[p] -q C5 C5 C5 | - A4 A4 A4 | - D5 C5 A4 | [ff] C5q B4 C5h | C5q B4 C5h | _",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[f] C3q - E3 - | G2 - B2 - | C3 - C3 - | D3 - D3 -",
                "G2q - G2 - | G2 - G2 - | C3 - E3 - | F3s F3 F3 F3 F3q G2s G2 G2 G2 G2q",
                "[mf] A2q - E3 - | D3 - A2 - | D3 - G2 - | [ff] C3q G2 C3h | C3q G2 C3h | C3w",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[f] "
            + lines(
                "BDq SN BD SN | BD SN BD SN | BD SN BD SN | BDq SNq BDq -e. SNt SNt",
                "BDq SN BD SN | SNt SN SN SN SN SN SN SN SNq BD SN | BD SN BD SN | BD SN BD SN",
                "[p] BDq - - - | BD - - - | BD - TR -",
                "[ff] BD+SN+TB+TRq! BDq BD+SN+TB+TRh! | BD+SN+TB+TRq! BDq BD+SN+TB+TRh! | BD+SN+TB+TRw!",
            ),
        ),
    ),
)

LOW_WATER = Piece(
    file="low-water-slowly.mid",
    title="Low Water, Slowly",
    metre=(4, 4),
    fifths=0,
    mode="dorian",
    tempo=22,  # so slow that two pins of one channel can be far enough apart in time and still touch
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[mp] D5h A5h | G5q. F5e E5h | D6t C6 A5s G5e A5q -h | F5q. E5e D5h",
                "A5h C6h | B5q. A5e G5h | D6t C6 A5s G5e F5q -h | E5q. F5e D5h",
                "[mf] C6h 5:4(A5s G5 F5 E5 D5) F5q | G5h E5q C#5 | [mp] D6t C6 A5s F5e E5q D5h | C5q. E5e D5h",
                "[pp] A4+D5w",
            ),
        ),
        Voice(
            "Echo",
            LOW_CHIMES,
            lines(
                # The echo says the same figure in thirds of an eighth: its second note comes a 48th after the tune's.
                "[p] _ | _ | 3:2(F5s C6 G5) F5e -q -h | -h F5h",
                "A5h E5h | _ | 3:2(F5s C6 G5) F5e -q -h | -h F5h",
                "_ | _ | 3:2(F5s D3 G5) C6e -q -h | _ | _",
            ),
        ),
        Voice(
            "Bass",
            UPRIGHT_BASS,
            lines(
                "[p] D3h F3 | C3 A2 | D3q A2q D3h | A2 D3 | F3 A2 | G2 C3 | D3q A2q D3h | A2 D3",
                "F3h D3 | C3 A2 | -t D3t -s -e A2q D3h | A2h D3h | D3w",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            lines(
                "[pp] BD+TRq -h. | -h -q -e -s -t TRt | TRq -h. | BDq -h.",
                # Two strokes a third of a 32nd apart: the second is nearest to the hole that the first has.
                "TRq -h. | -q -e. -t -x TRx BDh | TRq -h. | 3:2(BDx BD -) -t -s -e -h.",
                "TRq -h. | -h BDh | TRq -h. | BD+SN+TB+TRw",
                "BD+TRw",
            ),
        ),
    ),
)

PIECES = (COMMITTEE, LOW_WATER)
