"""The report page of a song by itself, `pegwright pin --page`, which a wheel without all measures gets as well."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pegwright.cli.maps import read_map
from pegwright.cli.outputs import refuse_inputs
from pegwright.cli.progress import working
from pegwright.cli.say import say
from pegwright.cli.strict import stop_if_left_out
from pegwright.cli.terminal import text_width
from pegwright.cli.width import say_wrapped

if TYPE_CHECKING:
    from pegwright.cli.song_argument import ChosenSong
    from pegwright.wheel import Wheel


def write_page(
    wanted: ChosenSong, wheel: Wheel, page: Path, remedies: bool | None, overwrite: bool, strict: bool
) -> None:
    """Write the report page alone, and print the report.

    Args:
        wanted: the song and its options, or a pin map.
        wheel: the wheel.
        page: the file to write.
        remedies: whether all that would help is tried, nothing, or as much as takes half a second.
        overwrite: whether the file may be replaced.
        strict: whether notes left out are an error; nothing is written then.
    """
    from pegwright.read.pinmap import is_pin_map  # noqa: PLC0415  # keeps numpy out of --help
    from pegwright.write.folder import check_file, write_file  # noqa: PLC0415

    refuse_inputs([page], wanted.inputs)
    check_file(page, overwrite)
    with working(f"Writing {page}"):
        data = _of_map(wanted, wheel) if is_pin_map(wanted.score) else _of_score(wanted, wheel, remedies, strict)
        write_file(page, data, overwrite)
    say_wrapped(f"Written: {page}")


def _of_map(wanted: ChosenSong, wheel: Wheel) -> bytes:
    from pegwright.write.page.page import page_html  # noqa: PLC0415  # as above
    from pegwright.write.page.pins import pins_page_data  # noqa: PLC0415

    read = read_map(wanted.score, wheel, wanted.request, {})
    return page_html(pins_page_data(read.song, read.findings))


def _of_score(wanted: ChosenSong, wheel: Wheel, remedies: bool | None, strict: bool) -> bytes:
    from pegwright.remedy.budget import FULL_WORK  # noqa: PLC0415  # as above
    from pegwright.song_pipeline.files import report_page  # noqa: PLC0415
    from pegwright.song_pipeline.fitting import fit_file, remedies_for  # noqa: PLC0415
    from pegwright.write.report.text import report_text  # noqa: PLC0415

    fitted = fit_file(wanted.score, wheel, wanted.request)
    say(report_text(fitted, text_width()))
    if strict:
        stop_if_left_out([fitted.count], "nothing was written")
    return report_page(fitted, remedies is not False and remedies_for(fitted, FULL_WORK if remedies else None))
