"""Network of set-ups and stations: elimination of stations against general solvers; ratios and growth.

Run: python -m pytest tests/bench/bench_network.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array, csr_array
from scipy.sparse.linalg import lsmr, splu

from scenes.reductions.columns import Columns, Design
from scenes.reductions.elimination import Elimination, eliminated
from scenes.reductions.reach import reach_of
from scenes.reductions.station_blocks import blocks_of
from scenes.uncertainty.propagate import Effect

SIZES = (10_000, 30_000, 100_000)
STATIONS, SETUPS = 940, 20
REPEATS = 7
NONE = np.zeros(0, dtype=np.int64)


@dataclass
class System:
    """Heights of stations read over tilted planes of several set-ups, and what a general solver needs of it."""

    readings: int

    def __post_init__(self) -> None:
        rng, o = np.random.default_rng(1), self.readings
        self.station = np.concatenate([np.arange(STATIONS), rng.integers(0, STATIONS, o - STATIONS)])
        setup = rng.integers(0, SETUPS, o)
        place = rng.uniform(-1.0, 1.0, (STATIONS, 2))[self.station]
        self.u = rng.uniform(1e-6, 3e-6, o)
        self.values = rng.normal(0.0, self.u)
        tilts = np.column_stack([np.ones(o), place])
        numbers = 3 * setup[:, None] + np.arange(3)
        self.columns = Columns(
            ("deviation",), np.arange(STATIONS)[:, None], STATIONS + np.arange(3 * SETUPS), STATIONS + 3 * SETUPS
        )
        self.design = Design(-np.ones((o, 1)), tilts, numbers, 3 * SETUPS)
        self.effect = Effect("noise", self.u, np.arange(o), o, "")
        self.reach = reach_of(self.design, self.columns, self.station)
        sizes = np.column_stack([-np.ones(o), tilts]) / self.u[:, None]
        where = np.column_stack([self.station, STATIONS + numbers])
        shape = (o, self.columns.count)
        self.sparse = csr_array((sizes.ravel(), where.ravel(), np.arange(o + 1) * 4), shape=shape)
        held = np.delete(np.arange(self.columns.count), self.columns.of_frame[:3])  # a datum: the first plane is held
        self.held = csc_array(self.sparse[:, held])
        self.white = self.values / self.u

    def eliminated(self) -> Elimination:
        blocks = blocks_of(self.station, (self.effect,))
        return eliminated(blocks, self.design, self.columns, self.reach, NONE, np.zeros(0))

    def ours(self):
        return self.eliminated().solution(self.values, np.zeros(0))

    def normal_equations(self):
        part = self.held
        root = splu(csc_array(part.T @ part), diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        return root.solve(part.T @ self.white)

    def by_iteration(self):
        return lsmr(self.sparse, self.white, atol=1e-12, btol=1e-12)


def best(job):
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return min(times)


def test_network_of_1e3_unknowns(capsys):
    """Goal: 6 ms at 1e5 readings, all variances 40 ms, on a quiet machine of two cores."""
    times = []
    for readings in SIZES:
        system = System(readings)
        found = system.ours()
        gradient = system.sparse.T @ (system.sparse @ found - system.white)
        assert np.abs(gradient).max() < 1e-6 * np.abs(system.sparse.T @ system.white).max()
        times.append(best(system.ours))
        made = system.eliminated()
        variances, reach = best(made.variances), best(lambda s=system: reach_of(s.design, s.columns, s.station))
        others = {"sparse normal equations": best(system.normal_equations), "lsmr": best(system.by_iteration)}
        told = ", ".join(f"{name} {1e3 * t:.1f} ms ({t / times[-1]:.1f} times)" for name, t in others.items())
        with capsys.disabled():
            print(f"\n{readings} readings, {system.columns.count} unknowns: {1e3 * times[-1]:.1f} ms, all variances "
                  f"{1e3 * variances:.1f} ms, rank {1e3 * reach:.1f} ms; {told}")  # fmt: skip
    with capsys.disabled():
        print(f"growth with readings: exponent {np.polyfit(np.log(SIZES), np.log(times), 1)[0]:.2f}")
