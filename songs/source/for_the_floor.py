"""Dances for the Pavilion's floor."""

from __future__ import annotations

from fractions import Fraction

from notation import CHIMES, DRUMS, LOW_CHIMES, PLUCKED_BASS, UPRIGHT_BASS, Piece, Voice, lines, times

DECKCHAIRS = Piece(
    file="waltz-of-the-empty-deckchairs.musicxml",
    title="Waltz of the Empty Deckchairs",
    metre=(3, 4),
    fifths=1,
    mode="major",
    tempo=138,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                # Four phrases of four: the second is the first a step up, the last climbs to the top bar.
                "[mp] B4h D5q | G5h F#5q | E5h D5q | A4h.",
                "C5h E5q | A5h G5q | F#5h E5q | G5h.",
                "[mf] E5q G5 C6 | B5h G5q | A5q F#5 D5 | B4h D5q",
                "[f] B5h G5q | C6h A5q | D6q! C6 F#5 | G5h.",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[p] -q G4 G4 | - G4+B4 B4 | - G4+C5 G4 | - D5 F#5",
                "-q A4 A4 | - A4+D5 A4+D5 | - A4+C5 A4+C5 | - B4 D5",
                "-q G4+C5 G4+C5 | - G4+D5 G4+D5 | - A4 A4 | - G4 G4",
                "-q G4+B4 G4+B4 | - C5+E5 C5+E5 | - A4+D5 A4+C5 | - G4+B4 -",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[mp] G2h. | G2 | C3 | D3 | A2 | D3 | D3 | G2",
                "C3h. | G2 | D3 | G2 | E3 | A2 | D3 | G2h -q",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[p] " + lines(times(7, "BDq TB TB"), "BDq TRh", times(7, "BDq TB TB"), "BDq TRh"),
        ),
    ),
)

SHUFFLE = Piece(
    file="salt-water-shuffle.musicxml",
    title="Salt-Water Shuffle",
    metre=(4, 4),
    fifths=0,
    mode="minor",
    tempo=92,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                # Twelve bars of blues in A minor: a call, the call again over the fourth, and the answer.
                "[mf] 3:2(A4q C5e) 3:2(D5q E5e) G5q! 3:2(E5q G5e) | A5h -q 3:2(-q G5e)",
                "3:2(E5q D5e) 3:2(C5q D5e) E5q 3:2(D5q C5e) | A4h 3:2(C5e D5 E5) 3:2(G5q E5e)",
                "3:2(A4q C5e) 3:2(D5q F5e) A5q! 3:2(F5q A5e) | C6h -q 3:2(-q A5e)",
                "3:2(G5q E5e) 3:2(D5q C5e) E5q 3:2(D5q C5e) | A4h 3:2(E5e G5 A5) 3:2(C6q A5e)",
                "[f] C6q! 3:2(A5q F5e) A5q 3:2(C6q D6e) | B5q! 3:2(G5q E5e) G5q 3:2(B4q D5e)",
                "3:2(C5q D5e) 3:2(E5q G5e) 3:2(A5e G5 E5) 3:2(D5q C5e) | A4q -q 3:2(G5q E5e) A5q!",
            ),
        ),
        Voice(
            "Bass",
            UPRIGHT_BASS,
            lines(
                "[mf] A2q C3 E3 C3 | D3 F3 A2 C3 | A2 C3 E3 G2 | A2 E3 C3 E3",
                "D3q F3 A2 F3 | D3 A2 F3 D3 | A2 C3 E3 C3 | A2 G2 A2 E3",
                "F3q C3 A2 F3 | E3 G2 E3 D3 | C3 D3 E3 C3 | A2q E3q 3:2(D3q E3e) A2q",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[mp] " + lines(times(3, lines(times(3, "BDq SN BD SN"), "BD SN BD SN+TB"))),
        ),
    ),
)

TURNSTILE = Piece(
    file="turnstile-tango.mid",
    title="Turnstile Tango",
    metre=(2, 4),
    fifths=0,
    mode="minor",
    tempo=104,
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[mf] E5e. D5s E5e A5 | G5e. E5s C5q | F5e. E5s F5e A5 | E5h",
                "A5e. G5s A5e C6 | G5e. F5s E5q | 3:2(D5e E5 F5) D5e B4 | A4q -q",
                "[f] G5s C6e G5s E5q | D5s G5e B5s D6q! | A5s D6e A5s F5e E5e | ~s A5e E5s C5q",
                "A5s C6e A5s F5q | G5s C6e G5s E5q | F5e. E5s D5e F5 | E5e G5 B5q!",
                "[mf] E5e. D5s E5e A5 | G5e. E5s C5q | F5e. E5s F5e A5 | E5h",
                "[f] A5e. C6s A5e F5 | D6e.! C6s A5q | 3:2(B5e A5 G5) D5e B4 | A4e E5 A5q!",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[mf] A2e. E3s A2e E3 | A2e. E3s C3e E3 | D3e. A2s F3e A2 | A2e. E3s C3e E3",
                "F3e. C3s A2e C3 | C3e. G2s E3e G2 | G2e. D3s G2e D3 | A2e. E3s A2e E3",
                "C3e. G2s E3e G2 | G2e. D3s G2e D3 | D3e. A2s F3e A2 | A2e. E3s C3e E3",
                "F3e. C3s A2e C3 | C3e. G2s E3e G2 | D3e. A2s F3e A2 | E3e. G2s E3e G2",
                "A2e. E3s A2e E3 | A2e. E3s C3e E3 | D3e. A2s F3e A2 | A2e. E3s C3e E3",
                "F3e. C3s A2e C3 | D3e. A2s F3e A2 | G2e. D3s G2e D3 | A2e E3 A2q",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[mp] "
            + lines(
                times(7, "BDe. WBs SNe WBe"),
                "BDe. WBs SNs SN SNe",
                times(8, "BDe. TBs SNe TBe"),
                times(7, "BDe. WBs SNe WBe"),
                "BDe SNe BD+TBq",
            ),
        ),
    ),
)

BATHING_MACHINE = Piece(
    file="bathing-machine-minuet.musicxml",
    title="Bathing-Machine Minuet",
    metre=(3, 4),
    fifths=1,
    mode="major",
    tempo=112,
    # A pickup of one beat, a strain of four bars played twice, then eight bars with their own pickup.
    bar_lengths={0: Fraction(1), 4: Fraction(2), 5: Fraction(1), 13: Fraction(2)},
    repeats={0: ("open",), 4: ("close",)},
    voices=(
        Voice(
            "Chimes",
            CHIMES,
            lines(
                "[mf] D5q | G5q. A5e B5q | C6q. B5e A5q | F#5e G5 A5q C6q | B5q G5q",
                "[p] G5q | E5q. F#5e G5q | A5q. B5e C6q | B5q. A5e G5q | F#5q A5 D5",
                "[mf] G5q. A5e B5q | C6q. B5e A5q | B5e A5 G5q F#5q | G5h",
            ),
        ),
        Voice(
            "Chimes II",
            LOW_CHIMES,
            lines(
                "[mp] -q | - B4 D5 | - C5 E5 | - D5 A4 | D5 B4",
                "[p] -q | - G4 B4 | - C5 E5 | - D5 B4 | A4 C5 -",
                "[mp] -q B4 D5 | - C5 E5 | - B4 A4 | B4h",
            ),
        ),
        Voice(
            "Bass",
            PLUCKED_BASS,
            lines(
                "[mp] -q | G2h D3q | C3h A2q | D3h A2q | G2q D3q",
                "[p] -q | E3h G2q | A2h C3q | G2h D3q | D3q A2 D3",
                "[mp] G2h D3q | C3h A2q | D3h D3q | G2h",
            ),
        ),
        Voice(
            "Percussion",
            DRUMS,
            "[p] "
            + lines(
                "-q", times(3, "TBq WB WB"), "TBq WB", "-q", times(4, "TR+WBq WB WB"), times(3, "TBq WB WB"), "TBh"
            ),
        ),
    ),
)

PIECES = (DECKCHAIRS, SHUFFLE, TURNSTILE, BATHING_MACHINE)
