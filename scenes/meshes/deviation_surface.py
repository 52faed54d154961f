"""Deviation surface: the deviations at the stations, drawn as a sheet over the measured surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvista as pv

from ..frames import Pose
from ..vectors import Floats, Indices, frozen
from .station_net import StationNet, station_net

__all__ = [
    "DEVIATION",
    "UNCERTAINTY",
    "DeviationSurface",
    "deviation_mesh",
    "deviation_surface",
    "redraw",
    "spanned_surface",
    "zero_outline",
]

DEVIATION = "deviation [um]"
UNCERTAINTY = "standard uncertainty [um]"


@dataclass(frozen=True, slots=True, eq=False)
class DeviationSurface:
    """All of a deviation surface that does not change with the deviations or with the exaggeration.

    Attributes
    ----------
    net : StationNet
    zero : (v, 3) float
        Zero level without lift, world, metres.
    x_axis, y_axis, normal : (3,) float
        Axes of the surface, world.
    """

    net: StationNet
    zero: Floats
    x_axis: Floats
    y_axis: Floats
    normal: Floats


def spanned_surface(places: Floats, world_from_surface: Pose, bore: float = 0.0) -> DeviationSurface:
    """Deviation surface over nominal ``places`` (n, 3) [m, frame of the surface], ready to be drawn.

    ``bore`` is the diameter [m] of a hole around the origin of the surface that stays open.

    Raises
    ------
    GeometryError
        Where all places are the same.
    """
    net = station_net(places[:, :2], bore)
    zero = world_from_surface.points(np.column_stack([net.xy, net.weights @ places[:, 2]]))
    x, y, z = world_from_surface.rotation.T
    return DeviationSurface(net, frozen(zero), frozen(x), frozen(y), frozen(z))


def _drawn(surface: DeviationSurface, deviations: Floats, factor: float, lift: float) -> tuple[Floats, Floats, Floats]:
    """Points ``(v, 3)``, point normals ``(v, 3)`` and deviations ``(v,)`` [m] as they are drawn."""
    net = surface.net
    values = net.weights @ deviations
    points = surface.zero + (lift + factor * values)[:, None] * surface.normal
    lean_x, lean_y = factor * (net.slope_x @ deviations), factor * (net.slope_y @ deviations)
    normals = surface.normal - lean_x[:, None] * surface.x_axis - lean_y[:, None] * surface.y_axis
    normals /= np.sqrt(1.0 + lean_x**2 + lean_y**2)[:, None]
    return points, normals, values


def deviation_mesh(
    surface: DeviationSurface,
    deviations: Floats,
    factor: float,
    lift: float,
    standard_uncertainty: Floats | None = None,
) -> pv.PolyData:
    """Sheet with the point arrays ``deviation [um]`` and, where given, ``standard uncertainty [um]``.

    Parameters
    ----------
    deviations, standard_uncertainty : (n,) float
        At the stations, metres. Between stations the uncertainty is interpolated like the deviation; it tells how well
        the stations are known, not what the surface does between them.
    factor : float
        Deviations are drawn this much larger than life, along the normal of the surface.
    lift : float
        Zero level above the surface, metres.
    """
    faces = surface.net.faces
    mesh = pv.PolyData(
        np.array(surface.zero), faces=np.column_stack([np.full(len(faces), 3), faces]).ravel(), deep=True
    )
    redraw(mesh, surface, deviations, factor, lift, standard_uncertainty)
    mesh.set_active_scalars(DEVIATION)
    return mesh


def redraw(
    mesh: pv.PolyData,
    surface: DeviationSurface,
    deviations: Floats,
    factor: float,
    lift: float,
    standard_uncertainty: Floats | None = None,
) -> None:
    """Move a mesh made by ``deviation_mesh`` to other deviations or another exaggeration, in place.

    The triangles stay, so that a slider costs only new points, normals and scalars.
    """
    points, normals, values = _drawn(surface, deviations, factor, lift)
    mesh.points = points
    mesh.point_data["Normals"] = normals
    mesh.point_data.active_normals_name = "Normals"
    mesh.point_data[DEVIATION] = 1e6 * values
    if standard_uncertainty is not None:
        mesh.point_data[UNCERTAINTY] = 1e6 * (surface.net.weights @ standard_uncertainty)
    elif UNCERTAINTY in mesh.point_data:
        del mesh.point_data[UNCERTAINTY]


def deviation_surface(
    places: Floats,
    deviations: Floats,
    world_from_surface: Pose,
    factor: float,
    lift: float,
    standard_uncertainty: Floats | None = None,
) -> pv.PolyData:
    """Deviation surface in one call; see ``spanned_surface`` and ``deviation_mesh``."""
    return deviation_mesh(spanned_surface(places, world_from_surface), deviations, factor, lift, standard_uncertainty)


def zero_outline(surface: DeviationSurface, lift: float) -> pv.PolyData:
    """Border of the deviation surface at its zero level, as lines: what the eye measures the heights from."""
    edges = np.sort(np.vstack([surface.net.faces[:, pair] for pair in ([0, 1], [1, 2], [2, 0])]), axis=1)
    places, number = np.unique(np.round(surface.zero, 9), axis=0, return_inverse=True)
    once = _single(np.sort(number.ravel()[edges], axis=1))
    lines = np.column_stack([np.full(len(once), 2), once]).ravel()
    return pv.PolyData(places + lift * surface.normal, lines=lines, deep=True)


def _single(edges: Indices) -> Indices:
    """Rows of ``edges`` that occur once."""
    different, count = np.unique(edges, axis=0, return_counts=True)
    once: Indices = different[count == 1]
    return once
