"""All words that the viewer shows, in one place."""

from __future__ import annotations

import re

from scenes.model.finding import Severity
from scenes.model.survey import Rule
from scenes.reductions.form import Reference
from scenes.reductions.quantities.shown import Scale
from scenes.reductions.verdict import Word
from scenes.units import DEVIATION, PLACE, decimals, show

__all__ = [
    "CAUTION_LIFTING",
    "CAUTION_LIGHT",
    "figures",
    "number",
    "plain_message",
    "probability",
    "quantity",
    "screen_unit",
    "signed",
    "spelled",
    "told",
]

# --- units and numbers

_AFTER_NUMBER = re.compile(r"(?<=\d) um\b")


def screen_unit(unit: str) -> str:
    """The unit as the screen spells it."""
    return unit.replace("um", "µm", 1) if unit.startswith("um") else unit


def figures(unit: str, fine: bool = True) -> int:
    """Decimals for a deviation in ``unit``; one less for headlines."""
    return decimals(unit, "length", DEVIATION if fine else 10.0 * DEVIATION)


def quantity(value: float, unit: str, *, fine: bool = False, sign: bool = False) -> str:
    """A deviation [m] with its unit, for sentences."""
    text = show(value, unit, digits=figures(unit, fine), sign=sign)
    return f"{_minus(text.rpartition(' ')[0])} {screen_unit(unit)}" if " " in text else text


def number(value: float, unit: str, *, fine: bool = True, sign: bool = False) -> str:
    """A deviation [m] as a bare number, for columns whose head names the unit."""
    return _minus(show(value, unit, digits=figures(unit, fine), sign=sign).split(" ")[0])


def length_number(value: float, unit: str, to: float = PLACE) -> str:
    """A length of the machine [m] as a bare number, printed to ``to`` [m]."""
    return _minus(show(value, unit, to=to).split(" ")[0])


def spelled(value: str) -> str:
    """A value with its unit as Python writes it, spelled for the screen."""
    number, space, unit = value.partition(" ")
    return f"{signed(number) if number != '-' else _minus(number)}{space}{screen_unit(unit)}"


def told(scale: Scale, value: float, *, sign: bool = False, whole: bool = True) -> str:
    """A value [SI] of a task as the screen spells it, with its unit and the length that it is meant over."""
    return plain_message(spelled(scale.told(value, sign=sign, whole=whole)))


def probability(share: float) -> str:
    """A probability, never told as certain."""
    percent = 100.0 * share
    if percent < 0.1:
        return "below 0.1 %"
    return "above 99.9 %" if percent > 99.9 else f"{percent:.1f} %"


def signed(number: str) -> str:
    """A number as Python writes it, with the minus of the screen and no sign before nought."""
    if number.strip("+-0.") == "":
        number = number.lstrip("+-")
    return _minus(number)


def _minus(text: str) -> str:
    return text.replace("-", "\u2212") if text != "-" else "\u2013"


def plain_message(message: str) -> str:
    """A message of a check or an error, spelled for the screen."""
    return _AFTER_NUMBER.sub(" µm", message)


# --- words for what things are

VERDICT_SHAPES = {Word.CONFORMS: "●", Word.NOT_PROVEN: "▲", Word.DOES_NOT_CONFORM: "■"}
VERDICT_KINDS = {Word.CONFORMS: "good", Word.NOT_PROVEN: "open", Word.DOES_NOT_CONFORM: "bad"}
VERDICT_WORDS = {
    Word.CONFORMS: "Conforms",
    Word.NOT_PROVEN: "Not proven",
    Word.DOES_NOT_CONFORM: "Does not conform",
}
SEVERITY_SHAPES = {Severity.ERROR: "◆", Severity.WARNING: "▲", Severity.NOTE: "○"}
SEVERITY_KINDS = {Severity.ERROR: "bad", Severity.WARNING: "open", Severity.NOTE: "note"}
SEVERITY_WORDS = {Severity.ERROR: "Error", Severity.WARNING: "Warning", Severity.NOTE: "Note"}
REFERENCE_WORDS = {
    Reference.MINIMUM_ZONE: "Minimum zone",
    Reference.LEAST_SQUARES: "Least squares",
    Reference.THREE_POINTS: "Three points",
    Reference.END_POINTS: "End points",
    Reference.MINIMUM_CYLINDER: "Smallest cylinder",
    Reference.GRAVITY: "Gravity",
    Reference.DATUM_FEATURE: "Datum feature",
}
REFERENCE_MEANING = {
    Reference.MINIMUM_ZONE: "the two closest parallel planes or lines that hold all stations",
    Reference.LEAST_SQUARES: "the plane, line or axis with the least sum of squares",
    Reference.THREE_POINTS: "the plane through three stations",
    Reference.END_POINTS: "the line through the first and the last station",
    Reference.MINIMUM_CYLINDER: "the axis of the smallest cylinder that holds all stations",
    Reference.GRAVITY: "the level surface",
    Reference.DATUM_FEATURE: "another feature of the machine, named in the layout",
}
RULE_NAMES = {
    Rule.GUARD_BAND: "Guard band",
    Rule.GUARD_BAND_U: "Guard band of U",
    Rule.SIMPLE: "Simple acceptance",
    Rule.RELAXED: "Relaxed acceptance",
}
RULE_UNDER = {Rule.GUARD_BAND: "ISO 14253-1"}
RULE_WORDS = {rule: ", ".join(filter(None, (name, RULE_UNDER.get(rule)))) for rule, name in RULE_NAMES.items()}
RULE_SENTENCES = {
    Rule.GUARD_BAND: "must keep the limit by {guard} (95 %)",
    Rule.GUARD_BAND_U: "must keep the limit by U, {guard}",
    Rule.SIMPLE: "the value alone counts; both sides share the risk",
    Rule.RELAXED: "up to {guard} beyond the limit is accepted",
}

# --- sentences

CAUTION_LIFTING = "Block the slide and lock out the press before lifting. Local rules and licensed riggers come first."
CAUTION_LIGHT = "Laser: never look into the beam or its reflections. Observe its class (IEC 60825-1) and local rules."
THEN_READ = "Then read the surface again: a forecast proves nothing."
NO_FINDINGS = "Nothing found against this plan."
NO_PLAN = "The plan could not be traced, so no beams are drawn. The finding below says why."
FAILED = "This did not work. The terminal shows the reason."
NO_MOVE_NEEDED = "It conforms already: no foot need be moved."
NO_MOVE_HELPS = "No shims from this stock would make it flatter."
NO_SHIMS = "No shims were worked out for this visit."
NO_FEET = "The layout names no feet for this surface, so no shims are proposed."
FORECAST_BY_LIMIT = (
    "Rules judge what was read, so none is chosen here: the forecast is held against the limit itself. The Moves tab "
    "tells what the rule in use would say of it."
)
CHANGE_WORDS = "No limit belongs to a change."
