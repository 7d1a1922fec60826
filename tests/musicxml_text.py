"""Small MusicXML documents for tests, written out as text."""

from __future__ import annotations

import re
from collections.abc import Sequence

QUARTER = "<divisions>1</divisions>"
FOUR_FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"


def note(name: str, duration: str | int = 1, extra: str = "", *, before: str = "", attributes: str = "") -> str:
    """A note such as `C4`, `F#3` or `Bb5`; `before` the pitch goes grace, cue or chord, after the duration `extra`."""
    step, accidental, octave = re.fullmatch(r"([A-G])([#b]?)(-?\d+)", name).groups()  # type: ignore[union-attr]
    alter = f"<alter>{ {'#': 1, 'b': -1}[accidental] }</alter>" if accidental else ""
    pitch = f"<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>"
    length = "" if "<grace" in before else f"<duration>{duration}</duration>"
    return f"<note{attributes}>{before}{pitch}{length}{extra}</note>"


def drum(duration: int = 1, place: str = "C5", instrument: str = "") -> str:
    """An unpitched note at a place on the staff."""
    named = f'<instrument id="{instrument}"/>' if instrument else ""
    shown = f"<display-step>{place[0]}</display-step><display-octave>{place[1]}</display-octave>"
    return f"<note><unpitched>{shown}</unpitched><duration>{duration}</duration>{named}</note>"


def rest(duration: int = 1, attributes: str = "") -> str:
    return f"<note><rest{attributes}/><duration>{duration}</duration></note>"


def tie(*types: str) -> str:
    return "".join(f'<tie type="{type_}"/>' for type_ in types)


def tuplet(type_: str, actual: int, normal: int) -> str:
    ratio = f"<actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes>"
    return f"<type>{type_}</type><time-modification>{ratio}</time-modification>"


def backup(duration: int) -> str:
    return f"<backup><duration>{duration}</duration></backup>"


def forward(duration: int) -> str:
    return f"<forward><duration>{duration}</duration></forward>"


def repeat(direction: str, attributes: str = "") -> str:
    location = "left" if direction == "forward" else "right"
    return f'<barline location="{location}"><repeat direction="{direction}"{attributes}/></barline>'


def ending(number: str, type_: str, repeats: bool = False, text: str = "") -> str:
    location = "left" if type_ == "start" else "right"
    sign = '<repeat direction="backward"/>' if repeats else ""
    return f'<barline location="{location}"><ending number="{number}" type="{type_}">{text}</ending>{sign}</barline>'


def sound(attributes: str) -> str:
    return f"<sound {attributes}/>"


def words(text: str, kind: str = "words") -> str:
    return f"<direction><direction-type><{kind}>{text}</{kind}></direction-type></direction>"


def attributes(content: str) -> str:
    return f"<attributes>{content}</attributes>"


def bar(*content: str, number: str | int = 1) -> str:
    return f'<measure number="{number}">{"".join(content)}</measure>'


def bars_of_quarters(names: Sequence[str], marks: dict[int, str], divisions: str = QUARTER + FOUR_FOUR) -> list[str]:
    """One bar for each name, a note of four quarters, with barlines and sounds by 1-based bar number."""
    return [
        bar(attributes(divisions) if number == 1 else "", note(name, 4), marks.get(number, ""), number=number)
        for number, name in enumerate(names, start=1)
    ]


def score(
    *parts: Sequence[str],
    part_list: str | None = None,
    head: str = "",
) -> bytes:
    """A partwise document: each part a sequence of bars, called P1, P2 and so on."""
    ids = [f"P{number}" for number in range(1, len(parts) + 1)]
    listed = part_list or "".join(
        f'<score-part id="{id_}"><part-name>Part {id_}</part-name></score-part>' for id_ in ids
    )
    body = "".join(f'<part id="{id_}">{"".join(bars)}</part>' for id_, bars in zip(ids, parts, strict=True))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
        ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
        f'<score-partwise version="4.0">{head}<part-list>{listed}</part-list>{body}</score-partwise>'
    ).encode()


def one_bar(*content: str, divisions: int = 1, head: str = "") -> bytes:
    """A score of one part and one 4/4 bar."""
    return score([bar(attributes(f"<divisions>{divisions}</divisions>{FOUR_FOUR}"), *content)], head=head)
