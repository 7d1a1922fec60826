"""Findings of a show: what does not fit, and which remedies were tried and would help."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from pegwright.draw.overview import free_time, minutes, work_time
from pegwright.findings import Finding, Severity
from pegwright.running import running_text
from pegwright.show.count import Need
from pegwright.show.remedy import ShowRemedies, effect
from pegwright.show.show import Pinned, PlayedSong
from pegwright.show.time import Timetable, WorkTimes
from pegwright.show.turns import sets_short_words
from pegwright.units import fraction_text, plural, printed

STARTS_LISTED = 6


def late_findings(
    pinned: Sequence[Pinned], songs: Sequence[PlayedSong], helped: ShowRemedies, calmer_starts: Sequence[Fraction]
) -> Iterator[Finding]:
    """Each set that is late with its remedies, then what helps all of them.

    Args:
        pinned: see `Show`.
        songs: see `Show`.
        helped: the remedies that were tried and help.
        calmer_starts: for each of `pinned` its start under `ShowRemedies.calmer`; empty without one.
    """
    for late in helped.late:
        swap = pinned[late.number]
        available_s = swap.available_s or 0.0
        busy = f", and for {minutes(swap.busy_s)} of these the same people are still busy with an earlier set"
        message = (
            f"the show waits {minutes(swap.wait_s)} for set {printed(swap.plate_set)}, "
            f"{songs[swap.place].title}: it needs {work_time(swap.needed_s)} and there are "
            f"{free_time(available_s)}{busy if swap.busy_s else ''}"
        )
        yield Finding("late", Severity.CHANGED, songs[swap.place].file, message, " or ".join(late.remedies))
    for sentence in helped.whole:
        yield Finding("late-remedy", Severity.NOTE, "", sentence)
    if helped.calmer:
        named = [
            f"{songs[swap.place].title} from step {fraction_text(printed(start))}"
            for swap, start in zip(pinned, calmer_starts, strict=True)
            if start != swap.start_steps
        ]
        named = list(dict.fromkeys(named))  # all pinnings of a song have one start
        more = f" and {plural(len(named) - STARTS_LISTED, 'more')}" if len(named) > STARTS_LISTED else ""
        message = f"the same order with other starts {effect(helped.calmer)}"
        yield Finding("late-remedy", Severity.NOTE, "", message, ", ".join(named[:STARTS_LISTED]) + more)


def song_findings(songs: Sequence[PlayedSong], plate_sets: int, work: WorkTimes, table: Timetable) -> Iterator[Finding]:
    """Songs that need more sets than there are, songs that stop for a change, and waits.

    Args:
        songs: in playing order.
        plate_sets: sets of plates owned.
        work: how long the work takes.
        table: the clock of the show.
    """
    for song in songs:
        if song.swaps_within:
            short = sets_short_words(song.pinning_count, song.swaps_within, plate_sets)
            message = f"{song.title} ({running_text(song.running)}) {short}"
            hint = f"own {song.pinning_count} sets, or choose some of its bars"
            yield Finding("sets-short", Severity.CHANGED, song.file, message, hint)
        if song.changes_within:
            stops = plural(song.changes_within, "time")
            message = f"the music of {song.title} stops {stops} while the set on the wheel is changed"
            hint = f"{work.change_s:g} s each time" if work.change_s else "change_s in [work] says how long that takes"
            yield Finding("stops-for-change", Severity.NOTE, song.file, message, hint)
        if song.count.read == song.count.dropped:
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


def work_findings(includes_finding: bool) -> Iterator[Finding]:
    """What the times of the work leave out."""
    if not includes_finding:
        message = "the times include nothing for finding each hole on the sheet"
        hint = "time it for a few dozen pins and put it as find_s into [work]"
        yield Finding("no-finding-time", Severity.NOTE, "work", message, hint)
