"""The stages in order, from a file to placed notes and the files a maker holds.

Used alike by the command line and anything else that serves a user; knows no terminal.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.draw.load_plot import as_one, load_pages
from pegwright.draw.paper import Paper
from pegwright.draw.pin_sheet import SheetNotes, bar_marks, pin_sheets
from pegwright.errors import InputError, InternalError, UsageError
from pegwright.findings import Finding, Severity
from pegwright.fit.best import Best, find_best, search_finding
from pegwright.fit.cut import cut_turns
from pegwright.fit.edits import move_part
from pegwright.fit.fit_song import fit_song, place_song
from pegwright.fit.offset import constant_offset, shift
from pegwright.fit.options import FitOptions
from pegwright.fit.ornaments import write_out_ornaments
from pegwright.fit.performed import Beat, PerformedSettings, quantise_performed
from pegwright.fit.performed_beats import BeatTrack, beats_of_tempo_map, seconds_of, tapped_beats
from pegwright.fit.performed_model import wheel_places
from pegwright.fit.performed_score import score_on_grid
from pegwright.fit.performed_tell import beyond_beats
from pegwright.fit.pins import pins_of
from pegwright.fit.remedy import Remedies, find_remedies
from pegwright.fit.section import select_bars
from pegwright.fit.swing import swing_as_marked, swing_score
from pegwright.fit.thin import thin
from pegwright.fit.verify import verify
from pegwright.fit.verify_held import verify_held
from pegwright.fit.wheel_changes import WheelRemedy, fewest_changes
from pegwright.load import SetLoad, loads_of, usual_window_ms
from pegwright.placement import PinMap, Placement, pin_map_sha256
from pegwright.read import read_score, written_music
from pegwright.read.beats import read_beats
from pegwright.request import AUTO, Played, Request
from pegwright.score import Score
from pegwright.show.count import pin_count
from pegwright.show.turns import letter, running_order
from pegwright.units import fraction_text, plural, printed, ratio_text
from pegwright.wheel import Wheel
from pegwright.write.count_data import count_csv, count_json, count_places_csv
from pegwright.write.count_pdf import count_pdf
from pegwright.write.count_text import count_text
from pegwright.write.notation.marks import LEVELS
from pegwright.write.notation.markup import pictures_svg
from pegwright.write.notation.pictures import NOT_SHOWN, ScorePictures, score_pictures
from pegwright.write.page import NO_PICTURES, page_html
from pegwright.write.page_data import outcome_words, page_data
from pegwright.write.pdf import pdf_bytes
from pegwright.write.pinmap_csv import pin_map_csv
from pegwright.write.pinmap_json import pin_map_json
from pegwright.write.qr import map_qr
from pegwright.write.report_json import report_json
from pegwright.write.report_text import report_text
from pegwright.write.svg import svg_text

MOST_QUARTERS_PER_MINUTE = 1000  # of a song played by hand
PLAIN_ORNAMENTS = ("ornaments", "tremolos")  # a reader's findings that they are played as plain notes


@dataclass(frozen=True, slots=True, eq=False)
class Edited:
    """A song as it is to be fitted: read, and with the changes made that were asked for.

    Args:
        song: the file.
        notes_read: notes in the whole file, before bars were selected.
        score: what is to be fitted.
        request: what was asked, with a constant lateness that was searched for as a number of ticks.
        findings: of reading and of the changes.
        dropped: how many notes were dropped to thin the texture.
    """

    song: Path
    notes_read: int
    score: Score
    request: Request
    findings: tuple[Finding, ...]
    dropped: int


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """One song on one wheel: what was read, what was asked and what came of it.

    Args:
        song: the file.
        notes_read: notes in the whole file, before bars were selected.
        score: the part of the song that was fitted.
        wheel, placement: see there.
        request: see `Edited`.
        findings: of every stage, in order.
        pins: the pin map.
        best: what the search found, if one was asked for; its first is what was fitted.
    """

    song: Path
    notes_read: int
    score: Score
    wheel: Wheel
    request: Request
    placement: Placement
    findings: tuple[Finding, ...]
    pins: PinMap
    best: Best | None = None


def fit_file(song: Path, wheel: Wheel, request: Request) -> Fitted:
    """Read a song and fit it to a wheel.

    Raises:
        InputError: the file cannot be read as music.
        UsageError: the request cannot be met, such as bars that the song has not.
        InternalError: the independent verifier found the placement broken.
    """
    return fit_edited(edit_song(song, wheel, request), wheel)


def fit_edited(edited: Edited, wheel: Wheel) -> Fitted:
    """Fit a song that has been read and edited already; see `fit_file`."""
    score, request = edited.score, edited.request
    start_steps = request.options.start_steps
    if not 0 <= start_steps < wheel.turn_steps:
        raise UsageError(
            f"step {fraction_text(printed(start_steps))} is not on the turn",
            where="start",
            hint=f"the steps of {wheel.name} are 1 to {wheel.turn_steps}",
        )
    best = None
    if request.search is None:
        placement, fit_findings = fit_song(score, wheel, request.options)
    else:
        best = find_best(score, wheel, request.options, request.search, request.report_best)
        placement = best.found[0].placement
        fit_findings = (search_finding(score, best), *best.found[0].findings)
    pins = pins_of(score, wheel, placement)
    broken = (*verify(score, wheel, placement), *verify_held(wheel, placement, pins))
    if broken:
        raise InternalError(
            f"the placement broke {len(broken)} of its own rules, the first: {broken[0]}",
            where=str(edited.song),
            hint="nothing was written; please report this with the song and the wheel file",
        )
    told = (*edited.findings, *fit_findings)
    return Fitted(edited.song, edited.notes_read, score, wheel, request, placement, told, pins, best)


def edit_song(song: Path, wheel: Wheel, request: Request) -> Edited:
    """Read a song and make the changes that were asked for: offset, playing, bars, ornaments, parts, swing, texture.

    Raises:
        InputError: the file cannot be read as music, or a file of beats cannot.
        UsageError: the request cannot be met, such as bars that the song has not.
    """
    whole, findings = read_score(song)
    if request.offset == AUTO:
        request = replace(request, offset=constant_offset(whole))
    score, told = _without_offset(whole, int(request.offset or 0))
    if request.played is not None:
        score, heard = _put_on_grid(score, wheel, request.played)
        told = (*told, *heard)
    if request.bars is not None:
        score = select_bars(score, *request.bars)
    if request.ornaments is not None:
        score, played = write_out_ornaments(score, request.ornaments)
        findings = tuple(finding for finding in findings if finding.code not in PLAIN_ORNAMENTS)
        told = (*told, *played)
    for name, semitones in request.part_semitones:
        score, moved = move_part(score, name, semitones)
        told = (*told, *moved)
    if request.swing is not None:
        score = swing_score(score, request.swing)
        message = f"pairs of eighths swung {ratio_text(request.swing)}"
        told = (*told, Finding("swung", Severity.NOTE, score.file, message))
    elif score.bar_map.swing:
        score = swing_as_marked(score)
        message, hint = "pairs of eighths swung as the score marks", "--swing 1:1 plays them even"
        told = (*told, Finding("swung", Severity.NOTE, score.file, message, hint))
    before = score.note_count
    if request.most_at_once is not None:
        score, dropped = thin(score, request.most_at_once, request.options)
        told = (*told, *dropped)
    return Edited(song, whole.note_count, score, request, (*findings, *told), before - score.note_count)


def _put_on_grid(score: Score, wheel: Wheel, played: Played) -> tuple[Score, tuple[Finding, ...]]:
    """A song played by hand with its onsets where they were meant."""
    beats = None
    if played.beats_file is not None:
        beats = read_beats(played.beats_file)
    elif played.tapped_part is not None:
        score, beats = tapped_beats(score, played.tapped_part)
    _check_pace(score, beats_of_tempo_map(score) if beats is None else beats, played)
    result, findings = quantise_performed(score, beats, PerformedSettings(played.beat, places=wheel_places(wheel)))
    beyond = () if beats is None else beyond_beats(score, beats)
    return score_on_grid(score, result), (*beyond, *findings)


def _check_pace(score: Score, beats: BeatTrack, played: Played) -> None:
    """Refuse beats at which no one plays, before they make the song longer than any machine can hold."""
    if not score.note_count or played.beat is Beat.FIND:
        return
    seconds = seconds_of(score, frozen_ints([score.onset_ticks.min(), score.onset_ticks.max()]))
    lasts_s, quarters = float(np.ptp(seconds)), float(np.ptp(beats.quarters_at(seconds)))
    if quarters > 1 and quarters * 60 > MOST_QUARTERS_PER_MINUTE * lasts_s:
        pace = quarters * 60 / lasts_s if lasts_s else np.inf
        told = f"{pace:,.0f}" if pace < 1e15 else f"{pace:.0e}"
        raise UsageError(
            f"by these beats the song is played at {told} quarters a minute, above {MOST_QUARTERS_PER_MINUTE:,}",
            where=str(played.beats_file or score.file),
            hint="give beats in seconds, or let them be found: --beats find",
        )


def remedies_for(fitted: Fitted) -> tuple[Remedies, WheelRemedy | None]:
    """What would help a song that was fitted: changes to it, and the fewest to the wheel."""
    about = (fitted.score, fitted.wheel, _options(fitted), fitted.placement)
    return find_remedies(*about), fewest_changes(*about)


def _options(fitted: Fitted) -> FitOptions:
    """What the song was fitted with, transposition and start chosen."""
    return fitted.best.found[0].options if fitted.best else fitted.request.options


def set_loads(fitted: Fitted, window_ms: float | None = None) -> tuple[SetLoad, ...]:
    """The load round the turn of every set of plates that a song takes.

    A song longer than a turn is cut at the turns, and each is fitted as the first was; equal turns share a set.

    Args:
        fitted: the song on its wheel.
        window_ms: for all channels together; None takes what `usual_window_ms` says.

    Raises:
        UsageError: the window is longer than the turn.
    """
    wheel, us_per_quarter = fitted.wheel, fitted.placement.us_per_quarter
    window_ms = usual_window_ms(wheel, us_per_quarter) if window_ms is None else window_ms
    turns = [(fitted.score, fitted.placement)]
    scores = cut_turns(fitted.score, wheel)
    if len(scores) > 1:
        options = replace(_options(fitted), us_per_quarter=us_per_quarter)
        turns = [(score, place_song(score, wheel, options)) for score in scores]
    maps = [pins_of(score, wheel, placement) for score, placement in turns]
    running = running_order([pin_map_sha256(pins) for pins in maps])
    loads = []
    for pinning in range(max(running) + 1):
        on_turns = tuple(turn for turn, other in enumerate(running) if other == pinning)
        pins, (score, placement) = maps[on_turns[0]], turns[on_turns[0]]
        name = letter(pinning) if len(turns) > 1 else ""
        loads.append(SetLoad(name, on_turns, pins, loads_of(pins, wheel, placement.resolution, window_ms, score)))
    return tuple(loads)


def load_plot(fitted: Fitted, sets: tuple[SetLoad, ...], as_pdf: bool) -> bytes:
    """The load round the turn drawn: as PDF, a page for each load, or as one SVG with all of them."""
    pages = load_pages(fitted.wheel, fitted.score.title, sets)
    return pdf_bytes(pages, f"{fitted.score.title}: load") if as_pdf else svg_text(as_one(pages)).encode()


def _without_offset(score: Score, ticks: int) -> tuple[Score, tuple[Finding, ...]]:
    if not ticks:
        return score, ()
    message = f"every onset taken {abs(ticks)} of the file's ticks {'earlier' if ticks > 0 else 'later'}"
    return shift(score, ticks), (Finding("offset-taken-out", Severity.NOTE, score.file, message),)


def song_files(fitted: Fitted, paper: Paper, spares_percent: float) -> dict[str, bytes]:
    """Everything a maker holds for one song: file name -> contents.

    Args:
        fitted: the song on its wheel.
        paper: for what is printed.
        spares_percent: spare pins to count, 0 to 100.

    Raises:
        UsageError: the spares are out of their bounds, or the wheel has more rows than marks.
    """
    score, wheel, placement, pins = fitted.score, fitted.wheel, fitted.placement, fitted.pins
    count = pin_count([pins], wheel, spares_percent)
    request, pictures = fitted.request, _pictures(fitted)
    return {
        "report.txt": report_text(score, wheel, placement, fitted.findings, request).encode(),
        "report.json": report_json(score, wheel, placement, fitted.findings, request=request),
        "report.html": _page(fitted, pictures),
        **({"score-bars.svg": pictures_svg(pictures, score.title)} if pictures.pictures else {}),
        "pin-map.json": pin_map_json(score, wheel, placement, pins, request),
        **pin_map_csv(score, wheel, placement, pins),
        f"pin-sheets-{paper.name}.pdf": pin_sheet_pdf(fitted, paper),
        f"pin-count-{paper.name}.pdf": count_pdf(count, paper),
        "pin-count.txt": count_text(count).encode(),
        "pin-count.csv": count_csv(count),
        "pin-count-by-place.csv": count_places_csv(count),
        "pin-count.json": count_json(count),
    }


def report_page(fitted: Fitted) -> bytes:
    """The report page of one song as HTML, with what would help tried where there is trouble."""
    return _page(fitted, _pictures(fitted))


def _page(fitted: Fitted, pictures: ScorePictures) -> bytes:
    parts = (fitted.score, fitted.wheel, fitted.placement, fitted.pins, fitted.findings)
    return page_html(page_data(*parts, remedies_for(fitted)), pictures)


def _pictures(fitted: Fitted) -> ScorePictures:
    """The bars in trouble as music, where the song was read from MusicXML."""
    score, placement = fitted.score, fitted.placement
    outcomes = outcome_words(score, placement)
    if not len(score.written) or not any(outcome in LEVELS for outcome in outcomes):
        return NO_PICTURES
    try:
        music = written_music(fitted.song, score.sha256)
    except InputError as fault:  # moved or changed since it was read: no reason to be without the page
        return ScorePictures(told=(f"{NOT_SHOWN}: {fault.message}",))
    return score_pictures(score, placement, outcomes, music)


def pin_sheet_pdf(fitted: Fitted, paper: Paper) -> bytes:
    """The pin sheets of one song as PDF."""
    placement, wheel = fitted.placement, fitted.wheel
    start_steps = placement.start_ticks / (wheel.step_quarters * placement.resolution)
    left_out = placement.left_out_count
    remarks = (f"{plural(left_out, 'note')} of the song left out: see report.txt",) if left_out else ()
    pages = pin_sheets(
        wheel,
        fitted.pins,
        bar_marks(fitted.score, wheel, placement),
        paper,
        SheetNotes(start_steps=start_steps, remarks=remarks, qr=map_qr(fitted.pins)),
    )
    return pdf_bytes(pages, f"{fitted.score.title}: pin sheets")
