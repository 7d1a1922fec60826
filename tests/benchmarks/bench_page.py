"""How long the report page takes to draw 5,000 pins, beside a bare clear of the same canvas.

Run: python tests/benchmarks/bench_page.py   (needs Chromium)
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np

from placed import song_of

sys.path.insert(0, str(Path(__file__).parents[1]))

from playwright.sync_api import sync_playwright

from pegwright.ask.options import FitOptions
from pegwright.tell.findings import fit_with_findings
from pegwright.write.page.data import page_data
from pegwright.write.page.page import page_html
from samples import channel, score, wheel

NOTES = 5000
CLEAR = """() => { const c = document.getElementById('unrolled'), p = c.getContext('2d'), t = performance.now();
for (let i = 0; i < 200; i++) p.fillRect(0, 0, c.width, c.height); return (performance.now() - t) / 200; }"""


def main() -> None:
    chance = np.random.default_rng(1)
    big = wheel([channel(f"c{pitch}", [pitch], restrike_ms=20) for pitch in range(40, 90)], plate_count=12)
    places = chance.choice(50 * 384, NOTES, replace=False)
    song = score([(int(place // 50) * 6, 40 + int(place % 50)) for place in places])
    placement, findings = fit_with_findings(song, big, FitOptions())
    html = page_html(page_data(song_of(song, big, placement, findings)))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "page.html"
        path.write_bytes(html)
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(path.as_uri())
        whole, clear = page.evaluate("pegwrightPage.frameMs(60)"), page.evaluate(CLEAR)
        for _ in range(6):
            page.click("#zoom-in")
        zoomed = page.evaluate("pegwrightPage.frameMs(60)")
        browser.close()
    print(f"{placement.placed_count} pins, page of {len(html) / 1e6:.1f} MB")
    print(f"whole turn: {whole:.1f} ms a frame, {whole / max(clear, 1e-3):.0f} times a bare clear")
    print(f"zoomed in:  {zoomed:.1f} ms a frame")


if __name__ == "__main__":
    main()
