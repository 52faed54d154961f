"""What there is to tell while reading: per spot, per set-up and of single readings."""

from __future__ import annotations

from dataclasses import dataclass

from .order import Look
from .repeats import Slope

__all__ = ["ChannelWatch", "Disagreement", "Drift", "Edge", "StationWatch", "Watch"]


@dataclass(frozen=True, slots=True)
class ChannelWatch:
    """Repeats of one spot in one channel, metres or rad.

    Attributes
    ----------
    channel : str
        ``h``, ``v``, ``pitch`` or ``yaw``.
    tells : bool
        False where the crew centres the spot, so that the channel says nothing of the machine.
    n : int
    mean, last : float
    scatter : float
        Standard deviation of the repeats; nan for one.
    expected : float
        Standard deviation that the budget lets expect of them; of repeats with nothing touched where there is one.
    expected_from : tuple of (source, standard deviation)
        What it comes from, the largest first: ``detector resolution``, ``moving air`` ...
    drift : Slope, optional
        Change with time; None where it was read at one time only.
    """

    channel: str
    tells: bool
    n: int
    mean: float
    last: float
    scatter: float
    expected: float
    expected_from: tuple[tuple[str, float], ...]
    drift: Slope | None


@dataclass(frozen=True, slots=True)
class StationWatch:
    """One spot: a station from a set-up, on a side, at a clock position.

    Attributes
    ----------
    look : Look
    planned, looks : int
        How often the plan asks for it, and how many of those were taken.
    records : tuple of int
        Its records among the readings, from 0.
    channels : tuple of ChannelWatch
        Those in which it was read.
    """

    look: Look
    planned: int
    looks: int
    records: tuple[int, ...]
    channels: tuple[ChannelWatch, ...]


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A reading that does not agree with its earlier ones, by ``repeats.TEST``.

    Attributes
    ----------
    record : int
        Among the readings, from 0.
    difference, u : float
        From the mean of the earlier ones, and its standard uncertainty, metres or rad.
    """

    record: int
    look: Look
    channel: str
    difference: float
    u: float


@dataclass(frozen=True, slots=True)
class Edge:
    """A spot near the edge of the window, where it was read last.

    Attributes
    ----------
    used : float
        Share of the usable half window, beam radius taken off; 1 and more: the beam is cut.
    left : float
        Way to go until the beam is cut, metres.
    """

    record: int
    look: Look
    channel: str
    used: float
    left: float


@dataclass(frozen=True, slots=True)
class Drift:
    """Common change with time of all that a set-up read again on one side."""

    setup: str
    side: int
    channel: str
    slope: Slope


@dataclass(frozen=True, slots=True)
class Watch:
    """What to tell the crew of one visit.

    Attributes
    ----------
    visit : str
    count : int
        Records of the visit.
    last : Look, optional
        What was read last.
    next : Look, optional
        What the plan asks for next; None where nothing is left.
    missing : tuple of Look
        All that the plan asks for and has not been read, in its order.
    stations : tuple of StationWatch
        Everything planned in its order, then what was read beside the plan.
    drifts : tuple of Drift
    disagreements : tuple of Disagreement
    edges : tuple of Edge
    """

    visit: str
    count: int
    last: Look | None
    next: Look | None
    missing: tuple[Look, ...]
    stations: tuple[StationWatch, ...]
    drifts: tuple[Drift, ...]
    disagreements: tuple[Disagreement, ...]
    edges: tuple[Edge, ...]

    def station(self, look: Look) -> StationWatch:
        """Everything about one spot; raises ``KeyError`` for one that is neither planned nor read."""
        for each in self.stations:
            if each.look.key == look.key:
                return each
        raise KeyError(str(look))
