"""Printed words on the order of play: da capo, dal segno, to coda, fine, and where a trio begins.

The wordings, with the source of each, are listed in docs/reading-musicxml.md.
"""

from __future__ import annotations

import re
from enum import Enum, auto

from pegwright.frozen import frozen

_LONGEST = 12  # words; what is longer is prose about a jump, not a jump

_DA_CAPO = re.compile(
    r"^\W*m?dc\b|(?:\bm[.:]?\s?|\b)d(?:[.:]\s?|\s)c\b|\bda\s?capo\b"
    r"|\bvon vorne?\b|\bvo[mn] anfang bis\b|\bfrom the (?:beginning|top)\b"
    r"|\b(?:du|au) (?:début|commencement)\b"
)
_DAL_SEGNO = re.compile(r"^\W*ds\b|\bd(?:[.:]\s?|\s)s\b|\bdal\s?(?:segno\b|𝄋|%|§)|\bvom zeichen\b|\bau signe\b")
_AL_SEGNO = re.compile(r"\bal\s?(?:segno\b|𝄋|%|§)|\bbis (?:zum )?zeichen\b|\bjusqu'au signe\b")
_TO_CODA = re.compile(r"\b(?:to (?:the )?|alla |zur |à la )coda\b|^al coda$")
_DANCES = (
    r"(?:menu?e?t?t?[oe]?|minu?e?t?t?o?|scherzo|sch|gavott[ae]|bourr[ée]e|passepied|rigaudon|polonaise|polacca"
    r"|mar(?:ch|che|cia|sch)|polka|waltz|valse|walzer|l[äa]ndler)\b\.?"
)
_REPRISE = re.compile(
    rf"\b(?:si (?:replica|ripete|riprende) (?:il |la )?|repeat (?:the )?|on reprend (?:le |la )?){_DANCES}"
)
_ABOUT_A_JUMP = re.compile(r"\b(?:after|on|before|nach|beim?|dopo|après|avant|vor)\s+(?:the |dem |il |le )?$")
_NAMED = re.compile(r"[^\W\d_]{3,}")
_FILLERS = frozenset(  # words that name no piece
    """al alla anfang and avec bis capo coda con dal dann das début der end ende fin fine fino from jusqu le les ma mit
    mot ohne poi rep repeat repeats repetition repetitions repetizione repetizioni replica repliche reprise reprises
    ripetizione ripetizioni sans segno senza sign signe sin sino the time top und volta vom von vorn vorne wiederholung
    wiederholungen with without zeichen zum""".split()  # noqa: SIM905  # a list of words reads better as text
)
_WITH_REPEATS = re.compile(r"\b(?:con|with|mit|avec)\s+(?:le |the |les |den )?(?:rep|rip|wiederholung)")
_TRIO = re.compile(
    rf"\W*(?:trio|minore|maggiore|alternativo|musette)\b|\W*{_DANCES}\s+(?:ii|2|secondo|seconda|second|zweites?)\b"
)
_CODA = re.compile(r"\W*coda\W*")
_FINE = re.compile(r"\W*(?:il )?(?:fine?|ende)(?: (?:del|della|of|de|des)\b.*)?\W*")


class Jump(Enum):
    """What a direction's words say about the order of play."""

    DA_CAPO = auto()
    DAL_SEGNO = auto()
    TO_CODA = auto()
    CODA = auto()
    FINE = auto()


@frozen()
class JumpWords:
    """The words of one direction.

    Args:
        jump: what they say, None where nothing of this kind.
        named: a da capo names what is played again, as "Menuetto da capo" does.
        with_repeats: its repeats are taken again.
        to_segno: it ends at the sign.
        trio: they are the heading of a trio, or of the second of two dances.
    """

    jump: Jump | None = None
    named: bool = False
    with_repeats: bool = False
    to_segno: bool = False
    trio: bool = False


def jump_words(text: str) -> JumpWords:
    """What printed words say about the order of play.

    >>> jump_words("Menuetto D. C. senza replica")
    JumpWords(jump=<Jump.DA_CAPO: 1>, named=True, with_repeats=False, to_segno=False, trio=False)
    >>> jump_words("after the D.C. without repeats").jump
    """
    words = " ".join(text.lower().replace("’", "'").split())
    if not words or len(words.split()) > _LONGEST:
        return JumpWords()
    if match := _DA_CAPO.search(words) or _REPRISE.search(words):
        if _ABOUT_A_JUMP.search(words[: match.start()]):
            return JumpWords()
        with_repeats, to_segno = (bool(pattern.search(words)) for pattern in (_WITH_REPEATS, _AL_SEGNO))
        return JumpWords(Jump.DA_CAPO, _names(words, match), with_repeats, to_segno)
    if _DAL_SEGNO.search(words) or _AL_SEGNO.fullmatch(words.strip(" .")):
        return JumpWords(Jump.DAL_SEGNO, with_repeats=bool(_WITH_REPEATS.search(words)))
    kinds = ((_TO_CODA, Jump.TO_CODA), (_CODA, Jump.CODA), (_FINE, Jump.FINE))
    for pattern, jump in kinds:
        if pattern.search(words) if jump is Jump.TO_CODA else pattern.fullmatch(words):
            return JumpWords(jump)
    return JumpWords(trio=bool(_TRIO.match(words)))


def _names(words: str, match: re.Match[str]) -> bool:
    """Whether words with a da capo name a piece besides: "M. D. C." is short for "Menuetto da capo"."""
    if match[0].startswith("m") or match.re is _REPRISE:
        return True
    rest = words[: match.start()] + " " + words[match.end() :]
    return any(word not in _FILLERS for word in _NAMED.findall(rest))
