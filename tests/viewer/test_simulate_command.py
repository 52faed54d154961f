"""``datumray simulate`` as a person uses it: readings, what stays hidden, faults against their closed forms."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scenes.layout.read import read_layout
from scenes.readings.read import read_readings
from scenes.reductions.form import Reference, flatness
from scenes.reductions.survey import reduce_survey
from scenes.tracing.air_index import temperature_slope
from scenes.tracing.geometry import survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import FIELDS, NOMINAL, changed
from scenes.uncertainty.fault_kinds import FAULTS
from scenes.uncertainty.faults import Fault, faults_of_texts, possible_faults
from scenes.uncertainty.simulate import simulated
from scenes.units import to_si
from viewer.commands.main import run
from viewer.report.answers_document import shown_in

ROOT = Path(__file__).parents[2]
SHOP = Path(__file__).parent / "shop.yaml"
BED = ROOT / "examples" / "press_bed" / "layout.yaml"
EXAMPLES = sorted((ROOT / "examples").glob("*/layout.yaml"))
GOLDEN = ROOT / "tests" / "golden" / "simulated_shop.csv"
ARCSECOND = np.pi / 648_000.0
PRINTED = 0.051e-6  # metres: readings are printed to 0.1 um
FINE = 0.51e-9  # perfect ones to 1 nm


@pytest.fixture
def simulate(monkeypatch, capsys):
    """Call the command in this process: exit code, standard output, standard error."""

    def call(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["datumray", "simulate", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return call


@pytest.fixture(scope="module")
def shop():
    return read_layout(SHOP)


@pytest.fixture(scope="module")
def geometry(shop):
    return survey_geometry(shop, planned_rows(shop))


def made(layout, *faults, seed=3, **options):
    return simulated(layout, np.random.default_rng(seed), faults=faults, **options)


def struck(layout, text, geometry, **options):
    """The same survey with one fault and without it, and what the fault was."""
    (fault,) = faults_of_texts([text], layout, geometry)
    sound, spoilt = made(layout, perfect=True, **options), made(layout, fault, perfect=True, **options)
    return sound, spoilt, spoilt.faults[0]


# ---------------------------------------------------------------- readings


def test_the_same_seed_gives_the_same_file_on_every_platform(simulate):
    """Set UPDATE_GOLDEN=1 to record a change of the simulation on purpose."""
    code, out, err = simulate(SHOP, "--seed", "5", "--fault", "drift", "--fault", "wrong-mount")
    assert (code, err) == (0, "")
    if os.environ.get("UPDATE_GOLDEN"):
        GOLDEN.write_text(out, encoding="utf-8", newline="\n")
    assert out == GOLDEN.read_text(encoding="utf-8")
    assert simulate(SHOP, "--seed", "6", "--fault", "drift", "--fault", "wrong-mount")[1] != out


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_every_example_can_be_simulated_and_read_back(simulate, tmp_path, path):
    """Law 16: perfect readings of a perfect machine are what the trace says, through the file and back."""
    file = tmp_path / "as left.csv"
    code, out, err = simulate(path, "--seed", "1", "--perfect", "--size", "0 um", "-o", file, "--visit", "as left")
    assert (code, out) == (0, "")
    assert "written to" in err
    layout = read_layout(path)
    rows = planned_rows(layout)
    traced = spots(survey_geometry(layout, rows))
    read = read_readings([file], layout)
    assert set(read.visit) == {"as left"}
    assert read.station == tuple(rows.stations[i] for i in rows.station)
    assert np.array_equal(read.side, rows.side)
    for channel, step in (("h", FINE), ("v", FINE), ("pitch", 0.01 * ARCSECOND), ("yaw", 0.01 * ARCSECOND)):
        value, wanted = getattr(read, channel), np.broadcast_to(getattr(traced, channel), len(rows))
        known = np.isfinite(value)
        assert np.max(np.abs(value - wanted)[known], initial=0.0) < step
        assert known.all() or channel in ("pitch", "yaw")


def test_the_truth_of_a_file_is_what_the_readings_show(simulate, tmp_path):
    """A high station reads low, one that stands aside to the left reads right; along the light nothing is read."""
    truth, file = tmp_path / "truth.csv", tmp_path / "r.csv"
    truth.write_text("Station,Up [um],Aside [mm],Nod [arcsec]\nB2,30,,\nL3,-12,0.02,\nQ1,5,0.004,\nS2,0,0,7\n")
    simulate(SHOP, "--seed", "1", "--perfect", "--truth", truth, "-o", file)
    simulate(SHOP, "--seed", "1", "--perfect", "--size", "0 um", "-o", tmp_path / "flat.csv")
    layout = read_layout(SHOP)
    read, flat = (read_readings([name], layout) for name in (file, tmp_path / "flat.csv"))
    change = {channel: getattr(read, channel) - getattr(flat, channel) for channel in ("h", "v", "pitch")}
    for k, name in enumerate(read.station):
        up = {"B2": 30e-6, "L3": -12e-6, "Q1": 5e-6}.get(name, 0.0)
        # the lines run along +x, where left is +y; through the prism the light runs along +y itself
        aside = 20e-6 if name == "L3" else 0.0
        lever = 0.11 * 7.0 * ARCSECOND if name == "S2" else 0.0  # the post leans back with its pad
        assert change["v"][k] == pytest.approx(-up, abs=2.0 * FINE + (1e-8 if lever else 0.0))
        assert change["h"][k] == pytest.approx(aside, abs=2.0 * FINE)
        if name.startswith("S"):
            assert change["pitch"][k] == pytest.approx(-7.0 * ARCSECOND if name == "S2" else 0.0, abs=0.02 * ARCSECOND)


def test_drawn_surfaces_are_a_third_of_the_limit_and_smooth(shop):
    for seed in range(20):
        truth = made(shop, seed=seed, perfect=True).truth
        heights = np.array([truth.up[name] for name in shop.stations if not shop.stations[name].is_datum])
        assert np.ptp(heights) == pytest.approx(30e-6)
        grid = np.array([truth.up[name] for name in shop.groups["grid"].stations]).reshape(3, 5)
        assert np.max(np.abs(np.diff(grid, axis=1))) < 26e-6
        assert "square near" not in truth.up
        assert all(abs(truth.aside[name]) < 20e-6 for name in ("L1", "Q3"))
    assert np.ptp(list(made(shop, size=1e-3).truth.up.values())) == pytest.approx(1e-3)


def test_slopes_belong_to_the_drawn_surface(shop):
    """The feet of the stepper stand 200 mm apart about each station: two steps make up what lies between."""
    truth = made(shop, seed=8, perfect=True, size=200e-6).truth
    heights = np.array([truth.up[f"S{k}"] for k in range(1, 7)])
    nod, swing = (np.array([part[f"S{k}"] for k in range(1, 7)]) for part in (truth.nod, truth.swing))
    assert np.max(np.abs(nod)) > 10e-6
    assert np.allclose(0.2 * 0.5 * (nod[:-1] + nod[1:]), np.diff(heights), atol=2e-6)
    asides = np.array([truth.aside[f"S{k}"] for k in range(1, 7)])
    assert np.allclose(0.2 * 0.5 * (swing[:-1] + swing[1:]), np.diff(asides), atol=2e-6)


def test_errors_are_the_same_for_any_truth_and_with_a_fault(shop):
    plain, other, faulty = made(shop), made(shop, size=80e-6), made(shop, Fault("bad-reading", ("B3",), 1e-3))
    for one, two, three in zip(plain.errors, other.errors, faulty.errors, strict=True):
        if "linearity" not in one.source.name:  # grows with the distance from the middle
            assert np.array_equal(one.value, two.value)
            assert np.array_equal(one.value, three.value)
    differ = np.nonzero(plain.readings.v != faulty.readings.v)[0]
    assert [faulty.readings.station[i] for i in differ] == ["B3"]


def test_the_drawn_errors_have_their_stated_size(shop):
    """Over 40 surveys each source scatters as stated, within four standard deviations of such a figure."""
    surveys = [made(shop, seed=seed).errors for seed in range(40)]
    for number, one in enumerate(surveys[0]):
        counted = np.nonzero(one.source.u > 0.0)[0]
        first = counted[np.unique(one.source.group[counted], return_index=True)[1]]
        drawn = np.array([errors[number].value[first] / errors[number].source.u[first] for errors in surveys])
        assert drawn.std() == pytest.approx(1.0, abs=4.0 / np.sqrt(2.0 * drawn.size)), one.source.name
        assert abs(drawn.mean()) < 4.0 / np.sqrt(drawn.size)


# ---------------------------------------------------------------- faults


def test_every_kind_can_strike_here_and_is_in_the_readme(shop, geometry):
    assert set(possible_faults(shop, geometry)) == set(FAULTS)
    text = (ROOT / "README.md").read_text(encoding="utf-8").split("## Simulated readings")[1].split("\n## ")[0]
    for kind in FAULTS:
        assert f"| `{kind}` |" in text


@pytest.mark.parametrize("kind", FAULTS)
@pytest.mark.parametrize("seed", range(5))
def test_a_fault_spoils_the_readings_that_it_names_and_stays_on_the_detectors(shop, kind, seed):
    sound, spoilt = (made(shop, *faults, seed=seed) for faults in ((), (Fault(kind),)))
    changes = [
        ~np.isclose(getattr(sound.readings, name), getattr(spoilt.readings, name), rtol=0.0, atol=1e-12, equal_nan=True)
        for name in ("h", "v", "pitch", "yaw")
    ]
    touched = np.nonzero(np.any(changes, axis=0))[0]
    assert len(touched)
    assert set(touched) <= set(spoilt.faults[0].strike.rows.tolist())
    assert not spoilt.off_window.any()


def test_a_beam_that_drifts(shop, geometry):
    """12 times 3 urad/h for the minutes that have passed, over the range: v rises with the beam."""
    sound, spoilt, fault = struck(shop, "drift=plane,12", geometry)
    mine = geometry.rows.setup == geometry.rows.setups.index("plane")
    rate, path = 12.0 * 3e-6 / 3600.0, spots(geometry).path
    change = spoilt.readings.v - sound.readings.v
    assert np.allclose(change[mine], (rate * geometry.rows.time * path)[mine], atol=1e-10)
    assert not change[~mine].any()
    assert fault.amount == 12.0
    sound, spoilt, fault = struck(shop, "drift=line,12", geometry)
    mine = geometry.rows.setup == geometry.rows.setups.index("line")
    up, right = (getattr(spoilt.readings, each) - getattr(sound.readings, each) for each in ("v", "h"))
    wanted = rate * geometry.rows.time * path
    assert np.allclose(up[mine], (np.sin(fault.strike.direction) * wanted)[mine], atol=1e-9)
    assert np.allclose(right[mine], (np.cos(fault.strike.direction) * wanted)[mine], atol=1e-9)


def test_a_mount_of_another_height(shop, geometry):
    sound, spoilt, fault = struck(shop, "wrong-mount=B3,5 mm", geometry)
    change = spoilt.readings.v - sound.readings.v
    assert [spoilt.readings.station[i] for i in fault.strike.rows] == ["B3"]
    assert change[fault.strike.rows] == pytest.approx(-5e-3, abs=1e-9)
    assert np.count_nonzero(change) == 1
    assert not np.any(spoilt.readings.mount_offset)  # nobody has noted it


def test_exchanged_records(shop, geometry):
    sound, spoilt, fault = struck(shop, "swapped-stations=A2,B4", geometry, size=90e-6)
    one, two = (sound.readings.station.index(name) for name in ("A2", "B4"))
    assert fault.strike.rows.tolist() == [one, two]
    order = np.arange(len(sound.readings))
    order[[one, two]] = [two, one]
    for channel in ("h", "v", "pitch", "yaw"):
        wanted = getattr(sound.readings, channel)[order]
        assert np.array_equal(getattr(spoilt.readings, channel), wanted, equal_nan=True)
    assert spoilt.readings.station == sound.readings.station


def test_a_bent_path(shop, geometry):
    sound, spoilt, _ = struck(shop, "bent-path=-3 K/m", geometry)
    bend = float(temperature_slope(635e-9, 293.15, 101_325.0, 0.5)) * -3.0
    mine = geometry.rows.setup == geometry.rows.setups.index("stepping")
    wanted = 0.5 * bend * spots(geometry).path ** 2
    assert np.allclose((spoilt.readings.v - sound.readings.v)[mine], wanted[mine], atol=1e-12)
    assert np.all(wanted > 0.0)  # colder above: the beam goes up


def test_a_beam_beside_the_turning_axis_of_the_prism(shop, geometry):
    """The exit is displaced along the beam by the part of it that lies in the direction of the exit."""
    sound, spoilt, fault = struck(shop, "decentred-prism=0.8 mm", geometry)
    rows = fault.strike.rows
    assert fault.where == ("square",)
    assert np.all(geometry.rows.stop[rows] >= 0)
    # turned by -90 degrees, the exit points along the y of the nose
    along = 0.8e-3 * np.cos(fault.strike.direction)
    right = (spoilt.readings.h - sound.readings.h)[rows]
    # the beam runs to +x, then to +y where +x is right; run the other way, y of the nose lies as before
    assert np.allclose(right, np.where(geometry.rows.side[rows] == 0, along, -along), atol=1e-9)


def test_a_prism_whose_angle_is_off(shop, geometry):
    sound, spoilt, fault = struck(shop, "mirror=20 arcsec", geometry)
    rows = fault.strike.rows
    change = (spoilt.readings.h - sound.readings.h)[rows]
    lean = 2.0 * shop.prisms["nose"].index * 20.0 * ARCSECOND
    sides = np.where(geometry.rows.side[rows] == 0, lean, -lean)
    exits = np.array([0.4, 1.0, 1.5, 0.4, 1.0, 1.5]) - 0.015
    assert np.allclose(np.diff(change.reshape(2, 3), axis=1), np.diff((sides * exits).reshape(2, 3), axis=1), atol=1e-9)
    assert np.allclose(change, sides * exits, atol=0.1 * lean)  # and a shift of the size of the prism


def test_a_beam_that_is_not_square_to_its_base(shop, geometry):
    sound, spoilt, fault = struck(shop, "cone=8 arcsec", geometry)
    change, path = spoilt.readings.v - sound.readings.v, spots(geometry).path
    rows = fault.strike.rows
    assert fault.where == ("base",)
    assert np.allclose(change[rows], 8.0 * ARCSECOND * path[rows], atol=1e-9)
    assert np.count_nonzero(change) == len(rows) == 17


def test_a_rolled_target(shop, geometry):
    (fault,) = faults_of_texts(["roll=t1,2 deg"], shop, geometry)
    sound, spoilt = made(shop), made(shop, fault)
    rows = spoilt.faults[0].strike.rows
    assert {geometry.rows.targets[i] for i in geometry.rows.target[rows]} == {"t1"}
    change = (spoilt.readings.v - sound.readings.v)[rows]
    assert np.allclose(change, np.sin(np.radians(2.0)) * sound.readings.h[rows], atol=2e-6)
    assert np.max(np.abs(change)) > 20e-6


def test_one_bad_reading(shop, geometry):
    sound, spoilt, fault = struck(shop, "bad-reading=A1,-0,2 mm", geometry)
    change = spoilt.readings.v - sound.readings.v
    assert np.count_nonzero(change) == len(fault.strike.rows) == 1
    assert change[fault.strike.rows] == pytest.approx(-0.2e-3, abs=1e-15)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("mirror", "no set-up reads through a prism"),
        ("decentred prism", "possible here: drift, wrong-mount, swapped-stations, bent-path, cone, roll, bad-reading"),
        ("wrongmount", "did you mean wrong-mount? possible here: drift,"),
        ("wrong-mount=Z9,5 mm", "it cannot strike station 'Z9'"),
        ("wrong-mount=5", "has no unit"),
        ("wrong-mount=5 mmm", "'mmm' is not a known unit"),
        ("cone=5 mm", "is not a unit of angle"),
        ("swapped-stations=A1", "two stations can be named, not A1"),
        ("swapped-stations=A1,A1", "A1 is named twice"),
        ("bent-path=A1", "a temperature gradient with its unit is expected"),
        ("drift=plane,fast", "'fast' is not a number"),
    ],
)
def test_faults_that_cannot_be_are_one_clear_error(simulate, typed, said):
    code, out, err = simulate(BED, "--seed", "1", "--fault", typed)
    assert (code, out) == (2, "")
    assert said in err


def test_everything_that_is_wrong_with_the_faults_is_told_at_once(simulate):
    code, _, err = simulate(BED, "--seed", "1", "--fault", "mirror", "--fault", "cone=2", "--fault", "drift")
    assert code == 2
    assert err.startswith("datumray: 2 problems")


# ---------------------------------------------------------------- what stays hidden, and what the answers tell


def test_what_is_true_stays_hidden_without_answers(simulate, tmp_path):
    file, answers = tmp_path / "r.csv", tmp_path / "a.json"
    plain = simulate(BED, "--seed", "4", "-o", file)
    spoilt = simulate(BED, "--seed", "4", "--fault", "wrong-mount", "-o", tmp_path / "s.csv", "--answers", answers)
    assert plain[1] == spoilt[1] == ""
    assert spoilt[2].replace("s.csv", "r.csv") == plain[2]
    first, second = (name.read_text().splitlines() for name in (file, tmp_path / "s.csv"))
    assert first[0] == second[0]
    changed_lines = [k for k, (one, two) in enumerate(zip(first, second, strict=True)) if one != two]
    fault = json.loads(answers.read_text())["faults"][0]
    assert fault["records"] == changed_lines
    assert fault["where"] == [second[changed_lines[0]].split(",")[2]]
    assert fault["amount"]["unit"] == "um"
    assert "another height" in fault["about"]


def test_the_answers_are_enough_to_trace_the_readings_again(simulate, tmp_path):
    """Truth, setting, faults and errors of the document, put into a state and traced, give the file."""
    file, answers = tmp_path / "r.csv", tmp_path / "a.json"
    chosen = ("bent-path", "roll=t1,1 deg", "mirror", "bad-reading=B2,50 um")
    simulate(SHOP, "--seed", "9", *(part for each in chosen for part in ("--fault", each)), "-o", file, "--answers",
             answers)  # fmt: skip
    layout = read_layout(SHOP)
    geometry = survey_geometry(layout, planned_rows(layout))
    rows, told = geometry.rows, json.loads(answers.read_text())
    assert (told["format"], told["seed"], told["visit"], told["truth_from"]) == (1, 9, "as found", "drawn")
    names = [rows.stations[i] for i in rows.station]
    assert [each["station"] for each in told["readings"]] == names
    truth = {each["station"]: each for each in told["truth"]}

    def of(name, part):
        each = truth.get(name)
        if each is None:
            return 0.0
        angle = part in ("nod", "swing")
        return to_si(each[part], each["angle_unit" if angle else "unit"], "angle" if angle else "length")

    state = NOMINAL
    for field, part in (("deviation", "up"), ("deviation_side", "aside"), ("nod", "nod"), ("swing", "swing")):
        state = changed(state, field, np.array([of(name, part) for name in names]))
    for each in told["setups"]:
        mine = [
            k for k, row in enumerate(told["readings"]) if (row["setup"], row["side"]) == (each["setup"], each["side"])
        ]
        through = [k for k in mine if (rows.stop[k] >= 0) == (each["stop"] is not None)]
        for field, value in each["off"].items():
            amount = to_si(value["value"], value["unit"], shown_in(field, layout.units)[1])
            state = changed(state, field, np.where(np.isin(np.arange(len(rows)), through), amount, 0.0))
    for each in told["errors"]:
        kind = shown_in(each["field"], layout.units)[1]
        state = changed(state, each["field"], np.array([to_si(value, each["unit"], kind) for value in each["values"]]))
    fields = {"bent-path": ("gradient", "temperature gradient"), "roll": ("roll", "angle"),
              "mirror": ("mirror", "angle"), "bad-reading": ("noise_v", "length")}  # fmt: skip
    for each in told["faults"]:
        field, kind = fields[each["fault"]]
        amount = to_si(each["amount"]["value"], each["amount"]["unit"], kind)
        struck_rows = np.isin(np.arange(len(rows)) + 1, each["records"])
        state = changed(state, field, np.where(struck_rows, amount, 0.0))
    read, seen = read_readings([file], layout), spots(geometry, state)
    assert np.max(np.abs(read.v - seen.v)) < PRINTED
    assert np.max(np.abs(read.h - seen.h)) < PRINTED
    known = np.isfinite(read.pitch)
    assert known.sum() == 6
    assert np.max(np.abs(read.pitch - seen.pitch)[known]) < 0.01 * ARCSECOND


def test_every_field_of_the_state_has_a_unit(shop):
    for field in FIELDS:
        unit, kind = shown_in(field, shop.units)
        assert to_si(1.0, unit, kind) > 0.0


def test_a_trainee_finds_the_wrong_mount_and_a_sound_survey_gives_the_truth():
    """From simulate to reduce: the true flatness lies within U of the value for 95 % of the surveys.

    Of 10, fewer than 7 would do so once in 1000 times. A mount that is 2 mm too high cannot be missed.
    """
    layout = read_layout(BED)
    covered = 0
    for seed in range(10):
        one = made(layout, seed=seed, size=50e-6)
        (result,) = reduce_survey(layout, one.readings, trials=500).measured
        (told,), (flat,) = result.deviations, result.components
        true = [[*layout.stations[name].at[:2], one.truth.up[name]] for name in told.stations]
        covered += abs(flat.value - flatness(np.array(true)).value) < flat.expanded_uncertainty
        spoilt = made(layout, Fault("wrong-mount", ("C4",), 2e-3), seed=seed, size=50e-6)
        (told,) = (
            reduce_survey(layout, spoilt.readings, reference=Reference.LEAST_SQUARES, trials=500).measured[0].deviations
        )
        high = told.values[told.stations.index("C4")] - np.median(told.values)
        assert high == pytest.approx(2e-3, abs=2e-4)
    assert covered >= 7


# ---------------------------------------------------------------- what cannot be


def test_readings_that_nobody_could_take_are_left_out(simulate, tmp_path):
    text = BED.read_text(encoding="utf-8")
    hidden = tmp_path / "hidden.yaml"
    hidden.write_text(text.replace("at: [0.15 m, -2.3 m, 0 m]", "at: [-2.3 m, 0.2 m, 0 m]"), encoding="utf-8")
    code, out, err = simulate(hidden, "--seed", "1")
    assert code == 0
    assert "something stands in the beam: A1, E1" in err
    assert not {line.split(",")[2] for line in out.splitlines()[1:]} & {"A1", "E1"}
    high = tmp_path / "high.yaml"
    high.write_text(text.replace("tripod: 0.9 m", "tripod: 0.95 m"), encoding="utf-8")
    code, out, err = simulate(high, "--seed", "1")
    assert (code, out) == (2, "")
    assert "no reading can be taken" in err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "station,up [um]\nA1,3\nA9,2\nA1,4\n",
            ("line 3, column 1: the layout has no station 'A9'", "A1 stands here and"),
        ),
        ("station,up\nA1,3\n", ("has no unit",)),
        ("station,note\nA1,x\n", ("there is no column of values",)),
        ("up [um]\n3\n", ("there is no column station",)),
        ("station,up [m]\nA1,3\n", ("more than a machine is ever off",)),
        ("station,up [um]\nsquare near,3\n", ("marks the base line",)),
        ("station,up [um],nod [mm]\nA1,3,1\n", ("is not a unit of angle",)),
        ("station,up [um]\n", ("there are no stations below the headers",)),
    ],
)
def test_a_truth_that_cannot_be_is_told_with_its_place(simulate, tmp_path, text, said):
    truth = tmp_path / "truth.csv"
    truth.write_text(text)
    code, out, err = simulate(SHOP, "--seed", "1", "--truth", truth)
    assert (code, out) == (2, "")
    for part in said:
        assert part in err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--size", "20 um", "--truth", "x.csv"), "the truth is stated"),
        (("--size", "20"), "has no unit"),
        (("--size", "-3 um"), "is no deviation of a machine"),
        (("--answers", "-"), "cannot both go to the terminal"),
        (("--visit", " "), "a visit needs a name"),
        (("--truth", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_options_that_do_not_go_together(simulate, options, said):
    code, out, err = simulate(SHOP, "--seed", "1", *options)
    assert (code, out) == (2, "")
    assert said in err


def test_a_fault_built_in_code_is_checked_too(shop):
    from scenes.errors import InputError

    with pytest.raises(InputError, match="cannot strike base 'nose'"):
        made(shop, Fault("cone", ("nose",)))
    bare = replace(shop, setups={"line": shop.setups["line"]})
    with pytest.raises(InputError, match="no set-up turns its beam by a base"):
        made(bare, Fault("cone"))
