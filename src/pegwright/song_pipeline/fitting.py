"""The middle stages: a song is cut into turns and fitted, turn by turn, and its outcome is gathered once."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate, chain
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from pegwright.ask.options import FitOptions
from pegwright.ask.request import PLAIN, Request
from pegwright.check.held import verify_held
from pegwright.check.verify import verify_turns
from pegwright.columns import JoinedSequence
from pegwright.config.wheel_file import could_be_loaded
from pegwright.edit.by_hand import PLAYED_CODE
from pegwright.edit.swing import STRAIGHTENED_CODE
from pegwright.edit.turns import cut_turns
from pegwright.errors import UsageError, refuse_broken
from pegwright.findings import Finding
from pegwright.fit.pins import pins_of
from pegwright.fit.placing import TurnFit
from pegwright.fit.turn import TEMPO_CODE, tempo_of
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.read import score_of
from pegwright.running import letter, running_order
from pegwright.score import Score
from pegwright.search.fits import SongFits
from pegwright.song import EditedSong, FittedSong, FittedTurn
from pegwright.song_pipeline.editing import edit_score, edit_song
from pegwright.tell.findings import findings_of
from pegwright.tell.report import report_on
from pegwright.tell.wheel import sets_finding, wheel_findings
from pegwright.units import fraction_text, printed
from pegwright.wheel import Wheel

if TYPE_CHECKING:
    from pegwright.load import SetLoad
    from pegwright.remedy.changes import SongEdit
    from pegwright.remedy.rhythms import RhythmRemedy
    from pegwright.remedy.song_remedies import Remedies, Shortfall
    from pegwright.remedy.wheel_changes import WheelRemedy
    from pegwright.search.best import Best

SongRemedies: TypeAlias = "tuple[Remedies, WheelRemedy | None]"


def fit_file(song: Path | str, wheel: Wheel, request: Request = PLAIN) -> FittedSong:
    """Read a song and fit it to a wheel.

    Args:
        song: the path of a score file in any format that is read.
        wheel: the wheel.
        request: the options; by default the song as it is written, from the first step of the turn.

    Raises:
        InputError: the file cannot be read as music.
        UsageError: the request cannot be met, such as bars that the song does not have.
        InternalError: the independent verifier found a placement broken.

    >>> from pegwright import bundled_songs, bundled_wheel, load_wheel
    >>> fitted = fit_file(bundled_songs()[0], load_wheel(bundled_wheel()))
    >>> fitted.placed_count, fitted.left_out_count
    (161, 0)
    """
    wheel = wheel_for(request, wheel)
    return fit_edited(edit_song(Path(song), wheel, request), wheel)


def fit_score(
    score: Score, wheel: Wheel, request: Request = PLAIN, findings: tuple[Finding, ...] = (), data: bytes = b""
) -> FittedSong:
    """Fit a score that is in memory, whether it was read or put together.

    Args:
        score: the song.
        wheel: the wheel.
        request: the options; by default the song as it is written, from the first step of the turn.
        findings: of reading, to be reported with those of the fit.
        data: bytes of the file that the score was read from; with them `song_files` can draw the bars in trouble as
            music, for any format but MIDI.

    Raises:
        InputError: a file of beats that the request names cannot be read.
        UsageError: the score contradicts itself (see `check_score`), is not that of the bytes, or the request cannot
            be met.
        InternalError: the independent verifier found a placement broken.

    >>> from pegwright import bundled_songs, bundled_wheel, load_wheel, read_score
    >>> score, findings = read_score(bundled_songs()[0])
    >>> fitted = fit_score(score, load_wheel(bundled_wheel()), findings=findings)
    >>> fitted.placed_count, fitted.left_out_count
    (161, 0)
    """
    from pegwright.song_pipeline.hand_made import check_score  # noqa: PLC0415  # only for scores that are no file

    check_score(score)
    if data and hashlib.sha256(data).hexdigest() != score.sha256:
        message = f"the {len(data):,} bytes given are not those of the file that the score was read from"
        raise UsageError(message, where=score.file, hint="give the bytes that `read_score` was given, or none")
    wheel = wheel_for(request, wheel)
    edited = edit_score(score, wheel, request, findings)
    return fit_edited(replace(edited, data=data), wheel)


def fit_edited(edited: EditedSong, wheel: Wheel) -> FittedSong:
    """Fit a song that has been read and edited already; see `fit_file`."""
    request = edited.request
    wheel = wheel_for(request, wheel)
    check_start(request, wheel, "start")
    fits = song_fits(edited, wheel)
    if request.search is None:
        return fitted_song(edited, fits, request.options)
    from pegwright.search.best import find_best  # noqa: PLC0415  # the search is loaded where one is asked for

    best = find_best(fits, request.search, request.report_best)
    return fitted_song(edited, fits, best.ranked[0].options, best)


def wheel_for(request: Request, wheel: Wheel) -> Wheel:
    """The wheel with the holes that a song may use: those of the set of plates that it asks for, if it does.

    Raises:
        UsageError: the wheel has fewer sets.
    """
    if request.plate_set is None:
        return wheel
    if request.plate_set >= wheel.plate_sets:
        message = f"there is no set {printed(request.plate_set)} of plates among {wheel.plate_sets}"
        raise UsageError(message, where="plate set", hint=f"the sets of {wheel.name} are 1 to {wheel.plate_sets}")
    return wheel.of_set(request.plate_set)


def check_start(request: Request, wheel: Wheel, where: str) -> None:
    """Refuse a start that is not on the turn.

    Args:
        request: of a song.
        wheel: the wheel.
        where: the place that the message names.

    Raises:
        UsageError: it is not.
    """
    start_steps = request.options.start_steps
    if not request.start_free and not 0 <= start_steps < wheel.turn_steps:
        message = f"step {fraction_text(printed(start_steps))} is not on the turn"
        raise UsageError(message, where=where, hint=f"the steps of {wheel.name} are 1 to {wheel.turn_steps}")


def song_fits(edited: EditedSong, wheel: Wheel) -> SongFits:
    """The turns of a song, ready to be fitted; where there are several, all at the tempo of the song."""
    score, request = edited.score, edited.request
    turns = cut_turns(score, wheel, request.whole_bars, request.turns)
    options = _with_channels_of_notes(request.options, score)
    if len(turns) > 1:
        options = replace(options, us_per_quarter=tempo_of(score, options)[0])
    return SongFits(turns, wheel, options)


def _with_channels_of_notes(options: FitOptions, score: Score) -> FitOptions:
    """The options with the channel of each part that note edits made, and the priority of the part it is of."""
    edited = [part for part in score.parts if part.channel]
    priorities = dict(options.part_priorities)
    return replace(
        options,
        part_channels=(*options.part_channels, *((part.name, _as_pattern(part.channel)) for part in edited)),
        part_priorities=(
            *options.part_priorities,
            *((part.name, priorities[part.of]) for part in edited if part.of in priorities),
        ),
    )


def _as_pattern(name: str) -> str:
    """A pattern of which a name alone is."""
    return "".join(f"[{mark}]" if mark in "*?[" else mark for mark in name)


def fitted_song(
    edited: EditedSong,
    fits: SongFits,
    options: FitOptions,
    best: Best | None = None,
    running: tuple[int, ...] | None = None,
) -> FittedSong:
    """Gather the fits of all turns at the chosen transposition and start, and check them by the independent verifier.

    Args:
        edited: the song.
        fits: of its turns.
        options: those of the request with the choice put in.
        best: the outcome of the search, if there was one.
        running: the pinning of each turn; None lets turns with equal pins share one.

    Raises:
        InternalError: the verifier found a placement broken.
    """
    options = fits.options_at(options.transpose_semitones, options.start_steps)
    chosen = fits.at(options.transpose_semitones, options.start_steps)
    turns = _fitted_turns(edited, fits, chosen)
    song_findings = edited.findings
    if best is not None:
        from pegwright.search.best import search_finding  # noqa: PLC0415  # as above

        song_findings = (*song_findings, search_finding(edited.score, best))
    tempo_us = chosen[0].placement.us_per_quarter
    song_findings = (*song_findings, *wheel_findings(fits.wheel, tempo_us, edited.score.file))
    if running is None:
        running = running_order([pin_map_sha256(turn.pins) for turn in turns])
        song_findings = (*song_findings, *sets_finding(fits.wheel, running, edited.score.file))
    if len(turns) > 1:
        turns = tuple(map(_with_letter, turns, running))
        song_findings = (*song_findings, *tempo_of(edited.score, edited.request.options)[1])
    findings = JoinedSequence([song_findings, *(turn.findings for turn in turns)])
    outcomes = [(turn.score, turn.placement, turn.findings) for turn in turns]
    report = report_on(edited.score, fits.wheel, outcomes, song_findings)
    return FittedSong(edited, fits.wheel, options, turns, running, findings, report, best)


def _fitted_turns(edited: EditedSong, fits: SongFits, chosen: Sequence[TurnFit]) -> tuple[FittedTurn, ...]:
    firsts = [0, *accumulate(turn.note_count for turn in fits.turns)]
    several = len(chosen) > 1
    different = list({id(fit.placement): fit for fit in chosen}.values())  # turns of equal notes share one
    pins = dict(zip((fit.placement for fit in different), _checked_pins(edited, fits, different), strict=True))
    turns: list[FittedTurn] = []
    for score, fit, first in zip(fits.turns, chosen, firsts, strict=False):
        findings = findings_of(fit)  # they name the bars, which equal turns do not share
        if several:  # the tempo of the song is reported once
            findings = findings.without(TEMPO_CODE)
        turns.append(FittedTurn(score, fit.placement, pins[fit.placement], findings, first))
    return tuple(turns)


def _checked_pins(edited: EditedSong, fits: SongFits, chosen: Sequence[TurnFit]) -> list[PinMap]:
    """The pins of each of some turns, once all of them are checked."""
    wheel, turns = fits.wheel, [(fit.fitting.score, fit.placement) for fit in chosen]
    pins = [pins_of(score, wheel, placement) for score, placement in turns]
    held = (verify_held(wheel, placement, own) for (_, placement), own in zip(turns, pins, strict=True))
    refuse_broken((*verify_turns(turns, wheel), *chain.from_iterable(held)), str(edited.path), "nothing was written; ")
    return pins


def _with_letter(turn: FittedTurn, pinning: int) -> FittedTurn:
    """A turn whose score and pin map have the letter of its pinning in their title."""
    title = f"{turn.score.title} ({letter(pinning)})"
    return replace(turn, score=replace(turn.score, title=title), pins=replace(turn.pins, title=title))


def remedies_for(song: FittedSong, work: int | None = None) -> SongRemedies:
    """What would help a song that was fitted: changes to it, and the fewest to the wheel, which could all be loaded.

    Args:
        song: on its wheel.
        work: that may be done, in the units of `remedy/budget.py`; None for that of a report page, `PAGE_WORK`.
    """
    from pegwright.remedy.budget import (  # noqa: PLC0415  # where asked for
        FULL_WORK,
        PAGE_WORK,
        RHYTHM_SHARE,
        WHEEL_SHARE,
        Budget,
    )
    from pegwright.remedy.song_remedies import find_remedies  # noqa: PLC0415
    from pegwright.remedy.wheel_changes import fewest_changes  # noqa: PLC0415

    fitted = [turn.score for turn in song.turns], song.wheel, song.options, song.placements
    work = PAGE_WORK if work is None else work
    of_wheel = Budget(work // WHEEL_SHARE)
    wheel = fewest_changes(*fitted, could_be_loaded, of_wheel)
    full = work == FULL_WORK and bool(song.edited.data)
    of_rhythms = Budget(work // RHYTHM_SHARE)
    rhythms: tuple[RhythmRemedy, ...] = ()
    fits = 0
    if full:
        from pegwright.song_pipeline.rhythms import rhythm_remedies  # noqa: PLC0415  # a report page has none

        rhythms, fits = rhythm_remedies(song, of_rhythms)
    remedies = find_remedies(*fitted, Budget(work - of_wheel.spent - of_rhythms.spent))
    complete = remedies.complete and of_wheel.complete and of_rhythms.complete
    remedies = replace(remedies, complete=complete, rhythms=rhythms, tried=remedies.tried + fits)
    return _with_edits_tried(song, remedies) if full else remedies, wheel


def _with_edits_tried(song: FittedSong, remedies: Remedies) -> Remedies:
    """The remedies with how far the song falls short with --performed and --swing straight, where that is better."""
    from pegwright.remedy.changes import SongEdit  # noqa: PLC0415  # as above

    performed = straight = None
    if any(finding.code == PLAYED_CODE for finding in song.edited.findings):
        performed = _with_edit(song, remedies.now, SongEdit.PERFORMED)
    elif song.request.swing is None:
        straight = _with_edit(song, remedies.now, SongEdit.STRAIGHT)
    return replace(remedies, performed=performed, straight=straight)


def _with_edit(song: FittedSong, now: Shortfall, edit: SongEdit) -> Shortfall | None:
    """How far a song falls short with an edit of the whole of it; None where it does not apply, or is no better.

    Args:
        song: as it was fitted.
        now: how far it falls short as it is.
        edit: what is tried.
    """
    from pegwright.remedy.changes import SongEdit  # noqa: PLC0415  # as above
    from pegwright.remedy.song_remedies import shortfall_of  # noqa: PLC0415

    edited, chosen = song.edited, song.options
    options = replace(
        song.request.options, transpose_semitones=chosen.transpose_semitones, start_steps=chosen.start_steps
    )
    request = edit.added_to(replace(song.request, search=None, options=options))
    try:
        tried = edit_score(score_of(edited.data, Path(edited.path))[0], song.wheel, request)
        if edit is SongEdit.STRAIGHT and not any(
            each.code == STRAIGHTENED_CODE and each.count for each in tried.findings
        ):
            return None
        fitted = fit_edited(tried, song.wheel)
    except UsageError:  # such as a tempo of the hand that is too fast for the wheel: no remedy
        return None
    shortfall = shortfall_of([turn.score for turn in fitted.turns], fitted.placements)
    return shortfall if shortfall < now else None


def set_loads(song: FittedSong, window_ms: float | None = None) -> tuple[SetLoad, ...]:
    """The load round the turn of every set of plates that a song takes.

    Args:
        song: on its wheel.
        window_ms: for all channels together; None takes `usual_window_ms`.

    Raises:
        UsageError: the window is longer than the turn.
    """
    from pegwright.load import SetLoad, loads_of, usual_window_ms  # noqa: PLC0415  # loaded where asked for

    wheel, us_per_quarter = song.wheel, song.turns[0].placement.us_per_quarter
    window_ms = usual_window_ms(wheel, us_per_quarter) if window_ms is None else window_ms
    sets = []
    for pinning, turn in enumerate(song.pinnings):
        loads = loads_of(turn.pins, wheel, turn.placement.resolution, window_ms, turn.score)
        sets.append(SetLoad(song.letter(pinning), song.turns_of(pinning), turn.pins, loads))
    return tuple(sets)
