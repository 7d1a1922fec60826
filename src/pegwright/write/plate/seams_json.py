"""Measured plates placed on the rim, as JSON (`schema/seams-1.json`)."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.facts import speed_at
from pegwright.json_value import Json
from pegwright.plate.climate import Growth
from pegwright.plate.cutting import Cut, Trim
from pegwright.plate.placing import PlacedPlates
from pegwright.units import printed
from pegwright.write.json_text import json_file, rounded
from pegwright.write.pin_map.json import wheel_json
from pegwright.write.plate.cut import cut_json, trims_json
from pegwright.write.plate.seams import Tempos, seam_verdicts

FORMAT = "pegwright seams"
VERSION = 1


def seams_json(
    placed: PlacedPlates, tempos: Tempos, grown: Sequence[Growth] = (), cut: Cut | Sequence[Trim] | None = None
) -> bytes:
    """What to do at every seam, and what is left.

    Args:
        placed: the plates.
        tempos: at which errors are times.
        grown: how plates grow in heat and damp.
        cut: what cutting an edge back costs, or trimming, if that was asked for.
    """
    measured, held = placed.measured, placed.held
    document: dict[str, Json] = {
        "wheel": wheel_json(placed.wheel),
        "set": measured.set_number,
        "order": list(measured.order),
        "held": held.how,
        "datum_place": printed(held.datum),
        "closed": placed.closed,
        "over_mm": rounded(placed.over_mm),
        "total_error_mm": rounded(placed.total_mm),
        "judged_beside": tempos.of,
        "seams": _seams(placed, tempos),
        "plates": [
            {
                "place": printed(plate.place),
                "plate": measured.order[plate.place],
                "displacement_mm": rounded(plate.displacement_mm),
                "shift_mm": rounded(plate.shift_mm),
            }
            for plate in placed.plates
        ],
        "growths": [
            {
                "climate": each.climate.name,
                "celsius": each.climate.celsius,
                "humidity_percent": each.climate.humidity_percent,
                "least_mm": rounded(each.least_mm),
                "usual_mm": rounded(each.usual_mm),
                "greatest_mm": rounded(each.greatest_mm),
            }
            for each in grown
        ],
        "cut": cut_json(cut) if isinstance(cut, Cut) else None,
        **({} if cut is None or isinstance(cut, Cut) else {"trims": trims_json(cut)}),
    }
    return json_file(FORMAT, VERSION, document)


def _seams(placed: PlacedPlates, tempos: Tempos) -> list[Json]:
    verdicts = seam_verdicts(placed, tempos)
    seams: list[Json] = []
    for number, seam in enumerate(placed.seams):
        times: list[Json] = [
            {
                "quarters_per_minute": tempo,
                "ms_per_mm": rounded(speed_at(placed.wheel, tempo).ms_per_mm),
                "error_ms": rounded(of_tempo[number][0]),
                "interval_ms": rounded(intervals_ms[number]),
                "verdict": of_tempo[number][1].words,
            }
            for tempo, intervals_ms, of_tempo in zip(
                tempos.quarters_per_minute, tempos.intervals_ms, verdicts, strict=True
            )
        ]
        seams.append(
            {
                "after_place": printed(seam.after),
                "gap_mm": rounded(seam.gap_mm),
                "error_mm": rounded(seam.error_mm),
                "shims_mm": list(map(rounded, seam.shims_mm)),
                "trim_mm": rounded(seam.trim_mm),
                "closes": seam.closes,
                "times": times,
            }
        )
    return seams
