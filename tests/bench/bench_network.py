"""Network of set-ups and stations: elimination of stations against general solvers; ratios and growth."""

from __future__ import annotations

import time

import numpy as np
from scipy.optimize import least_squares
from scipy.sparse import csc_matrix, csr_matrix
from scipy.sparse.linalg import lsmr, splu

from scenes.reductions.columns import Columns, Design
from scenes.reductions.elimination import eliminated
from scenes.reductions.reach import reach_of
from scenes.reductions.station_blocks import blocks_of
from scenes.uncertainty.propagate import Effect

REPEATS = 7
NONE = np.zeros(0, dtype=np.int64)


def system(readings, stations, setups, rng):
    """Heights of stations read over tilted planes of several set-ups, and what a general solver needs of it."""
    station = np.concatenate([np.arange(stations), rng.integers(0, stations, readings - stations)])
    setup = rng.integers(0, setups, readings)
    place = rng.uniform(-1.0, 1.0, (stations, 2))[station]
    u = rng.uniform(1e-6, 3e-6, readings)
    frame = np.zeros((readings, 3 * setups))
    for column, size in enumerate((np.ones(readings), *place.T)):
        frame[np.arange(readings), 3 * setup + column] = size
    columns = Columns(("deviation",), np.arange(stations)[:, None], stations + np.arange(3 * setups), stations + 3 * setups)
    design = Design(-np.ones((readings, 1)), frame)
    rows = np.concatenate([np.arange(readings)] * 4)
    numbers = np.concatenate([station, *(stations + 3 * setup + k for k in range(3))])
    sizes = np.concatenate([-np.ones(readings), np.ones(readings), *place.T])
    sparse = csr_matrix((sizes / np.tile(u, 4), (rows, numbers)), shape=(readings, columns.count))
    effect = Effect("noise", u, np.arange(readings), readings, "")
    return station, design, columns, effect, sparse, rng.normal(0.0, u)


def best(job):
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return min(times)


def solved(station, design, columns, effect, values):
    reach = reach_of(design, columns, station)
    made = eliminated(blocks_of(station, (effect,)), design, columns, reach, NONE, np.zeros(0))
    return made, made.solution(values, np.zeros(0))


def test_network_of_1e3_unknowns(capsys):
    sizes, times = (10_000, 30_000, 100_000), []
    for readings in sizes:
        rng = np.random.default_rng(1)
        station, design, columns, effect, sparse, values = system(readings, 940, 20, rng)
        white = values / effect.size
        made, found = solved(station, design, columns, effect, values)
        ours = best(lambda: solved(station, design, columns, effect, values))
        pinned = np.delete(np.arange(columns.count), columns.of_frame[:3])  # a datum: the first plane held

        def cholesky():
            part = csc_matrix(sparse)[:, pinned]
            return splu(csc_matrix(part.T @ part), diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve(part.T @ white)

        others = {"sparse normal equations": best(cholesky), "lsmr": best(lambda: lsmr(sparse, white, atol=1e-12, btol=1e-12))}
        gain = best(lambda: made.gain(np.eye(columns.count)[:100]))
        residual = sparse @ found - white
        assert np.abs(sparse.T @ residual).max() < 1e-6 * np.abs(sparse.T @ white).max()
        times.append(ours)
        with capsys.disabled():
            told = ", ".join(f"{name} {1e3 * other:.0f} ms ({other / ours:.1f} times)" for name, other in others.items())
            print(f"\n{readings} readings, {columns.count} unknowns: {1e3 * ours:.1f} ms; {told}; "
                  f"gain of 100 unknowns {1e3 * gain:.0f} ms")  # fmt: skip
    growth = np.polyfit(np.log(sizes), np.log(times), 1)[0]
    with capsys.disabled():
        print(f"growth with readings: exponent {growth:.2f}")


if __name__ == "__main__":
    least_squares
