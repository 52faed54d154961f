"""What the rows of a readings file speak of: station with position, set-up and target, checked against the layout."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ..hints import did_you_mean, near_names
from ..model.devices import Target
from ..model.layout import Layout
from .columns import planned_setups, planned_targets
from .headers import Column
from .journal import Journal
from .table import Table

__all__ = ["setups_of_rows", "stations_of_rows", "targets_of_rows", "texts"]


def texts(table: Table, columns: dict[str, Column], name: str) -> list[str]:
    """Cells of a column, one per row; empty where the file has no such column."""
    return table.column(columns[name].field) if name in columns else [""] * len(table.rows)


def stations_of_rows(table: Table, columns: dict[str, Column], layout: Layout, journal: Journal) -> list[str]:
    """Station of each row; a position of a moving part that stands beside it is part of its name: ``P1@low``."""
    positions: dict[str, list[str]] = {}
    for name in layout.stations:
        plain, mark, position = name.partition("@")
        if mark:
            positions.setdefault(plain, []).append(position)
    names = texts(table, columns, "station")
    place = columns["station"].field + 1
    stations: list[str] = []
    unknown: dict[str, list[int]] = {}
    for k, (length, name, position) in enumerate(
        zip(table.lengths, names, texts(table, columns, "position"), strict=True)
    ):
        station, message, advice = _station(name, position, positions, layout)
        stations.append(station)
        if not message or length < place:  # a row that ends too early is a problem already
            continue
        known = name in layout.stations or name in positions
        if name and not known and not (positions and name.partition("@")[0] in positions):
            unknown.setdefault(name, []).append(k)
        else:
            at = columns["position"].field if position and known else place - 1
            journal.problem(*table.place(k, at), message, advice)
    _tell_unknown(unknown, table, place - 1, [*layout.stations, *positions], journal)
    return stations


def _tell_unknown(unknown: dict[str, list[int]], table: Table, field: int, known: list[str], journal: Journal) -> None:
    """Note all names that are no stations in one problem: how many rows name each, the first one, the nearest names."""
    if not unknown:
        return
    first = table.place(min(rows[0] for rows in unknown.values()), field)
    if len(unknown) == 1:
        ((name, rows),) = unknown.items()
        more = f" ({len(rows)} records name it)" if len(rows) > 1 else ""
        near = near_stations(name, known)
        advice = f"did you mean {' or '.join(near)}?" if near else did_you_mean(name, known)
        journal.problem(*first, f"station {name!r} is not in the layout{more}", advice)
        return
    listed = list(unknown.items())[:MOST_UNKNOWN]
    nearest = {name: near_stations(name, known) for name, _ in listed}
    said = []
    for name, rows in listed:
        count = f"{len(rows)} records from" if len(rows) > 1 else "in"
        meant = f"; did you mean {' or '.join(nearest[name])}?" if nearest[name] else ""
        said.append(f"{name!r} ({count} {journal.place(*table.place(rows[0], field))}{meant})")
    more = f" and {len(unknown) - MOST_UNKNOWN} more" if len(unknown) > MOST_UNKNOWN else ""
    total = sum(map(len, unknown.values()))
    message = f"{total} records name {len(unknown)} stations that the layout does not have: {', '.join(said)}{more}"
    advice = "" if any(nearest.values()) else did_you_mean("", known)
    journal.problem(*first, message, advice)


MOST_UNKNOWN = 60
"""Unknown names that are listed one by one."""
MOST_NEAR = 3
_LOOK_ALIKE = str.maketrans("OolISsBZ", "00115582")
"""Letters that are taken for digits when they are read off a sheet."""


def near_stations(name: str, known: Sequence[str]) -> list[str]:
    """The nearest names of stations: those that look the same, that are spelled alike, or the next numbers."""
    plain = name.translate(_LOOK_ALIKE).casefold()
    same = [each for each in known if each.translate(_LOOK_ALIKE).casefold() == plain]
    near = same or near_names(name, known, MOST_NEAR)
    found = _NUMBERED.fullmatch(name)
    if near or found is None:
        return near[:MOST_NEAR]
    apart = []
    for each in known:
        other = _NUMBERED.fullmatch(each)
        if other is not None and other[1].casefold() == found[1].casefold():
            apart.append((abs(int(other[2]) - int(found[2])), each))
    return [each for _, each in sorted(apart)[:MOST_NEAR]]


_NUMBERED = re.compile(r"(.*?)(\d{1,9})", re.ASCII)


def _station(name: str, position: str, positions: dict[str, list[str]], layout: Layout) -> tuple[str, str, str]:
    """Name of the station, and what is wrong with it: message and advice, empty where nothing is."""
    known = positions.get(name.partition("@")[0], [])
    if not name:
        return name, "the row names no station", ""
    if not position and name in layout.stations:
        return name, "", ""
    if not position and known and "@" not in name:
        message = f"station {name!r} is read at the positions {', '.join(known)} and the row names none"
        return name, message, f"state it in a column position, or write {name}@{known[0]}"
    if not position:
        return name, f"station {name!r} is not in the layout", did_you_mean(name, layout.stations)
    joined = name if name.partition("@")[2] == position else f"{name}@{position}"
    if joined in layout.stations:
        return joined, "", ""
    if name in layout.stations:
        its = layout.stations[name].position
        if its == position:
            return name, "", ""
        where = f"is read at the position {its}" if its else "is on no part that moves between positions"
        return name, f"station {name!r} {where}, the row says {position!r}", "correct the row or the layout"
    if known:
        return joined, f"station {name!r} is not read at the position {position!r}", did_you_mean(position, known)
    return joined, f"station {name!r} is not in the layout", did_you_mean(name, [*layout.stations, *positions])


def setups_of_rows(
    table: Table, columns: dict[str, Column], layout: Layout, station: list[str], journal: Journal
) -> list[str]:
    """Set-up of each row: as stated, else the only one of the layout, else the only one that reads the station."""
    planned = planned_setups(layout)
    only = next(iter(layout.setups), "") if len(layout.setups) == 1 else ""
    setups, unplanned = [], {}
    for k, (line, name, stated) in enumerate(zip(table.lines, station, texts(table, columns, "setup"), strict=True)):
        plans = planned.get(name, [])
        setup = stated or only or (plans[0] if len(plans) == 1 else "")
        setups.append(setup)
        if stated and stated not in layout.setups:
            message, advice = f"set-up {stated!r} is not in the layout", did_you_mean(stated, layout.setups)
            journal.problem(*table.place(k, columns["setup"].field), message, advice)
        elif not setup and name in layout.stations:
            choice = ", ".join(plans or layout.setups)
            message = f"station {name!r} is read from {len(plans) or 'no'} set-ups and the row names none"
            place = table.place(k, columns["setup"].field)[1] if "setup" in columns else 0
            journal.problem(line, place, message, f"state it in a column setup: {choice}")
        elif setup and name in layout.stations and setup not in plans:
            unplanned[name, setup] = line
    for (name, setup), line in unplanned.items():
        journal.remark(line, f"station {name} is not planned from set-up {setup}")
    return setups


def targets_of_rows(
    table: Table, columns: dict[str, Column], layout: Layout, station: list[str], setup: list[str], journal: Journal
) -> list[Target | None]:
    """Target of each row as the layout plans it; None where station or set-up are not known."""
    targets: list[Target | None] = []
    plan = planned_targets(layout, setup, station)
    for k, (name, planned, stated) in enumerate(zip(station, plan, texts(table, columns, "target"), strict=True)):
        targets.append(layout.targets.get(planned))
        if not stated or not planned:
            continue
        place = table.place(k, columns["target"].field)
        if stated not in layout.targets:
            advice = did_you_mean(stated, layout.targets)
            journal.problem(*place, f"target {stated!r} is not in the layout", advice)
        elif stated != planned:
            message = f"the row says target {stated!r}, the layout reads station {name!r} with {planned!r}"
            journal.problem(*place, message, "zero and window of the target count: correct the row or the layout")
    return targets
