"""What must be told of a show beside its tables: what does not fit, and what was tried and would help."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction

from pegwright.draw.overview import minutes
from pegwright.findings import Finding, Severity
from pegwright.show.count import Need
from pegwright.show.made import Pinned, Played
from pegwright.show.remedy import Remedies, effect
from pegwright.show.time import Timetable, WorkTimes
from pegwright.show.turns import running_text
from pegwright.units import fraction_text, plural, printed

STARTS_LISTED = 6


def late_findings(
    pinned: Sequence[Pinned], songs: Sequence[Played], helped: Remedies, calmer_starts: Sequence[Fraction]
) -> Iterator[Finding]:
    """Each set that is late with its remedies, then what helps all of them.

    Args:
        pinned: see `Show`.
        songs: see `Show`.
        helped: what was tried.
        calmer_starts: for each of `pinned` its start under `Remedies.calmer`; empty without one.
    """
    for late in helped.late:
        it = pinned[late.number]
        available_s = it.available_s or 0.0
        busy = ", which the swap before it takes up" if it.needed_s <= available_s else ""
        message = (
            f"the show waits {minutes(math.ceil(it.late_s))} for set {printed(it.plate_set)}, "
            f"{songs[it.place].title}: it needs {minutes(math.ceil(it.needed_s))} and there are "
            f"{minutes(math.floor(available_s))}{busy}"
        )
        yield Finding("late", Severity.CHANGED, songs[it.place].file, message, " or ".join(late.remedies))
    for sentence in helped.whole:
        yield Finding("late-remedy", Severity.NOTE, "", sentence)
    if helped.calmer:
        changed = [number for number, it in enumerate(pinned) if calmer_starts[number] != it.start_steps]
        named = [
            f"{songs[pinned[number].place].title} from step {fraction_text(printed(calmer_starts[number]))}"
            for number in changed
        ]
        more = f" and {plural(len(named) - STARTS_LISTED, 'more')}" if len(named) > STARTS_LISTED else ""
        message = f"the same order with other starts {effect(helped.calmer)}"
        yield Finding("late-remedy", Severity.NOTE, "", message, ", ".join(named[:STARTS_LISTED]) + more)


def song_findings(songs: Sequence[Played], plate_sets: int, work: WorkTimes, table: Timetable) -> Iterator[Finding]:
    """Songs that need more sets than there are, songs that stop for a change, and waits."""
    for song in songs:
        if song.swaps_within:
            sets, swaps = plural(song.pinning_count, "set"), plural(song.swaps_within, "set")
            message = (
                f"{song.title} ({running_text(song.running)}) needs {sets} of plates and {plate_sets} "
                f"{'is' if plate_sets == 1 else 'are'} owned: {swaps} must be pinned anew while it plays"
            )
            hint = f"own {song.pinning_count} sets, or choose some of its bars"
            yield Finding("sets-short", Severity.CHANGED, song.file, message, hint)
        if song.changes_within:
            stops = plural(song.changes_within, "time")
            message = f"the music of {song.title} stops {stops} while the set on the wheel is changed"
            hint = f"{work.change_s:g} s each time" if work.change_s else "change_s in [work] tells how long that takes"
            yield Finding("stops-for-change", Severity.NOTE, song.file, message, hint)
        if not song.notes:
            yield Finding("no-notes", Severity.NOTE, song.file, f"{song.title} has no notes", "its plates stay empty")
    for place, wait_s in enumerate(table.waits_s):
        if wait_s:
            message = f"the audience waits {wait_s:g} s longer than the talk after {songs[place].title}"
            hint = f"changing the set on the wheel takes {work.change_s:g} s"
            yield Finding("change-longer-than-talk", Severity.NOTE, songs[place].file, message, hint)


def stock_findings(needs: Sequence[Need]) -> Iterator[Finding]:
    """Pin types of which more stand in the plates at once, with spares, than are owned."""
    for need in needs:
        if need.to_buy:
            message = (
                f"{plural(need.needed, 'pin')} of type {need.name!r} are needed at once, spares included, "
                f"and {need.stock:,} are owned"
            )
            hint = f"buy or make {need.to_buy:,} more, or use fewer sets"
            yield Finding("stock-short", Severity.CHANGED, need.name, message, hint)


def work_findings(finding_told: bool) -> Iterator[Finding]:
    """What the times of the work leave out."""
    if not finding_told:
        message = "the times hold nothing for finding each hole on the sheet"
        hint = "time it for a few dozen pins and put it as find_s into [work]"
        yield Finding("no-finding-time", Severity.NOTE, "work", message, hint)
