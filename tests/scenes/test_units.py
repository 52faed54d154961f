"""Units and near names: text to SI and back, and what is said about text that is no quantity."""

from __future__ import annotations

import math
import time

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenes import units
from scenes.hints import did_you_mean, near_names
from scenes.units import KINDS, UnitError, factor_to_si, from_si, parse_number, parse_quantity, show, to_si

ROUNDING = 1e-12


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("120 mm", "length", 0.12),
        ("120mm", "length", 0.12),
        ("  -1.6 m ", "length", -1.6),
        ("1,5 mm", "length", 0.0015),
        (".5 mm", "length", 0.0005),
        ("1e-6 m", "length", 1e-6),
        ("5 µm", "length", 5e-6),  # micro sign
        ("5 μm", "length", 5e-6),  # Greek letter
        ("1 in", "length", 0.0254),  # exact since the yard agreement of 1959
        ("1 ft", "length", 0.3048),
        ("1 thou", "length", 25.4e-6),
        ("180 deg", "angle", math.pi),
        ("180 °", "angle", math.pi),
        ("3600 arcsec", "angle", math.pi / 180),
        ('3600 "', "angle", math.pi / 180),
        ("0.02 mm/m", "angle", 2e-5),
        ("12 thou/ft", "angle", 1e-3),
        ("21 degC", "temperature", 294.15),
        ("70 degF", "temperature", 294.2611111111111),
        ("21 °C", "temperature", 294.15),
        ("0.3 K/m", "temperature gradient", 0.3),
        ("0.3 degC/m", "temperature gradient", 0.3),  # a difference, no offset
        ("1.8 degF/m", "temperature gradient", 1.0),
        ("3.6 urad/h", "angle rate", 1e-9),
        ("2 min", "time", 120.0),
        ("0.2 %", "ratio", 0.002),
        ("2 um/mm", "ratio", 0.002),
        ("600 kN", "force", 6e5),
        ("60 t", "force", 588399.0),  # weight of a mass: times 9.80665 m/s2 (CGPM 1901)
        ("100 kg", "force", 980.665),
        ("1 lbf", "force", 4.4482216152605),  # exact: 0.45359237 kg times 9.80665 m/s2
        ("1 lb", "force", 4.4482216152605),
    ],
)
def test_text_becomes_si(text: str, kind: str, si: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(si, rel=ROUNDING)


@pytest.mark.parametrize("kind", KINDS)
def test_factors_agree_with_the_full_registry_of_pint(kind: str) -> None:
    full = pint.UnitRegistry(cache_folder=None, autoconvert_offset_to_baseunit=True)
    for unit in KINDS[kind].usual:
        spelled = unit.replace("degC", "K") if kind == "temperature gradient" else unit
        spelled = f"delta_{unit}" if kind == "temperature difference" and unit != "K" else spelled
        spelled = f"{unit} * standard_gravity" if kind == "force" and unit in ("t", "kg") else spelled
        for value in (0.0, 1.0, -17.5):
            wanted = full.Quantity(value, spelled).to(KINDS[kind].si or "dimensionless").magnitude
            assert to_si(value, unit, kind) == pytest.approx(wanted, rel=ROUNDING, abs=1e-15)


def test_examples_of_all_kinds_are_quantities_of_that_kind() -> None:
    for kind in KINDS.values():
        assert math.isfinite(parse_quantity(kind.example, kind.name))


@pytest.mark.parametrize(
    ("text", "kind", "message", "advice"),
    [
        ("120", "length", "the number 120 has no unit", "120 mm"),
        ("1e-6", "angle", "the number 1e-6 has no unit", "1e-6 arcsec"),
        ("21 degC", "length", "'degC' is not a unit of length", "mm"),
        ("5 K", "temperature gradient", "'K' is not a unit of temperature gradient", "K/m"),
        ("5 kg", "length", "'kg' is not a unit of length", "mm"),
        ("5 mm", "force", "'mm' is not a unit of force", "kN"),
        ("600", "force", "the number 600 has no unit", "600 kN"),
        ("5 furlong", "length", "'furlong' is not a known unit", "mm"),
        ("12:30", "time", "':30' is not a known unit", "min"),
        ("mm", "length", "a length with its unit is expected, not 'mm'", "120 mm"),
        ("nan mm", "length", "a length with its unit is expected", "120 mm"),
        (".inf", "length", "a length with its unit is expected", "120 mm"),
        ("", "length", "a length with its unit is expected", "120 mm"),
        ("1e400 mm", "length", "'1e400' is too large", "120 mm"),
        ("1e308 km", "length", "'1e308 km' is too large", "120 mm"),
        ("5 mm 3", "length", "'mm 3' is not a known unit", "mm"),
        ("0x10 mm", "length", "'x10 mm' is not a known unit", "mm"),
        (True, "length", "a length with its unit is expected, not True", "120 mm"),
        (None, "length", "a length with its unit is expected, not None", "120 mm"),
    ],
)
def test_what_is_no_quantity_is_explained(text: object, kind: str, message: str, advice: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, kind)
    assert message in str(caught.value)
    assert advice in caught.value.advice


@pytest.mark.parametrize("unit", ["m**9**9**9", "(" * 5000 + "m", "m*" * 3000 + "m", "__import__('os')", "m\x00"])
def test_expressions_do_not_reach_the_arithmetic_of_units(unit: str) -> None:
    start = time.perf_counter()
    with pytest.raises(UnitError):
        parse_quantity(f"1 {unit}", "length")
    assert time.perf_counter() - start < 1.0


def test_a_bare_number_takes_the_declared_unit() -> None:
    assert parse_quantity("120", "length", bare="mm") == pytest.approx(0.12)
    assert parse_quantity("2 m", "length", bare="mm") == 2.0
    assert parse_quantity(120, "length", bare="in") == pytest.approx(3.048)


@given(st.floats(-1e9, 1e9), st.sampled_from([(kind, unit) for kind in KINDS.values() for unit in kind.usual]))
def test_there_and_back(value: float, pair: tuple) -> None:
    kind, unit = pair
    offset = abs(factor_to_si(unit, kind.name)[1] / factor_to_si(unit, kind.name)[0])
    assert from_si(to_si(value, unit, kind.name), unit, kind.name) == pytest.approx(
        value, rel=ROUNDING, abs=ROUNDING * (1.0 + offset)
    )


def test_numbers() -> None:
    assert parse_number("1,25") == 1.25
    assert parse_number(" +3 ") == 3.0
    for text in ("1_000", "0x10", "nan", "1.2.3", "1 2", "", "٣"):
        with pytest.raises(ValueError, match="is not a number"):
            parse_number(text)


def test_show() -> None:
    assert show(12.34e-6, "um") == "12.3 um"
    assert show(12.34e-6, "um", sign=True) == "+12.3 um"
    assert show(-1e-9, "um") == "0.0 um"  # no minus zero
    assert show(math.nan, "um") == "-"
    assert show(294.15, "degC", "temperature", digits=0) == "21 degC"


def test_near_names() -> None:
    assert near_names("Gird", ["grid", "line", "GRIT"])[0] == "grid"
    assert near_names("xyz", ["grid"]) == []
    assert did_you_mean("gird", ["grid", "line"]) == "did you mean grid?"
    assert did_you_mean("xyz", ["grid", "line"]) == "known here: grid, line"
    assert did_you_mean("xyz", []) == "nothing of this kind is named in the layout"
    assert did_you_mean("xyz", [f"P{i}" for i in range(20)]).endswith("P7, ...")


def test_the_registry_is_built_without_a_word_in_the_log(caplog):
    """Servers show what libraries log; a definition given twice would print a warning at every start."""
    units._registry.cache_clear()
    units.factor_to_si.cache_clear()
    with caplog.at_level("DEBUG"):
        assert units.parse_quantity("5 thou", "length") == pytest.approx(127e-6)
    assert [record for record in caplog.records if record.levelname in ("WARNING", "ERROR")] == []
