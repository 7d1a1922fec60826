"""Songs of our own in ABC, **kern and MEI, a quick way to read them, and what verovio hears in them."""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import subprocess
import sys
import warnings
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import pytest

from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.formats import Format
from pegwright.musicxml.reader import read_musicxml
from pegwright.notations import converter
from pegwright.notations.to_musicxml import to_musicxml
from pegwright.score import Score

THOROUGH = bool(os.environ.get("PEGWRIGHT_THOROUGH"))  # whole corpora instead of a drawn sample

ABC = """X:1
T:The Ferryman's Second Whistle
M:6/8
L:1/8
Q:3/8=80
K:G
V:1 name="Bells"
|:G2A "Am"B2c|(3def g2 [GB]2|{a}b>a-a !trill!f2e|1 e3 d3:|2 c6|]
V:2 name="Bass" clef=bass
|:G,6|z3 D3|[K:D]F6|1 A,3 z3:|2 Z|]
"""
KERN = """!!!OTL: Tide Table
**kern\t**kern
*I"Bass\t*I"Bells
*clefF4\t*clefG2
*M3/4\t*M3/4
*MM96\t*MM96
*>[A,A,B]\t*>[A,A,B]
*>A\t*>A
=1\t=1
4C\t4.c
4E 4G\t.
.\t8d
4C\t8qe
.\t4f#
=2\t=2
*\t*^
2.D\t[4a\t12A
.\t.\t12B
.\t.\t12c
.\t4a]\t4d
.\t4g;\t4e
*\t*v\t*v
*>B\t*>B
=3:|!\t=3:|!
2.C\t2.c
==\t==
*-\t*-
"""
MEI = """<?xml version="1.0" encoding="UTF-8"?>
<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">
<meiHead><fileDesc><titleStmt><title>Lock Gates</title></titleStmt><pubStmt/></fileDesc></meiHead>
<music><body><mdiv><score>
<scoreDef><staffGrp>
<staffDef n="1" lines="5" clef.shape="G" clef.line="2"><label>Bells</label><meterSig count="2" unit="4"/></staffDef>
<staffDef n="2" lines="5"><label>Kit</label><clef shape="perc"/><meterSig count="2" unit="4"/></staffDef>
</staffGrp></scoreDef>
<section>
<measure n="1" left="rptstart">
<staff n="1"><layer n="1"><beam><note xml:id="a" pname="c" oct="5" dur="8"/>
<note pname="f" oct="5" dur="8" accid.ges="s"/></beam>
<chord dur="4" tie="i"><note pname="e" oct="4"/><note pname="g" oct="4"/></chord></layer></staff>
<staff n="2"><layer n="1"><note loc="1" pnum="36" dur="4"/><note loc="5" dur="4"/></layer></staff>
<tempo tstamp="1" mm="72" mm.unit="4" mm.dots="1">quick</tempo>
</measure>
<ending n="1"><measure n="2" right="rptend">
<staff n="1"><layer n="1"><chord dur="4" tie="t"><note pname="e" oct="4"/><note pname="g" oct="4"/></chord>
<tuplet num="3" numbase="2"><note pname="c" oct="4" dur="8"/><note pname="d" oct="4" dur="8"/>
<note pname="e" oct="4" dur="8"/></tuplet></layer></staff>
<staff n="2"><layer n="1"><mRest/></layer></staff></measure></ending>
<ending n="2"><measure n="3">
<staff n="1"><layer n="1"><graceGrp grace="unacc"><note pname="b" oct="4" dur="8"/></graceGrp>
<note pname="c" oct="5" dur="2"/></layer><layer n="2"><space dur="4"/><bTrem><note pname="e" oct="4" dur="4"/></bTrem>
</layer></staff>
<staff n="2"><layer n="1"><note loc="1" pnum="36" dur="2"/></layer></staff></measure></ending>
</section></score></mdiv></body></music></mei>
"""
BY_FORM = {Format.ABC: ABC, Format.KERN: KERN, Format.MEI: MEI}

VEROVIO = """
import base64, io, json, sys
import mido, verovio
verovio.enableLog(verovio.LOG_OFF)
asked = json.load(sys.stdin)
toolkit = verovio.toolkit()
toolkit.setOptions({"midiNoCue": True, "xmlIdSeed": 1})
toolkit.setInputFrom(asked["form"])
load = toolkit.loadZipDataBase64 if asked["form"] == "mxl" else toolkit.loadData
if asked["form"] == "mxl":
    toolkit.setInputFrom("musicxml")
assert load(asked["text"])
notes = []
midi = mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit.renderToMIDI())))
per_quarter = midi.ticks_per_beat
for track in midi.tracks:
    tick, sounding = 0, {}
    for message in track:
        tick += message.time
        if message.type in ("note_on", "note_off"):
            for begun in sounding.pop(message.note, []):
                notes.append((begun / per_quarter, message.note, (tick - begun) / per_quarter))
            if message.type == "note_on" and message.velocity:
                sounding.setdefault(message.note, []).append(tick)
json.dump({"notes": notes, "mei": toolkit.getMEI({})}, sys.stdout)
"""


def convert_here(text: str, form: Format, file: str) -> bytes:
    """As `pegwright.notations.convert.convert`, but in this process, where the library is loaded only once."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return converter.convert(form.value, text).encode()
        except Exception as fault:
            raise InputError(f"music21 cannot read this: {type(fault).__name__}", where=file) from fault


def read(text: str | bytes, form: Format, file: str = "song.txt") -> tuple[Score, dict[str, int]]:
    """The score and its findings by code."""
    data = text.encode() if isinstance(text, str) else text
    musicxml, losses = to_musicxml(data, file, form)
    score, findings = read_musicxml(musicxml, file)
    return score, counts((*losses, *findings))


def counts(findings: Sequence[Finding]) -> dict[str, int]:
    return {finding.code: finding.count for finding in findings}


def onsets(score: Score) -> list[tuple[float, int]]:
    """(quarters, pitch) of every note."""
    return sorted(zip((score.onset_ticks / score.resolution).tolist(), score.pitch_midi.tolist(), strict=True))


def verovio_hears(text: str, form: str) -> tuple[list[tuple[float, int, float]], str]:
    """(onset in quarters, pitch, quarters) of every note, and the song as MEI.

    In a process of its own: verovio crashes over some files.

    Args:
        text: of the song; base64 where the form is `mxl`.
        form: verovio's name of the notation.
    """
    pytest.importorskip("verovio")
    done = subprocess.run(
        [sys.executable, "-c", VEROVIO],
        input=json.dumps({"text": text, "form": form}).encode(),
        capture_output=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, "verovio crashes over it"
    answer = json.loads(done.stdout)
    return [(onset, pitch, quarters) for onset, pitch, quarters in answer["notes"]], answer["mei"]


def unmatched(
    ours: Sequence[tuple[float, int]], theirs: Sequence[tuple[float, int]], tolerance: float = 0.03
) -> tuple[list[tuple[float, int]], list[tuple[float, int]]]:
    """Notes of each list without a partner of the same pitch within a tolerance in quarters in the other."""
    sides: dict[int, tuple[list[float], list[float]]] = defaultdict(lambda: ([], []))
    for side, notes in enumerate((ours, theirs)):
        for onset, pitch in sorted(notes):
            sides[pitch][side].append(onset)
    left: tuple[list[tuple[float, int]], list[tuple[float, int]]] = ([], [])
    for pitch, (mine, other_side) in sides.items():
        i = j = 0
        while i < len(mine) or j < len(other_side):
            if i < len(mine) and j < len(other_side) and abs(mine[i] - other_side[j]) <= tolerance:
                i, j = i + 1, j + 1
            elif j == len(other_side) or (i < len(mine) and mine[i] < other_side[j]):
                left[0].append((mine[i], pitch))
                i += 1
            else:
                left[1].append((other_side[j], pitch))
                j += 1
    return sorted(left[0]), sorted(left[1])


def corpus(pattern: str, count: int, seed: int) -> list[Path]:
    """Files of music21's own corpus, as installed: some by lot, or all of them in the thorough run."""
    music21 = pytest.importorskip("music21")
    paths = sorted((Path(music21.__file__).parent / "corpus").glob(pattern))
    return paths if THOROUGH or count >= len(paths) else random.Random(seed).sample(paths, count)  # noqa: S311
