"""The result tab in plain data: what is said, shown and sorted."""

import json
from dataclasses import replace

import numpy as np
import pytest

from scenes.reductions.form import Reference
from scenes.reductions.verdict import Word
from viewer import text
from viewer.desk import plain
from viewer.logic.legend import factor_words, legend_document
from viewer.logic.result import ROWS_SHOWN, result_card, result_document, sorted_rows, visit_choices
from viewer.logic.session import DIFFERENCE
from viewer.logic.shown import Kind, first_factor, rounded_factor, shown_of, standing_bar

TASK = "bed flatness"
MICROMETRE = 1e-6


@pytest.fixture(scope="module")
def found(session):
    return shown_of(session, TASK, "as found", None, False)


def test_the_verdict_is_a_shape_a_word_and_a_sentence(session, found):
    head = result_document(session, found, None)["head"]
    result = session.result(TASK, "as found")
    assert (head["kind"], head["shape"], head["word"]) == ("bad", "■", "Does not conform")
    value = f"{result.form.value / MICROMETRE:.0f} µm"
    expanded = f"{result.expanded_uncertainty / MICROMETRE:.0f} µm"
    assert head["sentence"].startswith(f"Flatness {value} ± {expanded} (U, k = 2) is above the limit of 60 µm.")
    names = result.estimate.stations
    assert f"Highest at {names[int(np.argmax(result.form.deviations))]} (+" in head["sentence"]
    assert f"lowest at {names[int(np.argmin(result.form.deviations))]} (−" in head["sentence"]


def test_as_left_conforms_and_needs_no_move(session):
    document = result_document(session, shown_of(session, TASK, "as left", None, False), None)
    assert document["head"]["kind"] == "good"
    assert document["head"]["shape"] == "●"
    assert "keeps the limit" in document["head"]["sentence"]
    assert document["shims"]["note"] == text.NO_MOVE_NEEDED


def test_three_kinds_of_verdict_have_three_shapes():
    for words in (text.VERDICT_SHAPES, text.VERDICT_KINDS, text.SEVERITY_SHAPES, text.SEVERITY_KINDS):
        assert len(set(words.values())) == len(words) == 3


def test_values_under_all_references_stand_side_by_side(session, found):
    rows = result_document(session, found, Reference.LEAST_SQUARES)["references"]
    assert [row["kind"] for row in rows] == ["minimum zone", "least squares", "three points"]
    assert [row["chosen"] for row in rows] == [False, True, False]
    assert [row["asked"] for row in rows] == [True, False, False]
    for row in rows:
        value = session.result(TASK, "as found", Reference(row["kind"])).form.value
        assert row["value"] == f"{value / MICROMETRE:.0f} µm"


def test_a_reference_that_does_not_exist_gives_a_reason(session, found):
    result = session.result(TASK, "as found")
    task = replace(result.estimate.task, datum=("A1", "A7", "gone"))
    other = type(session)(session.layout, session.check, session.survey, session.proposals, ())
    other._results[TASK, "as found", Reference.MINIMUM_ZONE] = replace(
        result, estimate=replace(result.estimate, task=task)
    )
    row = result_document(other, found, Reference.MINIMUM_ZONE)["references"][2]
    assert not row["exists"]
    assert row["value"] == "\u2013"
    assert "gone was not read" in row["meaning"]


def test_the_sources_are_bars_that_add_up(session, found):
    result = session.result(TASK, "as found")
    rows = result_document(session, found, None)["budget"]
    assert rows[0]["share"] == 100.0
    assert rows[-1]["name"] == "all others"
    total = np.sqrt(sum(float(row["value"]) ** 2 for row in rows))
    assert total == pytest.approx(result.linear_u / MICROMETRE, abs=0.15)


def test_interval_and_bias_are_in_words(session, found):
    words = " ".join(result_document(session, found, None)["words"])
    low, high = session.result(TASK, "as found").interval
    assert f"{low / MICROMETRE:.1f} µm and {high / MICROMETRE:.1f} µm with 95 %" in words
    assert "on average" in words


def test_a_verdict_that_proves_nothing_says_why(session, found):
    result = session.result(TASK, "as found")
    other = type(session)(session.layout, session.check, session.survey, session.proposals, ())
    verdict = replace(result.verdict, word=Word.NOT_PROVEN, reason="3 of 35 stations were not read")
    other._results[TASK, "as found", Reference.MINIMUM_ZONE] = replace(result, verdict=verdict)
    head = result_document(other, found, Reference.MINIMUM_ZONE)["head"]
    assert (head["kind"], head["shape"], head["word"]) == ("open", "▲", "Not proven")
    assert "proves nothing for the limit of 60 µm: 3 of 35 stations were not read." in head["sentence"]
    assert "too near" not in head["sentence"]


def test_the_difference_has_no_verdict(session):
    shown = shown_of(session, TASK, DIFFERENCE, None, False)
    document = result_document(session, shown, None)
    assert shown.kind == Kind.CHANGE
    assert shown.zone is None
    assert document["head"]["kind"] == "forecast"
    assert document["head"]["word"] == "as left less as found"
    assert document["references"] == document["budget"] == []
    np.testing.assert_array_equal(shown.deviations, session.change(TASK).deviation)


def test_the_prediction_is_not_called_measured(session):
    shown = shown_of(session, TASK, "as found", None, True)
    document = result_document(session, shown, None)
    proposal = session.proposals[TASK, "as found"]
    assert document["head"]["word"] == "Predicted, not measured"
    assert f"{proposal.predicted / MICROMETRE:.0f} µm" in document["head"]["sentence"]
    np.testing.assert_array_equal(shown.deviations, proposal.as_left)


def test_shims_by_foot(session, found):
    shims = result_document(session, found, None)["shims"]
    proposal = session.proposals[TASK, "as found"]
    assert [row["name"] for row in shims["rows"]] == list(session.layout.feet["bed"].names)
    for row, lift, stack in zip(shims["rows"], proposal.lifts, proposal.stacks, strict=True):
        assert int(row["lift"].lstrip("+")) == round(lift / MICROMETRE)
        pieces = [] if row["stack"] == "none" else [float(piece) for piece in row["stack"].split(" + ")]
        np.testing.assert_allclose(pieces, [1e3 * piece for piece in stack], rtol=1e-9)
    assert shims["loads"]


def test_a_surface_without_feet_says_so(session):
    bare = replace_feet(session)
    document = result_document(bare, shown_of(bare, TASK, "as found", None, False), None)
    assert document["shims"] is None
    assert document["no_shims"] == text.NO_FEET


def replace_feet(session):
    copy = type(session)(replace(session.layout, feet={}), session.check, session.survey, {}, ())
    copy._results.update(session._results)
    return copy


@pytest.mark.parametrize(
    ("key", "values"),
    [("deviation", lambda s: s.deviations), ("u", lambda s: s.expanded)],
)
def test_the_table_is_sorted(session, found, key, values):
    rows, note = sorted_rows(session, found, key, True)
    order = [found.stations.index(row["name"]) for row in rows]
    assert np.all(np.diff(values(found)[order]) <= 0.0)
    assert note == ""
    assert [row["name"] for row in sorted_rows(session, found, "order", False)[0]] == list(found.stations)
    assert [row["name"] for row in sorted_rows(session, found, "name", False)[0]] == sorted(found.stations)


def test_long_tables_end_and_say_so(session, found):
    times = ROWS_SHOWN // len(found.stations) + 2
    names = tuple(f"{name}-{n}" for n in range(times) for name in found.stations)
    many = replace(
        found, kind=Kind.CHANGE, stations=names, places=np.tile(found.places, (times, 1)),
        deviations=np.tile(found.deviations, times), expanded=np.tile(found.expanded, times),
    )  # fmt: skip
    rows, note = sorted_rows(session, many, "deviation", True)
    assert len(rows) == ROWS_SHOWN
    assert note.startswith(f"{ROWS_SHOWN} of {len(names)} stations")


def test_the_card_of_a_station(session, found):
    card = result_card(session, found, "A7")
    facts = {each["name"]: each["value"] for each in card["facts"]}
    number = found.stations.index("A7")
    assert card["deviation"] == f"−{-found.deviations[number] / MICROMETRE:.1f} µm"
    assert facts["Place x, y"] == "1400, −800 mm"
    assert facts["U"] == f"± {found.expanded[number] / MICROMETRE:.1f} µm"
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
        shown = shown_of(session, TASK, visit, None, predicted)
        document = plain(result_document(session, shown, None))
        assert json.loads(json.dumps(document)) == document


# --- exaggeration, zero level, legend


def test_the_zero_level_stays_where_it_is_when_the_visit_changes(session):
    factor = first_factor(session, TASK)
    lifts = {
        round(shown_of(session, TASK, visit, None, False).lift(factor), 9)
        for visit in ("as found", "as left", DIFFERENCE)
    }
    assert len(lifts) == 1


def test_nothing_drawn_dips_into_the_surface(session):
    for visit in ("as found", "as left", DIFFERENCE):
        shown = shown_of(session, TASK, visit, None, False)
        for factor in (1.0, 500.0, 20_000.0):
            up = shown.world_from_surface.rotation[:, 2]
            height = (shown.tips(factor) - shown.world_from_surface.points(shown.places)) @ up
            assert height.min() > 0.0


def test_colours_reach_over_all_visits_and_the_limits(session, found):
    left = shown_of(session, TASK, "as left", None, False)
    assert found.largest == left.largest >= np.abs(found.deviations).max()
    low, high = found.zone
    assert high - low == pytest.approx(60 * MICROMETRE)
    assert 0.5 * (low + high) == pytest.approx(0.5 * (found.deviations.max() + found.deviations.min()), abs=1e-12)


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
