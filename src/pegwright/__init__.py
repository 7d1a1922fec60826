"""From a score to the pins of a programming wheel, for Python and notebooks; docs/python.md is the guide.

    >>> import pegwright
    >>> wheel = pegwright.load_wheel(pegwright.bundled_wheel())
    >>> fitted = pegwright.fit_file(pegwright.bundled_songs()[0], wheel)
    >>> fitted.placed_count, fitted.left_out_count
    (161, 0)

The names in `__all__` are public, with the fields and properties that their docstrings describe: where one changes,
docs/changes.md has a line. Everything else in the package is private and may change at any time.

Importing the package loads none of it: a name is imported from its room when it is first used (PEP 562), so that
`pegwright --help` does not wait for numpy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.1.0"

__all__ = [
    "BarMap",
    "Beat",
    "BeatShift",
    "Best",
    "ChannelRule",
    "ConfigError",
    "Finding",
    "FitOptions",
    "FittedSong",
    "FittedTurn",
    "InputError",
    "InternalError",
    "NoteCount",
    "Outcome",
    "Part",
    "PegwrightError",
    "PinMap",
    "Placement",
    "Played",
    "Report",
    "ReportedNote",
    "Request",
    "Score",
    "SearchRange",
    "Severity",
    "Status",
    "TempoMap",
    "UsageError",
    "Wheel",
    "__version__",
    "bundled_songs",
    "bundled_wheel",
    "fit_file",
    "fit_score",
    "load_wheel",
    "paper_named",
    "parse_wheel",
    "read_pin_map",
    "read_score",
    "song_files",
    "write_folder",
]

if TYPE_CHECKING:
    from pegwright.ask.beat_shifts import BeatShift
    from pegwright.ask.options import ChannelRule, FitOptions, SearchRange
    from pegwright.ask.request import Beat, Played, Request
    from pegwright.bundled import bundled_songs, bundled_wheel
    from pegwright.config.wheel_file import load_wheel, parse_wheel
    from pegwright.draw.paper import paper_named
    from pegwright.errors import ConfigError, InputError, InternalError, PegwrightError, UsageError
    from pegwright.findings import Finding, Severity
    from pegwright.note_count import NoteCount
    from pegwright.placement import Outcome, PinMap, Placement, Status
    from pegwright.read import read_score
    from pegwright.read.pinmap import read_pin_map
    from pegwright.score import BarMap, Part, Score, TempoMap
    from pegwright.search.best import Best
    from pegwright.song import FittedSong, FittedTurn
    from pegwright.song_pipeline.files import song_files
    from pegwright.song_pipeline.fitting import fit_file, fit_score
    from pegwright.tell.report import Report, ReportedNote
    from pegwright.wheel import Wheel
    from pegwright.write.folder import write_folder
else:
    _MODULES = {
        "ask.beat_shifts": ("BeatShift",),
        "ask.options": ("ChannelRule", "FitOptions", "SearchRange"),
        "ask.request": ("Beat", "Played", "Request"),
        "bundled": ("bundled_songs", "bundled_wheel"),
        "config.wheel_file": ("load_wheel", "parse_wheel"),
        "draw.paper": ("paper_named",),
        "errors": ("ConfigError", "InputError", "InternalError", "PegwrightError", "UsageError"),
        "findings": ("Finding", "Severity"),
        "note_count": ("NoteCount",),
        "placement": ("Outcome", "PinMap", "Placement", "Status"),
        "read": ("read_score",),
        "read.pinmap": ("read_pin_map",),
        "score": ("BarMap", "Part", "Score", "TempoMap"),
        "search.best": ("Best",),
        "song": ("FittedSong", "FittedTurn"),
        "song_pipeline.files": ("song_files",),
        "song_pipeline.fitting": ("fit_file", "fit_score"),
        "tell.report": ("Report", "ReportedNote"),
        "wheel": ("Wheel",),
        "write.folder": ("write_folder",),
    }
    _HOME = {name: module for module, names in _MODULES.items() for name in names}

    def __getattr__(name: str) -> object:
        """A public name, imported from its module now (PEP 562); hidden from type checkers, which read the imports."""
        if name not in _HOME:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from importlib import import_module  # noqa: PLC0415  # keeps the start of the command fast

        value = globals()[name] = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
        return value

    def __dir__() -> list[str]:
        """The public names, for completion."""
        return sorted({*globals(), *__all__})
