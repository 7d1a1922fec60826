"""Beat shifts: from a place on, the beat of a song played by hand is read earlier or later.

Each is a line of text: `13=-1/4` from bar 13 on a sixteenth earlier, `13:2.5=1/2` from its beat 2.5 on an eighth later.
`13=0` moves nothing: it says that the beat goes on there as it was read, so that this is no longer in doubt.
"""

from __future__ import annotations

import re
from fractions import Fraction

from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.units import fraction_of, fraction_text

FORM = "13=-1/4"
MAX_QUARTERS = 16  # four bars of 4/4
MAX_DENOMINATOR = 960  # of a beat, and of a quarter
_NUMBER = r"(?:[0-9]{1,6} [0-9]{1,3}/[0-9]{1,3}|[0-9]{1,6}(?:\.[0-9]{1,6}|/[0-9]{1,3})?)"  # `1 3/8` as in reports
_SHIFT = re.compile(
    rf"(?P<bar>[0-9]{{1,6}})(?:\s*:\s*(?P<beat>{_NUMBER}))?\s*=\s*(?P<sign>[+-]?)(?P<quarters>{_NUMBER})"
)


@frozen()
class BeatShift:
    """A place from which on a song lies earlier or later.

    Args:
        bar: as reported, counted from 1.
        beat: of that bar, counted from 1.
        quarters: by how much all notes from there on are moved; negative is earlier, 0 says that they are right.

    >>> str(BeatShift(bar=13, beat=Fraction(5, 2), quarters=Fraction(-1, 4)))
    '13:2.5=-1/4'

    Raises:
        UsageError: it is out of its bounds.
    """

    bar: int
    beat: Fraction
    quarters: Fraction

    def __post_init__(self) -> None:
        """Refuse what lies out of bounds."""
        if self.bar < 1 or self.beat < 1:
            raise _refused(str(self), "names a place before bar 1 or beat 1, and both count from 1")
        if max(self.beat.denominator, self.quarters.denominator) > MAX_DENOMINATOR:
            raise _refused(str(self), f"is finer than 1/{MAX_DENOMINATOR}")
        if abs(self.quarters) > MAX_QUARTERS:
            wrong, span = f"moves notes by more than {MAX_QUARTERS} quarters", f"-{MAX_QUARTERS} to {MAX_QUARTERS}"
            raise _refused(str(self), wrong, f"write {FORM}, with {span} quarters")

    def __str__(self) -> str:
        """As a user writes it."""
        beat = fraction_text(self.beat)
        place = "" if self.beat == 1 else f":{self.beat if ' ' in beat else beat}"
        return f"{self.bar}{place}={self.quarters}"


def beat_shift_of(written: str) -> BeatShift:
    """The beat shift of a text.

    Raises:
        UsageError: it is none, or out of its bounds; the hint has the form.
    """
    text = written.strip()
    match = _SHIFT.fullmatch(text)
    if not match:
        raise _refused(text, "is not a bar, '=' and a number of quarters")
    try:
        bar, beat, quarters = int(match["bar"]), fraction_of(match["beat"] or "1"), fraction_of(match["quarters"])
    except ZeroDivisionError:
        raise _refused(text, "divides by 0") from None
    return BeatShift(bar, beat, -quarters if match["sign"] == "-" else quarters)


def _refused(text: str, wrong: str, hint: str = f"write {FORM}: from bar 13 on a sixteenth earlier") -> UsageError:
    return UsageError(f"{text[:40]!r} {wrong}", hint=hint)
