"""Beams that are chosen on the command line, by station and set-up."""

from __future__ import annotations

from scenes.errors import InputError, Problem
from scenes.hints import did_you_mean
from scenes.layout.context import Context
from scenes.layout.names import expand
from scenes.model.layout import Layout
from viewer.report.traced_beams import TracedBeam

__all__ = ["chosen_beams"]


def chosen_beams(layout: Layout, beams: tuple[TracedBeam, ...], stations: str, setup: str) -> tuple[TracedBeam, ...]:
    """Beams of some stations and of one set-up; of all where nothing is named.

    Raises
    ------
    InputError
        For names that the layout does not have, and where nothing that is named is planned to be read.
    """
    problems = []
    names: set[str] = set()
    context = Context(
        layout.file, surfaces={name: surface.line for name, surface in layout.surfaces.items()},
        groups=dict(layout.groups), stations=dict(layout.stations),
    )  # fmt: skip
    for item in filter(None, (part.strip() for part in stations.split(","))):
        try:
            names |= set(expand(item, context))
        except KeyError as error:
            problems.append(Problem("--station", 0, 0, *error.args))
    if setup and setup not in layout.setups:
        problems.append(Problem("--setup", 0, 0, f"there is no set-up {setup!r}", did_you_mean(setup, layout.setups)))
    if problems:
        raise InputError(problems)
    chosen = tuple(beam for beam in beams if (not names or beam.station in names) and setup in ("", beam.setup))
    if not chosen:
        read = dict.fromkeys(beam.setup for beam in beams if not names or beam.station in names)
        advice = f"they are read from {', '.join(read)}" if read else "see the reads of the set-ups"
        raise InputError([Problem("--station" if stations else "--setup", 0, 0, "no such reading is planned", advice)])
    return chosen
