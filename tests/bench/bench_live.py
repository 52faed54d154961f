"""One look at live readings of many different spots: what the server works out, and what a page draws, for each record.

Run: python -m pytest tests/bench/bench_live.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from scenes.errors import PictureError
from scenes.layout.read import read_layout
from scenes.live.watch import watch
from scenes.uncertainty.simulate import simulated
from viewer.colours import LIGHT
from viewer.graphics import require_graphics
from viewer.logic.live import live_document, skipped_document
from viewer.scene3d import Scene
from viewer.scene3d_live import LivePicture
from viewer.scene3d_plan import view_camera

BED = Path(__file__).parents[2] / "examples" / "press_bed" / "layout.yaml"
GRIDS = {500: "25 x 20", 1000: "40 x 25", 2000: "50 x 40"}
SIZE = (960.0, 690.0)
ROUNDS = 5


def many(folder, count):
    """The bed with a grid of ``count`` stations, and one reading of each."""
    text = BED.read_text(encoding="utf-8")
    start = text.index("grid: {on: bed, grid: ") + len("grid: {on: bed, grid: ")
    text = text[:start] + GRIDS[count] + text[text.index(",", start) :]
    path = folder / f"{count}.yaml"
    path.write_text(text, encoding="utf-8")
    layout = read_layout(path)
    return layout, simulated(layout, np.random.default_rng(3)).readings


def quickest(call):
    """Shortest process time of some rounds [s]."""
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        call()
        times.append(time.process_time() - start)
    return min(times)


def test_one_look(tmp_path, capsys):
    try:
        require_graphics()
    except PictureError as error:
        pytest.skip(str(error))
    found = {}
    for count in GRIDS:
        layout, readings = many(tmp_path, count)
        scene = Scene(LIGHT)
        scene.plotter.window_size = [int(each) for each in SIZE]
        scene.show(("live",))
        scene.look(view_camera(layout, "bed", SIZE))
        picture = LivePicture(scene, layout, None)
        seen = watch(layout, readings)
        shown = live_document(layout, seen, source="", skipped=skipped_document(0, []))
        found[count] = (
            quickest(lambda layout=layout, readings=readings: watch(layout, readings)),
            quickest(lambda layout=layout, seen=seen: live_document(
                layout, seen, source="", skipped=skipped_document(0, []))),
            quickest(lambda picture=picture, shown=shown: picture.draw(shown["marks"], None)),
        )  # fmt: skip
        scene.close()
    with capsys.disabled():
        print("\nspots   watch   document   marks [s of process time]")
        for count, parts in found.items():
            print(f"{count:5d}   " + "   ".join(f"{part:.3f}" for part in parts))
        counts = np.log(list(found))
        growth = [np.polyfit(counts, np.log([parts[i] for parts in found.values()]), 1)[0] for i in range(3)]
        print("growth exponents: " + "  ".join(f"{each:.2f}" for each in growth))
    assert max(growth) < 1.5
