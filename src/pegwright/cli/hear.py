"""`pegwright hear`: what the pins will play, as sound, before one is set."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from pegwright.ask.table import Topic
from pegwright.cli.grouped import command, option
from pegwright.cli.kinds import NamedPath, WholeRange
from pegwright.cli.maps import finding_lines, map_name, read_map
from pegwright.cli.options import fit_options, load_wheel, wheel_option
from pegwright.cli.outputs import refuse_inputs, report_stopped
from pegwright.cli.progress import working
from pegwright.cli.song_argument import chosen_song, song_option
from pegwright.cli.width import say_wrapped
from pegwright.errors import UsageError
from pegwright.units import listed, printed

if TYPE_CHECKING:
    from pegwright.cli.song_argument import ChosenSong
    from pegwright.config.seam_file import SeamFile
    from pegwright.preview.mix import Recording
    from pegwright.preview.perform import Wish
    from pegwright.preview.performance import Performance
    from pegwright.song import FittedSong, PinnedSong
    from pegwright.wheel import Wheel

COMPARE_WORDS = {  # a test holds the names to preview/perform.py, which --help must not load
    "beside": "The score is on the left, the pins are on the right.",
    "after": "First comes the score, then the pins.",
}
MAX_TURNS = 1000
_WAV, _MIDI = (".wav", ".wave"), (".mid", ".midi")


@command(
    epilog="""\b
Examples:
  pegwright hear waltz.mid                       writes waltz-pins.wav and waltz-pins.mid
  pegwright hear waltz.toml                      a song file, with all its options
  pegwright hear waltz.mid -o waltz.wav --compare beside
  pegwright hear march.mxl --only-changed -o moved.wav
  pegwright hear waltz-pins/pin-map.json         the pins of a map, without its score
  pegwright hear round.mid --bars 1-12 --turns 3 --seams seams.toml -o limp.wav

docs/hearing-a-song.md describes how every channel sounds and what a seam file is."""
)
@click.argument("song", type=NamedPath())
@option(
    "-o", "--out", type=NamedPath(), help="A .wav or .mid file, or a folder for both; default: both in this folder."
)
@wheel_option
@song_option
@partial(fit_options, without=("turns",))  # hear has its own
@option(
    "--turns",
    topic=Topic.SONG,
    metavar="TURNS",
    type=WholeRange(1, MAX_TURNS),
    help="Turns to play; default: those that the song takes.",
)
@option("--seams", "seam_file", type=NamedPath(), help="Measured seam errors, to hear their effect.")
@option(
    "--compare",
    type=click.Choice(list(COMPARE_WORDS)),
    help="The score too: beside (left, pins right), or the pins after it.",
)
@option("--only-changed", is_flag=True, help="Play only notes that were moved (as pinned) or left out (as written).")
@option("--no-leads", is_flag=True, help="As if the readers were set to compensate for the channels' leads.")
@option("--even", is_flag=True, help="Every strike equally loud, as pins give it; default: as loud as the score says.")
@option("--soundfont", type=NamedPath(), help="Play the WAV with this .sf2 file, by fluidsynth.")
@option("--overwrite", is_flag=True, help="Replace files of the same names.")
def hear(
    song: Path,
    out: Path | None,
    wheel_path: Path,
    name: str | None,
    turns: int | None,
    seam_file: Path | None,
    compare: str | None,
    only_changed: bool,
    no_leads: bool,
    even: bool,
    soundfont: Path | None,
    overwrite: bool,
    **options: Any,  # noqa: ANN401  # click passes options by name
) -> None:
    """Hear SONG as the pins will play it, as a WAV and a MIDI file.

    SONG is a score; a song file (.toml) that says all options, or with --song a song set; or a pin map, its
    pin-map.json, the folder that `pegwright pin` wrote, or with --tempo a folder that has the CSV files of all
    plates alone. Every pin strikes when it trips its channel, its lead
    later, with pin offsets and, if given, seam errors. Notes that are left out are not heard.
    """
    wanted = chosen_song(song, wheel_path, name, options)
    wheel = load_wheel(wanted.wheel)
    from pegwright.config.seam_file import load_seams  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.preview.perform import Compare, Wish  # noqa: PLC0415
    from pegwright.read.pinmap import is_pin_map  # noqa: PLC0415

    of_map = is_pin_map(wanted.score)
    files = _files(map_name(song) if of_map else wanted.stem, out, soundfont)
    report_stopped(files[0])
    refuse_inputs(files, wanted.inputs | {"seam file": seam_file, "SoundFont": soundfont})
    _check_free(files, overwrite)
    seams = load_seams(seam_file, wheel) if seam_file else None
    wish = Wish(
        turn_count=turns,
        seam_errors_mm=seams.errors_mm if seams else (),
        compare=Compare(compare) if compare else None,
        only_changed=only_changed,
        leads=not no_leads,
        even=even,
    )
    with working(f"Playing {song.name}"):
        hearing = (_hear_map if of_map else _hear_song)(wanted, wheel, wish)
    if not hearing.performance.strike_count:
        say_wrapped(f"Nothing to hear: {hearing.nothing}. Nothing was written.")
        return
    with working(f"Writing {song.name}"):
        recording = _write(hearing.performance, files, soundfont, overwrite)
    lines = _summary(hearing, wish) + _plate_lines(seams, hearing.song)
    if recording:
        lines.append(f"Sound: {recording.seconds:.1f} s, 44.1 kHz, 16 bits, true peak {recording.peak_dbtp:.1f} dBTP.")
    say_wrapped("\n".join([*lines, f"Written: {', '.join(map(str, files))}"]))


class _Heard(NamedTuple):
    """What is heard of a song or of a pin map, and what there is to report of it.

    Args:
        song: by its pins.
        performance: its strikes.
        put_off_s: by how many seconds it was delayed.
        nothing: why nothing would be heard.
        lines: on the notes that sound and do not, or on the map.
    """

    song: PinnedSong
    performance: Performance
    put_off_s: float
    nothing: str
    lines: list[str]


def _hear_song(wanted: ChosenSong, wheel: Wheel, wish: Wish) -> _Heard:
    from pegwright.preview.perform import perform  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.song_pipeline.fitting import fit_file  # noqa: PLC0415

    fitted = fit_file(wanted.score, wheel, wanted.request)
    performance, put_off_s = perform(fitted, wish)
    nothing = _why_nothing(fitted, wish.only_changed)
    return _Heard(fitted.pinned, performance, put_off_s, nothing, _note_lines(fitted, wish))


def _hear_map(wanted: ChosenSong, wheel: Wheel, wish: Wish) -> _Heard:
    from pegwright.preview.perform import perform_pins  # noqa: PLC0415  # keeps numpy out of --help

    of_score = {"--compare": bool(wish.compare), "--only-changed": wish.only_changed}
    read = read_map(wanted.score, wheel, wanted.request, of_score)
    performance, put_off_s = perform_pins(read.song, wish)
    lines = [
        "Every pin is heard equally loud: a pin map does not say how loud a note is.",
        *finding_lines(read.findings),
    ]
    return _Heard(read.song, performance, put_off_s, "the map has no pins", lines)


def _files(stem: str, out: Path | None, soundfont: Path | None) -> list[Path]:
    """The files to write."""
    from pegwright.write.names import safe_name  # noqa: PLC0415  # keeps start-up light

    suffix = out.suffix.lower() if out else ""
    if out and suffix in (*_WAV, *_MIDI):
        if soundfont and suffix in _MIDI:
            raise UsageError("goes with a WAV only", where="--soundfont", hint="give -o a name that ends in .wav")
        return [out]
    if out and suffix and not out.is_dir():
        raise UsageError("ends neither in .wav nor in .mid", where=str(out), hint="or name a folder that exists")
    name = f"{safe_name(stem)}-pins"
    return [(out or Path()) / f"{name}{suffix}" for suffix in (".wav", ".mid")]


def _check_free(files: list[Path], overwrite: bool) -> None:
    """Refuse before any work the files that would be refused after it."""
    from pegwright.write.folder import OVERWRITE_HINT  # noqa: PLC0415

    for file in files:
        if file.exists() and not overwrite:
            raise UsageError("the file exists", where=str(file), hint=OVERWRITE_HINT)


def _write(performance: Performance, files: list[Path], soundfont: Path | None, overwrite: bool) -> Recording | None:
    """Make and write the files; the recording, if one of them is a WAV."""
    from pegwright.preview.midi_out import midi_bytes  # noqa: PLC0415
    from pegwright.preview.mix import record  # noqa: PLC0415
    from pegwright.preview.soundfont import record_with  # noqa: PLC0415
    from pegwright.preview.wav import wav_bytes  # noqa: PLC0415
    from pegwright.write.folder import write_file, write_files  # noqa: PLC0415

    midi, recording, contents = midi_bytes(performance), None, {}
    for file in files:
        if file.suffix.lower() in _MIDI:
            contents[file] = midi
        else:
            recording = record_with(soundfont, midi) if soundfont else record(performance)
            contents[file] = wav_bytes(recording)
    if len(files) == 1:
        write_file(files[0], contents[files[0]], overwrite)
    else:  # both or neither; whether they may be replaced was checked before
        write_files(files[0].parent, {file.name: data for file, data in contents.items()}, overwrite=True)
    return recording


def _why_nothing(fitted: FittedSong, only_changed: bool) -> str:
    if not fitted.score.note_count:
        return "the song has no notes"
    return "no note was moved or left out" if only_changed else "no note has a pin"


def _summary(hearing: _Heard, wish: Wish) -> list[str]:
    """Lines on what sounds, and on what a listener should know."""
    from pegwright.strikes import late_seconds, plate_late_seconds, turn_seconds  # noqa: PLC0415  # keeps start-up light
    from pegwright.units import plural, quarters_per_minute  # noqa: PLC0415
    from pegwright.write.tables import one_line  # noqa: PLC0415

    song, wheel = hearing.song, hearing.song.wheel
    tempo = quarters_per_minute(song.us_per_quarter)
    turn_s = turn_seconds(wheel, song.us_per_quarter)
    turns = plural(wish.turn_count or len(song.turns), "turn")
    lines = [
        f"{one_line(song.title, 60)}: {plural(hearing.performance.strike_count, 'strike')}, "
        f"{turns} of {turn_s:.1f} s at {tempo:.4g} quarter notes a minute."
    ]
    lines += hearing.lines
    late_ms = [round(late_s * 1000, 1) for late_s in late_seconds(wheel, turn_s).tolist()]
    leads = sorted({late_ms[channel] for turn in song.turns for channel in turn.pins.channel.tolist()})
    if wish.leads and leads and leads[-1] > leads[0]:
        lines.append(f"Leads of {leads[0]:g} to {leads[-1]:g} ms are heard; --no-leads takes them out.")
    if wish.seam_errors_mm:
        plates_ms = plate_late_seconds(wheel, turn_s, wish.seam_errors_mm) * 1000
        late, early = max(0.0, plates_ms.max()), max(0.0, -plates_ms.min())
        lines.append(f"Seams: against plate 1, plates come up to {late:.1f} ms late and {early:.1f} ms early.")
    if hearing.put_off_s:
        lines.append(f"Something sounds before the song's start, which is {hearing.put_off_s:.2f} s into the files.")
    return lines


def _plate_lines(seams: SeamFile | None, song: PinnedSong) -> list[str]:
    """Which plates the seams were measured with, and where the show of a pin map has other ones at their places."""
    if seams is None:
        return []
    mounted = {each: None for turn in song.pinnings for each in turn.mounted}
    if not (mounted or seams.set_number or seams.order):
        return []
    plates = seams.order or tuple(range(1, song.wheel.plate_count + 1)) if mounted else seams.order
    whose = f"set {seams.set_number or 1}" if mounted or seams.set_number else "plates"
    if not plates:
        return [f"The seams are those of {whose}.", *_other_set(seams, song)]
    line = f"The seams are those of {whose} with plates {_listed(plates)} at places 1 to {len(plates)}"
    if not mounted:
        return [f"{line}, and of no other order.", *_other_set(seams, song)]
    measured = ((seams.set_number or 1) - 1, tuple(plate - 1 for plate in plates))
    others = [each for each in mounted if (each.plate_set, each.plates) != measured]
    if not others:
        return [f"{line}, as the show has them for this song."]
    has = listed([f"set {printed(each.plate_set)} with plates {_listed(map(printed, each.plates))}" for each in others])
    return [f"{line}. For this song the show has {has}: what is heard here does not hold for those plates."]


def _other_set(seams: SeamFile, song: PinnedSong) -> list[str]:
    """That the song is for another set of plates than was measured."""
    own = song.wheel.plate_set
    if own is None or seams.set_number in (None, printed(own)):
        return []
    return [f"The song is for set {printed(own)}: what is heard here does not hold for those plates."]


def _listed(plates: Iterable[int]) -> str:
    return listed(list(map(str, plates)))


def _note_lines(fitted: FittedSong, wish: Wish) -> list[str]:
    """How the score is heard, and what became of its notes."""
    from pegwright.tell.counts import count_words, damage_words  # noqa: PLC0415  # keeps start-up light

    how = "heard as written" if wish.compare or wish.only_changed else "not heard"
    left_out = f" Those left out are {how}; `pegwright fit` says why." if fitted.left_out_count else ""
    compared = [COMPARE_WORDS[wish.compare]] if wish.compare else []
    counted = f"{count_words(fitted.count)}.{left_out} {damage_words(fitted.report)}".strip()
    return [*compared, counted, *_later_turns(fitted, wish)]


def _later_turns(fitted: FittedSong, wish: Wish) -> list[str]:
    """How many of the notes that sound are in turns that are not played; nothing where there are none."""
    from pegwright.units import plural  # noqa: PLC0415  # keeps start-up light

    played, turns = wish.turn_count or len(fitted.turns), len(fitted.turns)
    unheard = sum(int(turn.placement.sounding.sum()) for turn in fitted.turns[played:])
    if not unheard:
        return []
    where = f"turn {turns}" if turns == played + 1 else f"turns {played + 1} to {turns}"
    score = "; the score is heard through all turns" if wish.compare else ""
    notes = f"{plural(unheard, 'note')} {'is' if unheard == 1 else 'are'} in {where}"
    return [f"Of those that sound, {notes}, which the pins do not play here{score}."]
