"""The load round the turn as a drawing of the wheel: a bar outwards for every pin, the worst places numbered."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

from pegwright.draw.furniture import GREY, MARGIN_MM, centred, fitted_text, foot, heading
from pegwright.draw.histogram import line_every
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.paper import A4
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Shape, Symbol, Text, Use, rectangle
from pegwright.frozen import frozen
from pegwright.load import Load, LoadPlace, SetLoad, more_words
from pegwright.units import fraction_text, least_doubled, plural, printed, quarters_per_minute, turning_text
from pegwright.wheel import Wheel

WIDTH_MM, HEIGHT_MM = A4.long_mm, A4.short_mm
CENTRE_X_MM, CENTRE_Y_MM = 98.0, 111.5
INNER_MM, OUTER_MM = 30.0, 74.0  # where bars begin, and where the longest end
MARK_MM = 81.5  # from the middle to the numbers of the worst places
NUMBERED = 6  # worst places
LIST_X_MM, LIST_Y_MM, ENTRY_MM = 196.0, 52.0, 21.5
SUBJECT = "Load round the turn"
HOW = (
    "A bar stands where a pin trips; it is as long as there are strikes in the window that begins there. "
    "Step 1 of plate 1 is at the top; time runs clockwise."
)
_BAR_MM, _BAR_SHARE = 1.0, 0.75  # maximum width of a bar; its share of the distance between steps
_RINGS = 6
_PLATE_MM, _STEP_MM, _RING_MM, _NUMBER_MM = 3.4, 2.2, 2.6, 3.4
_SEAM_MM, _END_MM = 9.0, 77.0  # where seams begin, and where they end
_NUMBERS_MM, _NAMES_MM = 26.4, 15.5  # from the middle to the numbers of steps, and to the names of plates
_NAMES_SIZE_MM = 2.8  # of channels
_MARK_RADIUS_MM, _MIN_MARK_MM, _SPREADING = 2.9, 6.4, 200
_BAR, _WORST_BAR = Pen(stroke=None, fill=0.55), Pen(stroke=None, fill=0.0)
_RING, _LIMIT = Pen(stroke=0.75, width_mm=0.15), Pen(stroke=0.0, width_mm=0.5, dash_mm=(2.0, 1.6))
_EDGE, _SEAM, _TICK = Pen(stroke=0.0, width_mm=0.3), Pen(stroke=0.0, width_mm=0.35), Pen(stroke=0.4, width_mm=0.15)
_LEADER = Pen(stroke=0.0, width_mm=0.2)
_WHITE, _MARK = Pen(stroke=None, fill=1.0), Pen(stroke=0.0, fill=1.0, width_mm=0.35)


def load_pages(wheel: Wheel, title: str, sets: Sequence[SetLoad]) -> tuple[Page, ...]:
    """A page for each load of each set of plates.

    Args:
        wheel: for its plates, steps and names.
        title: of the song.
        sets: those that the song takes.
    """
    each = [(of_set, load) for of_set in sets for load in of_set.loads]
    pages = []
    for number, (of_set, load) in enumerate(each):
        dial = _Dial(wheel, load)
        subject = f"Set {of_set.letter} · {SUBJECT}" if of_set.letter else SUBJECT
        tempo = f"{quarters_per_minute(of_set.pins.us_per_quarter):.4g} quarter notes a minute"
        facts = f"{wheel.name} · {tempo}, {turning_text(load.turn_ms / 1000)}"
        facts += f" · {of_set.words}" if of_set.words else ""
        items = (
            *heading(WIDTH_MM, title, subject, facts),
            *dial.face(),
            *dial.bars(),
            *dial.scale(),
            *dial.numbers(),
            *_list(wheel, load),
            *foot(WIDTH_MM, HEIGHT_MM, f"page {printed(number)} of {len(each)}", (HOW,)),
        )
        pages.append(Page(WIDTH_MM, HEIGHT_MM, items, f"{title}, {subject}, {load.name}"))
    return tuple(pages)


def as_one(pages: Sequence[Page]) -> Page:
    """Pages of one width, joined one below another in a long one."""
    *tops_mm, height_mm = accumulate((page.height_mm for page in pages), initial=0.0)
    shapes = [tuple(item for item in page.items if not isinstance(item, Use)) for page in pages]
    symbols = [Symbol(page.title, own) for page, own in zip(pages, shapes, strict=True)]
    items = tuple(Use(symbol, 0.0, top_mm) for symbol, top_mm in zip(symbols, tops_mm, strict=True))
    return Page(pages[0].width_mm, height_mm, items, pages[0].title)


@frozen()
class _Dial:
    """The wheel seen from the side of its face, drawn for one load."""

    wheel: Wheel
    load: Load

    def face(self) -> list[Shape]:
        """Rings, steps, seams and plates."""
        rings = [Circle(CENTRE_X_MM, CENTRE_Y_MM, self._radius(count), _RING) for count in self._rings()]
        return [*rings, Circle(CENTRE_X_MM, CENTRE_Y_MM, INNER_MM, _EDGE), *self._steps(), *self._plates()]

    def bars(self) -> Iterator[Shape]:
        """A bar for every pin, one for all at the same time; black where it is among the worst places."""
        worst = {(place.trip_ms, place.strikes) for place in self.load.worst[:NUMBERED]}
        each = dict.fromkeys(zip(self.load.trip_ms.tolist(), self.load.strikes.tolist(), strict=True))
        half = min(_BAR_MM, _BAR_SHARE * 2 * math.pi * INNER_MM / self.wheel.turn_steps) / 2
        for trip_ms, strikes in sorted(each, key=lambda bar: bar in worst):
            outer = self._radius(strikes)
            ends = ((INNER_MM, -half), (outer, -half), (outer, half), (INNER_MM, half))
            corners = tuple(self._at(trip_ms / self.load.turn_ms, radius, aside) for radius, aside in ends)
            yield Path(corners, _WORST_BAR if (trip_ms, strikes) in worst else _BAR, closed=True)

    def scale(self) -> Iterator[Shape]:
        """The limit, and the count of each ring, beside the first seam."""
        limit = self.load.limit
        if limit is not None:
            yield Circle(CENTRE_X_MM, CENTRE_Y_MM, self._radius(limit), _LIMIT)
        for count in sorted({*self._rings(), *([] if limit is None else [limit])}):
            at_limit = count == limit
            if not at_limit and limit is not None and abs(self._radius(count) - self._radius(limit)) < _RING_MM:
                continue
            words = f"limit {count:,}" if at_limit else f"{count:,}"
            wide, half = width_mm(words, _RING_MM, at_limit), _RING_MM / 2
            right, middle = CENTRE_X_MM - 0.8, CENTRE_Y_MM - self._radius(count)
            yield rectangle(right - wide - 0.4, middle - half, right + 0.3, middle + half, _WHITE)
            yield centred(right, middle, words, _RING_MM, Anchor.END, at_limit)

    def numbers(self) -> list[Shape]:
        """The numbers of the worst places round the outside, each with a line to its bar."""
        places = self.load.worst[:NUMBERED]
        shares = [place.trip_ms / self.load.turn_ms for place in places]
        marks = [self._at(share, MARK_MM) for share in _spread(shares, _MIN_MARK_MM / (2 * math.pi * MARK_MM))]
        begins = [
            self._at(share, self._radius(place.strikes) + 0.5) for place, share in zip(places, shares, strict=True)
        ]
        leaders = [Path(ends, _LEADER) for ends in zip(begins, marks, strict=True)]
        return [*leaders, *(shape for number, mark in enumerate(marks) for shape in _mark(*mark, number))]

    def _steps(self) -> Iterator[Shape]:
        """Ticks inside, with the number of the step on its plate; the first is at the seam."""
        steps, per_plate = self.wheel.turn_steps, self.wheel.steps_per_plate
        room = 2 * math.pi * _NUMBERS_MM / steps
        ticks = least_doubled(lambda every: every * room >= 0.8)
        numbers = least_doubled(lambda every: every * room >= width_mm(str(per_plate), _STEP_MM) + 2.0)
        for step in range(steps):
            on_plate = step % per_plate
            if on_plate % ticks == 0:
                inner = INNER_MM - (1.8 if on_plate % numbers == 0 else 1.0)
                yield Path((self._at(step / steps, INNER_MM), self._at(step / steps, inner)), _TICK)
            if on_plate and on_plate % numbers == 0 and per_plate - on_plate >= numbers / 2:
                yield centred(*self._at(step / steps, _NUMBERS_MM), str(printed(on_plate)), _STEP_MM, grey=GREY)

    def _plates(self) -> Iterator[Shape]:
        """Seams, and the plates' names within."""
        count = self.wheel.plate_count
        before = self.wheel.geometry.lead_edge_mm / self.wheel.geometry.circumference_mm  # from a seam to step 1
        room = 2 * math.pi * _NAMES_MM / count
        whole = room >= width_mm(f"plate {count}", _PLATE_MM, bold=True)
        every = least_doubled(lambda every: every * room >= 1.3 * width_mm(str(count), _PLATE_MM, bold=True))
        for plate in range(count):
            seam = plate / count - before
            ends = [self._at(seam, radius) for radius in (_SEAM_MM, INNER_MM, OUTER_MM, _END_MM)]
            yield from map(Path, pairwise(ends), (_SEAM, _RING, _SEAM))
            if plate % every == 0:
                words = f"plate {printed(plate)}" if whole else str(printed(plate))
                yield centred(*self._at((plate + 0.5) / count, _NAMES_MM), words, _PLATE_MM, bold=True)

    def _rings(self) -> range:
        """The counts of strikes at which there is a ring."""
        every = line_every(self.load.full, _RINGS)
        return range(every, self.load.full + 1, every)

    def _radius(self, strikes: int) -> float:
        return INNER_MM + (OUTER_MM - INNER_MM) * strikes / self.load.full

    def _at(self, share: float, radius: float, aside: float = 0.0) -> tuple[float, float]:
        """The point at a share of the turn, at a radius and so far aside of it, clockwise, in mm."""
        right, down = math.sin(2 * math.pi * share), -math.cos(2 * math.pi * share)  # away from the middle
        return CENTRE_X_MM + right * radius - down * aside, CENTRE_Y_MM + down * radius + right * aside


def _spread(shares: Sequence[float], distance: float) -> list[float]:
    """Places on a circle, as shares of it, moved little so that no two are nearer than `distance`."""
    order = sorted(range(len(shares)), key=lambda number: shares[number])
    moved = [shares[number] for number in order]
    for _ in range(_SPREADING):
        for place in range(len(moved) if len(moved) > 1 else 0):
            lap, following = divmod(place + 1, len(moved))
            short = distance - (moved[following] + lap - moved[place])
            if short > 0:
                moved[place] -= short / 2
                moved[following] += short / 2
    return [moved[order.index(number)] for number in range(len(shares))]


def _mark(x_mm: float, y_mm: float, number: int) -> tuple[Shape, ...]:
    words = str(printed(number))
    return Circle(x_mm, y_mm, _MARK_RADIUS_MM, _MARK), centred(x_mm, y_mm, words, _NUMBER_MM, bold=True)


def _list(wheel: Wheel, load: Load) -> Iterator[Shape]:
    """The load in figures, and the worst places by their numbers."""
    room = WIDTH_MM - MARGIN_MM - LIST_X_MM
    limit = "" if load.limit is None else f", limit {load.limit:,}: headroom {load.headroom:,}"
    within = f"{plural(load.strike_count, 'strike')} a turn, {load.mean:.2f} in {load.window_ms:g} ms on average"
    yield fitted_text(LIST_X_MM, 34.0, load.heading, 5.0, room, bold=True)
    yield fitted_text(LIST_X_MM, 40.5, f"at most {load.maximum:,} within {load.window_ms:g} ms{limit}", 3.8, room)
    yield fitted_text(LIST_X_MM, 45.5, within, 3.0, room, grey=GREY)
    for number, place in enumerate(load.worst[:NUMBERED]):
        y_mm = LIST_Y_MM + number * ENTRY_MM
        left, beside = LIST_X_MM + 8.5, room - 8.5
        yield from _mark(LIST_X_MM + _MARK_RADIUS_MM, y_mm + 2.4, number)
        yield fitted_text(left, y_mm + 3.8, plural(place.strikes, "strike"), 4.0, beside, bold=True)
        yield fitted_text(left, y_mm + 8.6, _where(place), 3.4, beside)
        for line, names in enumerate(_two_lines([wheel.channels[channel].name for channel in place.channels], beside)):
            yield Text(left, y_mm + 12.8 + 3.7 * line, names, _NAMES_SIZE_MM, grey=GREY)
    words = more_words(load, NUMBERED) if load.worst else f"no two strikes within {load.window_ms:g} ms"
    yield Text(LIST_X_MM, LIST_Y_MM + min(len(load.worst), NUMBERED) * ENTRY_MM + 3.0, words, 3.0, grey=GREY)


def _two_lines(names: Sequence[str], room: float) -> tuple[str, ...]:
    """Names on one line, or on two of which the second is shortened where they do not fit."""
    taken = len(names)
    while taken > 1 and width_mm(", ".join(names[:taken]) + ",", _NAMES_SIZE_MM) > room:
        taken -= 1
    lines = [", ".join(some) for some in (names[:taken], names[taken:]) if some]
    lines[0] += "," * (taken < len(names))
    return tuple(fitted(line, _NAMES_SIZE_MM, room) for line in lines)


def _where(place: LoadPlace) -> str:
    on_wheel = f"plate {printed(place.plate)} step {fraction_text(place.step + 1)}"
    if place.source is None:
        return on_wheel
    return f"{on_wheel} · {place.source.bar_beat}"
