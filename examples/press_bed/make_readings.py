"""Makes the readings of this example from a known surface, through the measurement model of the program.

The machine is invented. As found, the foot F4 has settled and the middle of the bed is worn; as left, the shims named
below have been put in; truth.csv holds the bed as found. Run it after a change of the layout:
python examples/press_bed/make_readings.py
"""

from pathlib import Path

import numpy as np

from scenes.corrections.bed_feet import influence_of
from scenes.layout.read import read_layout
from scenes.readings.write import write_readings
from scenes.uncertainty.simulate import simulate_readings

HERE = Path(__file__).parent
SETTLED = np.array([0.0, 30e-6, -20e-6, -150e-6, 10e-6, 0.0])  # metres, F1 to F6
WEAR, WEAR_LENGTH, WEAR_WIDTH = 22e-6, 0.7, 0.45  # metres
SHIMMED = np.array([20e-6, 0.0, 40e-6, 140e-6, 0.0, 0.0])  # metres, F1 to F6
SEEDS = {"surface": 7, "as found": 11, "as left": 12}


def true_heights(layout, shims):
    """Height of every station of the bed above its nominal plane, metres, by name."""
    names = layout.groups["grid"].stations
    places = np.array([layout.stations[name].at[:2] for name in names])
    influence = influence_of(layout, layout.feet["bed"], places).matrix
    wear = WEAR * np.exp(-((places[:, 0] / WEAR_LENGTH) ** 2) - (places[:, 1] / WEAR_WIDTH) ** 2)
    scraping = 2e-6 * np.random.default_rng(SEEDS["surface"]).standard_normal(len(names))
    return dict(zip(names, influence @ (SETTLED + shims) - wear + scraping, strict=True))


def visits():
    """Layout and the simulated readings by visit."""
    layout = read_layout(HERE / "layout.yaml")
    return layout, {
        visit: simulate_readings(layout, true_heights(layout, shims), visit, np.random.default_rng(SEEDS[visit]))
        for visit, shims in (("as found", np.zeros(6)), ("as left", SHIMMED))
    }


if __name__ == "__main__":
    layout, readings = visits()
    for visit, table in readings.items():
        write_readings(HERE / "readings" / f"{visit.replace(' ', '_')}.csv", table, layout)
    rows = [f"{name},{1e6 * height:.1f}" for name, height in true_heights(layout, np.zeros(6)).items()]
    (HERE / "truth.csv").write_text("\n".join(["station,up [um]", *rows, ""]), encoding="utf-8")
