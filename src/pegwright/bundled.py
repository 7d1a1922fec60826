"""Where the bundled songs and the demo wheel are: beside the code when installed, in `songs/` of a checkout."""

from __future__ import annotations

from pathlib import Path

from pegwright.formats import SCORE_SUFFIXES

_INSTALLED = Path(__file__).parent / "songs"
_CHECKOUT = Path(__file__).parents[2] / "songs"


def songs_folder() -> Path:
    """The folder of the bundled songs."""
    return _INSTALLED if _INSTALLED.is_dir() else _CHECKOUT


def bundled_wheel() -> Path:
    """The wheel file of the Merrow Sands Pavilion.

    >>> bundled_wheel().name
    'merrow-sands.toml'
    """
    return songs_folder() / "merrow-sands.toml"


def bundled_songs() -> tuple[Path, ...]:
    """The bundled song files, by name.

    >>> bundled_songs()[0].name
    'bathing-machine-minuet.musicxml'
    """
    return tuple(sorted(path for path in songs_folder().iterdir() if path.suffix in SCORE_SUFFIXES))


def bundled_song_set() -> Path:
    """The song set of an evening at the Pavilion."""
    return songs_folder() / "pavilion-evening.toml"
