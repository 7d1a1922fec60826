"""Where things are in a checkout."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
SONGS = ROOT / "songs"


@dataclass(frozen=True)
class ScoreFolders:
    """Folders of scores that others wrote, as one; of a name that several have, the first folder's file counts."""

    folders: tuple[Path, ...]

    def __truediv__(self, name: str) -> Path:
        places = [folder / name for folder in self.folders]
        return next((place for place in places if place.exists()), places[-1])

    def glob(self, pattern: str) -> list[Path]:
        """The files whose name matches, by name."""
        names = {path.name for folder in self.folders for path in folder.glob(pattern) if path.is_file()}
        return [self / name for name in sorted(names)]

    def note_counts(self) -> dict[str, tuple[int, int]]:
        """(notes, bars) of every file there is, as other programs counted them."""
        counts: dict[str, tuple[int, int]] = {}
        for folder in self.folders:
            if (folder / "MANIFEST.tsv").exists():
                with (folder / "MANIFEST.tsv").open(encoding="utf-8") as manifest:
                    rows = list(csv.DictReader(manifest, delimiter="\t"))
                counts |= {row["file"]: (int(row["notes"]), int(row["bars"])) for row in rows}
        return {path.name: counts[path.name] for path in self.glob("[0-9]*")}


BUNDLED_SCORES = ROOT / "tests" / "data" / "scores"
SCORES = ScoreFolders((BUNDLED_SCORES, ROOT.parent / "shared" / "scores"))  # the second may be missing
