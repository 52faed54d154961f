"""Sight lines: ours against the other locators of vtk, three sizes, with the growth exponent.

Run: python -m pytest tests/bench/bench_sight_lines.py -o python_files='bench_*.py' -s
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from vtkmodules.vtkCommonCore import vtkIdList, vtkPoints
from vtkmodules.vtkFiltersGeneral import vtkOBBTree

from scenes.shapes import Triangles
from scenes.tracing.sight import Obstacles, Sight, cell_data, sight_lines

RAYS = 100_000
OBB_RAYS = 2_000  # its rate does not depend on the number of rays; all of them would take half a minute


def terrain(side: int) -> Triangles:
    """Wavy ground of 2 (side - 1)^2 triangles, 10 m wide."""
    line = np.linspace(-5.0, 5.0, side)
    x, y = np.meshgrid(line, line)
    vertices = np.column_stack([x.ravel(), y.ravel(), (0.3 * np.sin(3.0 * x) * np.cos(2.0 * y)).ravel()])
    at = np.arange(side * side).reshape(side, side)
    one = np.column_stack([at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, 1:].ravel()])
    two = np.column_stack([at[:-1, :-1].ravel(), at[1:, 1:].ravel(), at[1:, :-1].ravel()])
    return Triangles(vertices, np.vstack([one, two]))


def rays(n: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(0)
    low, high = np.array([-5.0, -5.0, -0.2]), np.array([5.0, 5.0, 0.8])
    return rng.uniform(low, high, (n, 3)), rng.uniform(low, high, (n, 3))


def obb_tree(mesh: Triangles, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    tree = vtkOBBTree()
    tree.SetDataSet(cell_data(mesh))
    tree.BuildLocator()
    met, found = vtkPoints(), vtkIdList()
    return np.array([tree.IntersectWithLine(p, q, met, found) != 0 for p, q in zip(start, end, strict=True)])


@pytest.mark.parametrize("radius", [0.0, 3e-3], ids=["axis", "tube of 3 mm"])
def test_sight_lines(radius):
    spent = []
    sizes = (72, 159, 225)
    for side in sizes:
        mesh = terrain(side)
        hall = Obstacles(mesh, np.zeros(len(mesh.faces), dtype=np.int64), ("ground",))
        count = RAYS if radius == 0.0 else RAYS // 100
        start, end = rays(count)
        began = time.process_time()
        seen = sight_lines(hall, start, end, np.full(count, radius))
        ours = time.process_time() - began
        spent.append(ours)
        few = min(OBB_RAYS, count)
        began = time.process_time()
        theirs = obb_tree(mesh, start[:few], end[:few])
        other = (time.process_time() - began) * count / few
        agree = np.mean((seen.sight[:few] == Sight.BLOCKED) == theirs)
        print(
            f"\n{count} rays x {len(mesh.faces)} triangles, radius {1e3 * radius:.0f} mm: {ours:.3f} s; "
            f"vtkOBBTree {other:.2f} s, ratio {other / ours:.1f}; answers agree for {100 * agree:.2f} %"
        )
        assert agree > 0.999
    exponent = np.polyfit(np.log([2 * (side - 1) ** 2 for side in sizes]), np.log(spent), 1)[0]
    print(f"cost grows with triangles to the power {exponent:.2f}")
