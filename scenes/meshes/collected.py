"""Solids gathered by role while devices are built, and made into parts of the picture."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from ..shapes import Triangles
from ..tracing.geometry import SurveyGeometry
from ..vectors import Floats, Indices
from .scene_parts import Part, Role
from .solids import Solid, copies, joined, mesh_of

__all__ = ["Collected"]


@dataclass(slots=True, eq=False)
class Collected:
    """Solids by role; the number of each triangle is the row of the reading that it belongs to."""

    by_role: dict[Role, list[Solid]] = field(default_factory=dict)

    def add(
        self, role: Role, template: Triangles, rows: Indices, rotation: Floats, origin: Floats, scale: ArrayLike = 1.0
    ) -> None:
        """One copy of ``template`` for each of ``rows`` (k,); the others as for ``copies``."""
        if len(rows):
            solid, owner = copies(template, rotation, origin, scale)
            self.add_solid(role, (solid, rows[owner]))

    def add_solid(self, role: Role, solid: Solid) -> None:
        """A solid whose numbers are rows already."""
        self.by_role.setdefault(role, []).append(solid)

    def take(self, other: Collected, role: Role | None = None) -> None:
        """Everything of ``other``, all in one ``role`` where given."""
        for theirs, solids in other.by_role.items():
            self.by_role.setdefault(role or theirs, []).extend(solids)

    def parts(self, geometry: SurveyGeometry, prefix: str, roles: Iterable[Role]) -> tuple[Part, ...]:
        """One part for each of ``roles``, named ``prefix`` and the role; cell arrays ``station`` and ``row``."""
        made = []
        for role in roles:
            solid, row = joined(self.by_role.get(role, []))
            station = geometry.rows.station[row] if len(row) else np.zeros(0, dtype=np.int64)
            made.append(Part(f"{prefix}{role}", mesh_of(solid, {"station": station, "row": row}), role))
        return tuple(made)
