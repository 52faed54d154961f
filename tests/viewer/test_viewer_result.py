"""The result tab of a surface in plain data: what is said, shown and sorted."""

import json
from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.model.survey import Rule
from scenes.reductions.reference import Reference
from scenes.reductions.verdict import RULES, Word
from viewer import text
from viewer.desk import plain
from viewer.logic.legend import factor_words, legend_document
from viewer.logic.result import result_document, visit_choices
from viewer.logic.result_stations import ROWS_SHOWN, result_card, sorted_rows
from viewer.logic.session import DIFFERENCE
from viewer.logic.shown import Kind, first_factor, rounded_factor, shown_of, standing_bar

TASK = "bed flatness"
MICROMETRE = 1e-6


@pytest.fixture(scope="module")
def found(session):
    return shown_of(session, TASK, "as found", "", False)


def only(session, visit="as found", reference=""):
    """The one component of the task."""
    (component,) = session.measured(TASK, visit, reference).components
    return component


def changed(shown, **values):
    """The same with another component."""
    component = replace(shown.component, **values)
    measured = replace(shown.measured, components=(component,))
    return replace(shown, measured=measured, component=component)


def test_the_verdict_is_a_shape_a_word_and_a_sentence(session, found):
    head, component = result_document(session, found)["head"], only(session)
    assert (head["kind"], head["shape"], head["word"]) == ("bad", "■", "Does not conform")
    value = f"{component.value / MICROMETRE:.0f} µm"
    expanded = f"{component.expanded_uncertainty / MICROMETRE:.0f} µm"
    assert head["sentence"].startswith(f"Flatness {value} ± {expanded} (U, k = 2) is above the limit of 60 µm.")
    (deviations,) = found.measured.deviations
    names = deviations.stations
    assert f"Highest at {names[int(np.argmax(deviations.values))]} (+" in head["sentence"]
    assert f"lowest at {names[int(np.argmin(deviations.values))]} (−" in head["sentence"]
    assert head["about"] == "Flatness of bed. Reference: minimum zone plane. Heights over the surface, 35 stations."


def test_as_left_conforms_and_needs_no_move(session):
    document = result_document(session, shown_of(session, TASK, "as left", "", False))
    assert document["head"]["kind"] == "good"
    assert document["head"]["shape"] == "●"
    assert "keeps the limit" in document["head"]["sentence"]
    assert document["shims"]["note"] == text.NO_MOVE_NEEDED


def test_three_kinds_of_verdict_have_three_shapes():
    for words in (text.VERDICT_SHAPES, text.VERDICT_KINDS, text.SEVERITY_SHAPES, text.SEVERITY_KINDS):
        assert len(set(words.values())) == len(words) == 3


def test_values_under_all_references_stand_side_by_side(session):
    session.compare(TASK, "as found")
    shown = shown_of(session, TASK, "as found", "least squares", False)
    rows = {row["kind"]: row for row in result_document(session, shown)["references"]}
    assert list(rows) == ["minimum zone", "least squares", "three points", "gravity", "datum feature"]
    assert [kind for kind, row in rows.items() if row["chosen"]] == ["least squares"]
    assert [kind for kind, row in rows.items() if row["asked"]] == ["minimum zone"]
    for kind in ("minimum zone", "least squares", "three points"):
        component = only(session, reference=kind)
        assert rows[kind]["value"] == f"{component.value / MICROMETRE:.0f} µm"
        assert rows[kind]["expanded"] == f"± {component.expanded_uncertainty / MICROMETRE:.0f} µm"
        assert rows[kind]["word"] == text.VERDICT_WORDS[component.verdict.word]
    assert only(session).value <= only(session, reference="least squares").value


def test_a_reference_that_does_not_exist_gives_a_reason(session, found):
    session.compare(TASK, "as found")
    rows = {row["kind"]: row for row in result_document(session, found)["references"]}
    for kind, reason in (("gravity", "nothing ties"), ("datum feature", "names no datum feature")):
        assert not rows[kind]["exists"]
        assert rows[kind]["value"] == "\u2013"
        assert reason in rows[kind]["reason"]
        assert "as found" not in rows[kind]["reason"]
        with pytest.raises(GeometryError):
            session.measured(TASK, "as found", kind)
    with pytest.raises(KeyError):
        session.measured(TASK, "as found", "end points")


def test_references_not_worked_out_yet_are_pending(session, found):
    fresh = type(session)(session.layout, session.check, session.survey, {}, ())
    rows = {row["kind"]: row for row in result_document(fresh, found)["references"]}
    assert rows["minimum zone"]["value"] != "\u2026"
    assert {rows[str(kind)]["value"] for kind in (Reference.LEAST_SQUARES, Reference.THREE_POINTS)} == {"\u2026"}


def test_every_rule_says_its_verdict(session, found):
    rows = result_document(session, found)["rules"]
    assert len(rows) == len(RULES)
    assert [row["chosen"] for row in rows] == [True] + [False] * (len(RULES) - 1)
    assert [row["name"] for row in rows] == [text.RULE_NAMES[rule] for rule in Rule]
    assert {row["word"] for row in rows} == {"Does not conform"}  # far above its limit


def test_the_sources_are_bars_that_add_up(session, found):
    chart = result_document(session, found)["component"]["chart"]
    total = np.sqrt(sum(float(bar["words"].split()[0]) ** 2 for bar in chart["bars"]))
    assert total == pytest.approx(only(session).linear_u / MICROMETRE, abs=0.15)


def test_interval_bias_contacts_and_rule_are_in_words(session, found):
    words = " ".join(result_document(session, found)["component"]["lines"])
    low, high = only(session).interval
    assert f"{low / MICROMETRE:.1f} µm and {high / MICROMETRE:.1f} µm with 95 %" in words
    assert "on average" in words
    assert "Rule: guard band" in words
    for name in (*only(session).high, *only(session).low):
        assert name in words


def test_a_verdict_that_proves_nothing_says_why(session, found):
    verdict = replace(found.component.verdict, word=Word.NOT_PROVEN, reason="3 of 35 stations were not read")
    head = result_document(session, changed(found, verdict=verdict))["head"]
    assert (head["kind"], head["shape"], head["word"]) == ("open", "▲", "Not proven")
    assert "proves nothing for the limit of 60 µm: 3 of 35 stations were not read." in head["sentence"]
    assert "too near" not in head["sentence"]


def test_the_difference_has_no_verdict(session):
    shown = shown_of(session, TASK, DIFFERENCE, "", False)
    document = result_document(session, shown)
    assert shown.kind == Kind.CHANGE
    assert shown.zone is None
    assert document["head"]["kind"] == "forecast"
    assert document["head"]["word"] == "as left less as found"
    assert document["references"] == document["rules"] == document["components"] == []
    (change,) = session.change(TASK).deviations
    np.testing.assert_array_equal(shown.sheet.values, change.change)
    (row,) = document["changes"]
    (value,) = session.change(TASK).values
    assert row["change"] == f"−{-value.change / MICROMETRE:.0f} µm"
    assert row["word"] == ("proven" if value.proven else "within U")


def test_errors_that_visits_share_cancel_in_the_change(session):
    """Its uncertainty is below that of two visits that share nothing."""
    (change,) = session.change(TASK).deviations
    shown = shown_of(session, TASK, DIFFERENCE, "", False)
    np.testing.assert_allclose(shown.sheet.expanded[:, 0], shown.factor * change.u)
    assert np.all(change.u < change.apart)


def test_the_prediction_is_not_called_measured(session):
    shown = shown_of(session, TASK, "as found", "", True)
    document = result_document(session, shown)
    proposal = session.proposals[TASK, "as found"]
    assert document["head"]["word"] == "Predicted, not measured"
    assert f"{proposal.predicted / MICROMETRE:.0f} µm" in document["head"]["sentence"]
    np.testing.assert_array_equal(shown.sheet.values, proposal.as_left)


def test_shims_by_foot(session, found):
    shims = result_document(session, found)["shims"]
    proposal = session.proposals[TASK, "as found"]
    assert [row["name"] for row in shims["rows"]] == list(session.layout.feet["bed"].names)
    for row, lift, stack in zip(shims["rows"], proposal.lifts, proposal.stacks, strict=True):
        assert int(row["lift"].lstrip("+")) == round(lift / MICROMETRE)
        pieces = [] if row["stack"] == "none" else [float(piece) for piece in row["stack"].split(" + ")]
        np.testing.assert_allclose(pieces, [1e3 * piece for piece in stack], rtol=1e-9)
    assert shims["loads"]


def test_a_surface_without_feet_says_so(session):
    bare = type(session)(replace(session.layout, feet={}), session.check, session.survey, {}, ())
    document = result_document(bare, shown_of(bare, TASK, "as found", "", False))
    assert document["shims"] is None
    assert document["no_shims"] == text.NO_FEET


@pytest.mark.parametrize("key", ["deviation", "u", "leverage"])
def test_the_table_is_sorted(session, found, key):
    (deviations,) = found.measured.deviations
    values = {"deviation": deviations.values, "u": deviations.u, "leverage": deviations.leverage}[key]
    rows, note = sorted_rows(session, found, key, True)
    order = [deviations.stations.index(row["name"]) for row in rows]
    assert np.all(np.diff(values[order]) <= 0.0)
    assert note == ""
    assert [row["name"] for row in sorted_rows(session, found, "order", False)[0]] == list(deviations.stations)
    assert [row["name"] for row in sorted_rows(session, found, "name", False)[0]] == sorted(deviations.stations)


def test_leverages_add_up_to_what_the_reference_has(session, found):
    """A plane has three parameters."""
    rows, _ = sorted_rows(session, found, "order", False)
    assert sum(float(row["leverage"]) for row in rows) == pytest.approx(3.0, abs=0.1)


def test_long_tables_end_and_say_so(session, found):
    times = ROWS_SHOWN // 35 + 2
    many = replace(found, sets=found.sets * times)
    rows, note = sorted_rows(session, many, "deviation", True)
    assert len(rows) == ROWS_SHOWN
    assert note.startswith(f"{ROWS_SHOWN} of {35 * times} rows")


def test_the_card_of_a_station(session, found):
    card = result_card(session, found, "A7")
    facts = {each["name"]: each["value"] for each in card["facts"]}
    (deviations,) = found.measured.deviations
    number = deviations.stations.index("A7")
    assert card["deviation"] == f"−{-deviations.values[number] / MICROMETRE:.1f} µm"
    assert facts["Place x, y"] == "1400, −800 mm"
    assert facts["U"] == f"± {2.0 * deviations.u[number] / MICROMETRE:.1f} µm"
    assert set(facts) == {"Place x, y", "Reading v", "U", "Leverage"}
    assert result_card(session, found, "nowhere") is None


def test_a_station_read_twice_says_so(session, found):
    facts = {each["name"]: each["value"] for each in result_card(session, found, "A1")["facts"]}
    assert facts["Reading v"].endswith("µm (mean of 2)")


def test_visits_to_choose_from(session, one_visit):
    assert [each["value"] for each in visit_choices(session, TASK)] == ["as found", "as left", DIFFERENCE]
    assert [each["value"] for each in visit_choices(one_visit, TASK)] == ["as found"]


def test_everything_goes_through_json(session):
    for visit, predicted in (("as found", False), ("as found", True), (DIFFERENCE, False)):
        shown = shown_of(session, TASK, visit, "", predicted)
        document = plain(result_document(session, shown))
        assert json.loads(json.dumps(document)) == document


# --- exaggeration, zero level, legend


def test_the_zero_level_stays_where_it_is_when_the_visit_changes(session):
    factor = first_factor(session, TASK)
    lifts = {
        round(shown_of(session, TASK, visit, "", False).lift(factor), 9)
        for visit in ("as found", "as left", DIFFERENCE)
    }
    assert len(lifts) == 1


def test_nothing_drawn_dips_into_the_surface(session):
    for visit in ("as found", "as left", DIFFERENCE):
        shown = shown_of(session, TASK, visit, "", False)
        for factor in (1.0, 500.0, 20_000.0):
            height = (shown.tips(factor) - shown.sheet.places) @ shown.sheet.directions[0]
            assert height.min() > 0.0


def test_colours_reach_over_all_visits_and_the_limits(session, found):
    left = shown_of(session, TASK, "as left", "", False)
    assert found.largest == left.largest >= np.abs(found.sheet.values).max()
    low, high = found.zone
    assert high - low == pytest.approx(60 * MICROMETRE)
    values = found.sheet.values
    assert 0.5 * (low + high) == pytest.approx(0.5 * (values.max() + values.min()), abs=1e-12)


@pytest.mark.parametrize(("log", "factor"), [(-1.0, 1.0), (0.0, 1.0), (0.3, 2.0), (3.301, 2000.0), (3.333, 2200.0)])
def test_exaggeration_has_two_figures(log, factor):
    assert rounded_factor(log) == factor


def test_the_standing_bar_is_round_and_not_larger_than_the_colours(found):
    bar = standing_bar(found)
    assert bar <= found.largest
    assert float(f"{bar:.0e}") == pytest.approx(bar)


def test_the_legend_says_factor_scale_and_limits(found):
    legend = legend_document(
        2000.0, found.largest, "um", bar=50e-6, zone=(-30e-6, 30e-6), drawn="deviation"
    )  # fmt: skip
    assert legend["factor"].replace("\u202f", "") == "heights × 2000"
    assert legend["bar"] == "standing bar = 50 µm"
    assert [limit["text"] for limit in legend["limits"]] == ["−30 µm", "+30 µm"]
    assert legend["limits"][0]["at"] + legend["limits"][1]["at"] == pytest.approx(100.0)
    assert factor_words(1.0) == "heights × 1 (true scale)"


def test_other_units_are_shown_as_asked():
    assert text.quantity(25.4e-6, "thou") == "1.0 thou"
    assert text.quantity(-123.4e-6, "um", sign=True) == "−123 µm"
    assert text.number(-0.04e-6, "um", sign=True) == "0.0"
    assert text.plain_message("differ by +12.0 um; see umbrella") == "differ by +12.0 µm; see umbrella"
