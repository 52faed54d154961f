"""Diagnosis: suspects with their evidence, closures and advice, as plain data."""

from __future__ import annotations

from dataclasses import dataclass

from .twins import Twin

__all__ = ["LEVEL", "Advice", "Closure", "Diagnosis", "SetupControl", "Suspect", "Suspicion", "Untold"]

LEVEL = 0.05
"""A sound survey has a suspect in so many of all cases."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """An error that explains what the readings, which control each other, do not agree on.

    Attributes
    ----------
    kind, where : str
    about, confirm : str
        What may have happened, and what to do to confirm it, in words.
    sizes, u : tuple of float
        Estimated sizes and their standard uncertainties, SI units; empty where the error has no size.
    unit : str
        Key of ``units.KINDS`` of the sizes.
    parameters : int
        Sizes that were free.
    drop : float
        By how much chi-square falls.
    probability : float
        That a sound survey shows as much for any of all the suspects tried: Bonferroni's bound.
    seen : float
        Share of such an error that the readings show to each other, 0 to 1.
    stated_u : float
        Standard uncertainty that the layout states; 0: none.
    others : tuple of str
        Errors, in words, that explain it as well: these readings cannot tell them apart.
    changes : tuple of (task, component, change)
        By how much results would change if it were taken out, SI units. Nothing has been taken out.
    """

    kind: str
    where: str
    about: str
    confirm: str
    sizes: tuple[float, ...]
    u: tuple[float, ...]
    unit: str
    parameters: int
    drop: float
    probability: float
    seen: float
    stated_u: float = 0.0
    others: tuple[str, ...] = ()
    changes: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Suspicion:
    """An error whose mark the shape of a result bears. A machine of that shape looks the same.

    Attributes
    ----------
    task, component : str
        Whose deviations.
    kind, where, about, confirm, unit : as in `Suspect`
    sizes : tuple of float
        That would explain it, SI units.
    share : float
        Of the sum of squares of the deviations that it explains.
    parameters : int
    probability : float
        That smooth form of a machine shows as much, for any of all tried.
    stated_u : float
    """

    task: str
    component: str
    kind: str
    where: str
    about: str
    confirm: str
    unit: str
    sizes: tuple[float, ...]
    share: float
    parameters: int
    probability: float
    stated_u: float


@dataclass(frozen=True, slots=True)
class Untold:
    """A kind of error that these readings could not show, with the places."""

    kind: str
    about: str
    places: tuple[str, ...]
    confirm: str


@dataclass(frozen=True, slots=True)
class Closure:
    """Two readings of one station that should agree; metres, or rad for an angle.

    Attributes
    ----------
    station, channel : str
    what : str
        ``read again``, ``read from two set-ups``, ``both sides`` or ``other clock position``.
    between : tuple of str
        Set-ups.
    difference, expected : float
        Later less earlier, after the adjustment, and its standard deviation in a sound survey.
    angle : bool
    """

    station: str
    channel: str
    what: str
    between: tuple[str, str]
    difference: float
    expected: float
    angle: bool

    @property
    def normalised(self) -> float:
        """The difference in standard deviations."""
        return self.difference / self.expected if self.expected > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class SetupControl:
    """How one set-up closes: its part of chi-square, and the readings that it has to spare."""

    setup: str
    chi_square: float
    redundancy: float


@dataclass(frozen=True, slots=True)
class Advice:
    """A station to read again, and why."""

    station: str
    setup: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Diagnosis:
    """What stands out in the readings of a visit from some set-ups that hang together.

    Attributes
    ----------
    visit : str
    setups : tuple of str
    suspects : tuple of Suspect
        Each found with those before it taken into account; empty: nothing stands out.
    suspicions : tuple of Suspicion
    untold : tuple of Untold
    closures : tuple of Closure
        The worst first.
    by_setup : tuple of SetupControl
    advice : tuple of Advice
    tried : int
        Suspects tried.
    redundancy : int
        0: nothing is controlled, and no reading can show an error.
    chi_square : float
    probability : float
        That a sound survey has a chi-square as large.
    twins : tuple of Twin
        Records of different stations that are the same in every figure; told whatever the readings control.
    """

    visit: str
    setups: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    suspicions: tuple[Suspicion, ...]
    untold: tuple[Untold, ...]
    closures: tuple[Closure, ...]
    by_setup: tuple[SetupControl, ...]
    advice: tuple[Advice, ...]
    tried: int
    redundancy: int
    chi_square: float
    probability: float
    twins: tuple[Twin, ...] = ()
