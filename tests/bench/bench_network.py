"""Network of set-ups and stations: elimination of stations against general solvers; ratios and growth.

Run: python -m pytest tests/bench/bench_network.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares
from scipy.sparse import csc_array, csr_array
from scipy.sparse.linalg import lsmr, splu

from scenes.layout.read import read_layout
from scenes.reductions.columns import Columns, Design
from scenes.reductions.elimination import Elimination, eliminated
from scenes.reductions.network import solve_network
from scenes.reductions.quantities.evaluate import network_of_visit
from scenes.reductions.reach import reach_of
from scenes.reductions.station_blocks import blocks_of
from scenes.tracing.spots import spots
from scenes.tracing.state import NOMINAL
from scenes.uncertainty.propagate import Effect
from scenes.uncertainty.simulate import SetupScatter, simulate_readings

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


LAYOUT = """
layout: 1
machine:
  bed: {plate: {length: 300 m, width: 4 m, thickness: 300 mm}, material: cast iron}
devices: {laser: {emitter: block}, base: {rotary base: standard}, t1: {target: two axes}}
stations:
  grid: {on: bed, grid: 180 x 5, margin: 100 mm, target: t1, mount: {post: 120 mm}}
tasks: {flat: {flatness: bed, limit: 1 mm}}
setups:
"""


def long_bed(folder, setups=9, columns=180):
    """A bed of 900 stations, read from ``setups`` places with ties between neighbours."""
    text, each = LAYOUT, columns // setups
    for k in range(setups):
        reads = ", ".join(f"{row}{max(1, k * each - 1)}..{row}{min(columns, (k + 1) * each + 2)}" for row in "ABCDE")
        at = f"[{-150 + 300 * (k + 0.5) / setups:.2f} m, -3.2 m, 0 m]"
        emitter = f"{{use: laser, on: floor, at: {at}, mount: {{tripod: 0.52 m}}}}"
        text += f"  s{k}: {{emitter: {emitter}, turned by: base, level by: best fit, reads: [{reads}]}}\n"
    path = folder / "layout.yaml"
    path.write_text(text)
    return read_layout(path)


def test_nonlinear_network(tmp_path, capsys):
    """Goal: 0.15 s at 1e3 unknowns. The alternative fits the same traced model by scipy's least squares."""
    layout = long_bed(tmp_path)
    readings = simulate_readings(layout, {}, "as found", np.random.default_rng(1), scatter=SetupScatter(1e-4, 1e-3))
    setups = tuple(layout.setups)
    network, _ = network_of_visit(layout, setups, readings, "as found")
    geometry, of, unknowns = network.geometry, network.observations, network.unknowns
    ours = best(lambda: solve_network(layout, geometry, of, ()))

    def misfit(values):
        parts, first = {}, 0
        for unknown in unknowns:
            parts[unknown.field] = values[first : first + len(unknown.keys)][unknown.group]
            first += len(unknown.keys)
        return 1e6 * (of.value - spots(geometry, replace(NOMINAL, **parts)).v[of.row])

    start = time.perf_counter()
    found = least_squares(misfit, np.zeros(len(network.values)), method="trf", x_scale=1e-4, max_nfev=4)
    other = time.perf_counter() - start
    with capsys.disabled():
        print(f"\n{len(of.value)} readings, {len(network.values)} unknowns, traced: {1e3 * ours:.0f} ms; least_squares "
              f"{other:.1f} s ({other / ours:.0f} times), {found.nfev} steps")  # fmt: skip
    plain = solve_network(layout, geometry, of, ())
    assert np.abs(plain.residual).max() <= np.abs(found.fun).max() * 1e-6 + 1e-6
