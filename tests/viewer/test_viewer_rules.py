"""The rule of a verdict, switched in the viewer: words, verdict and what is drawn follow it, values do not."""

from dataclasses import replace

import numpy as np
import pytest

from scenes.errors import GeometryError
from scenes.model.survey import Rule
from scenes.reductions.quantities.compared import judged_by, rules_compared
from scenes.reductions.verdict import Word
from viewer import text
from viewer.logic.limits_drawn import accepted_of, accepted_zone, limits_of
from viewer.logic.moves_book import Asked, MovesBook
from viewer.logic.plots_polar import polar_chart, polars_of
from viewer.logic.plots_profile import profile_chart, profiles_of
from viewer.logic.result import result_document
from viewer.logic.shown import shown_of
from viewer.logic.visits_shown import VisitChanges

from .conftest import open_example
from .test_viewer_reactions import Page

TASK = "bed flatness"
NANOMETRE = 1e-9


def ruled(session, rule):
    """The same session by another rule; what it works out is its own."""
    return replace(session, rule=rule, _measured={}, _changes={})


def near_the_limit(session, rule, share):
    """The bed as left, with its limit set so that the value lies ``share`` guard bands of 95 % above it."""
    own = session.own(TASK, "as left")
    (part,) = own.components
    limit = part.value - share * part.verdict.guard
    verdict = replace(part.verdict, limit=limit)
    moved = replace(own, components=(replace(part, verdict=verdict),))
    return judged_by(judged_by(moved, Rule.SIMPLE if rule is not Rule.SIMPLE else Rule.RELAXED), rule)


@pytest.mark.parametrize("rule", list(Rule))
def test_a_rule_changes_verdicts_and_nothing_else(session, rule):
    own = session.own(TASK, "as left")
    other = ruled(session, rule).own(TASK, "as left")
    told = next(each for each in rules_compared(own) if each.rule is rule)
    for part, same, verdict in zip(own.components, other.components, told.verdicts, strict=True):
        assert (part.value, part.standard_uncertainty, part.interval) == (
            same.value, same.standard_uncertainty, same.interval)  # fmt: skip
        assert (same.verdict.word, same.verdict.rule) == (verdict.word, rule)
    assert session.own(TASK, "as left").evidence.task.rule is Rule.GUARD_BAND


def test_every_place_that_tells_a_verdict_tells_it_by_the_rule_in_use(session):
    other = ruled(session, Rule.SIMPLE)
    for reference in session.references(TASK):
        try:
            found = other.measured(TASK, "as found", reference)
        except GeometryError:
            continue
        assert {each.verdict.rule for each in found.components} == {Rule.SIMPLE}
    assert other.task(TASK).rule is Rule.SIMPLE
    assert {each.before.evidence.task.rule for each in VisitChanges(other).of(TASK, "as found", "as left")} == {
        Rule.SIMPLE}  # fmt: skip
    moves = MovesBook(session).of(Asked(TASK, "as found", rule=Rule.RELAXED))
    assert {each.verdict.rule for each in moves.components} == {Rule.RELAXED}


def test_a_result_of_another_reference_goes_back_to_the_rule_that_was_asked_for(session):
    other = ruled(session, Rule.RELAXED)
    assert other.measured(TASK, "as left", "least squares").components[0].verdict.rule is Rule.RELAXED
    other.rule = None
    assert other.measured(TASK, "as left", "least squares").components[0].verdict.rule is Rule.GUARD_BAND


@pytest.mark.parametrize(("rule", "share", "word", "says"), [
    (Rule.GUARD_BAND, 0.5, Word.NOT_PROVEN, "is too near to the limit"),
    (Rule.SIMPLE, 0.5, Word.DOES_NOT_CONFORM, "is above the limit"),
    (Rule.SIMPLE, -0.5, Word.CONFORMS, "keeps the limit"),
    (Rule.RELAXED, 0.5, Word.CONFORMS, "is above the limit of"),
    (Rule.RELAXED, 1.5, Word.DOES_NOT_CONFORM, "is above the limit"),
    (Rule.GUARD_BAND_U, -1.1, Word.NOT_PROVEN, "is too near to the limit"),
])  # fmt: skip
def test_words_say_what_the_rule_makes_of_a_value_near_its_limit(session, rule, share, word, says):
    measured = near_the_limit(session, rule, share)
    shown = shown_of(session, TASK, "as left", "", False)
    head = result_document(session, replace(shown, measured=measured, component=measured.components[0]))["head"]
    assert measured.components[0].verdict.word is word
    assert says in head["sentence"]
    assert ("not by enough to prove it" in head["sentence"]) == (rule is Rule.RELAXED and share == 0.5)
    assert head["rule"].startswith(f"Rule: {text.RULE_WORDS[rule]}: ")


def test_what_the_rule_accepts_of_a_surface_is_drawn_inside_or_outside_the_limits(session):
    widths = {}
    for rule in Rule:
        shown = shown_of(ruled(session, rule), TASK, "as found", "", False)
        accepted, limit = accepted_zone(shown), shown.zone[1] - shown.zone[0]
        guard = shown.component.verdict.guard
        widths[rule] = None if accepted is None else (accepted[1] - accepted[0] - limit, guard)
        chart = profile_chart(session.layout, profiles_of(shown)[0])
        assert bool(chart["accepted"]) == (accepted is not None)
        assert ("Dotted" in chart["note"]) == (accepted is not None)
    assert widths[Rule.SIMPLE] is None
    for rule, sign in ((Rule.GUARD_BAND, -1.0), (Rule.GUARD_BAND_U, -1.0), (Rule.RELAXED, 1.0)):
        narrower, guard = widths[rule]
        assert narrower == pytest.approx(sign * guard, abs=NANOMETRE)


def test_what_the_rule_accepts_of_lines_follows_their_limits():
    rails = open_example("transfer_rails")
    for rule, sign in ((Rule.GUARD_BAND, -1.0), (Rule.SIMPLE, 0.0), (Rule.RELAXED, 1.0)):
        shown = shown_of(ruled(rails, rule), "b height", "as found", "", False)
        (figure,) = shown.figures
        limits, accepted = limits_of(shown, figure), accepted_of(shown, figure)
        if not sign:
            assert accepted is None
            continue
        assert accepted.width - limits.width == pytest.approx(sign * shown.component.verdict.guard, abs=NANOMETRE)
        assert accepted.middle == limits.middle


def test_what_the_rule_accepts_of_an_axis_is_a_dotted_ring():
    """Its diameter is the limit less the guard of the rule; no ring where the rule accepts up to the limit."""
    barrel = open_example("extruder_barrel")
    for rule, sign in ((Rule.GUARD_BAND, -1.0), (Rule.GUARD_BAND_U, -1.0), (Rule.SIMPLE, 0.0), (Rule.RELAXED, 1.0)):
        shown = shown_of(ruled(barrel, rule), "axis", "as found", "", False)
        (polar,) = polars_of(shown)
        chart = polar_chart(barrel.layout, polar)
        assert bool(chart["accepted"]) == ("what the rule accepts" in chart["note"]) == bool(sign)
        if not sign:
            assert polar.accepted is None
            continue
        wider = 2.0 * (polar.accepted - polar.limit)
        assert wider == pytest.approx(sign * shown.component.verdict.guard, abs=NANOMETRE)
        (ring,), (limit,) = chart["accepted"], chart["rings"]
        assert ring / limit["r"] == pytest.approx(polar.accepted / polar.limit, abs=2e-3)


def test_leaning_limits_are_narrowed_at_both_sides():
    lathe = open_example("lathe")
    tried = 0
    for task in lathe.tasks():
        shown = shown_of(lathe, task, "as found", "", False)
        for figure in shown.figures:
            limits, accepted = limits_of(shown, figure), accepted_of(shown, figure)
            if limits is None or limits.lean is None or accepted is None:
                continue
            tried += 1
            assert limits.lean[0] < accepted.lean[0] < accepted.lean[1] < limits.lean[1]
            inset = np.array(accepted.lean) - np.array(limits.lean)
            assert inset[0] == pytest.approx(-inset[1])
    assert tried


def test_a_click_on_a_rule_switches_all_that_is_shown(session):
    page = Page(ruled(session, None))
    rows = {each["value"]: each for each in page.state.result["rules"]}
    assert rows["simple acceptance"]["guard"] == "none"
    assert rows["relaxed acceptance"]["guard"] == f"\u2212{rows['']['guard']}"
    assert [each["asked"] for each in page.state.result["rules"]] == [True, False, False, False]
    assert set(rows) == {"", "guard band of U", "simple acceptance", "relaxed acceptance"}
    assert "accepted edges" in page.scene.parts
    page.set(rule="simple acceptance")
    assert [each["value"] for each in page.state.result["rules"] if each["chosen"]] == ["simple acceptance"]
    assert "the value alone counts" in page.state.result["head"]["rule"]
    assert "accepted edges" not in page.scene.parts
    page.set(rule="no such rule")
    assert page.desk.session.rule is Rule.SIMPLE
    page.set(rule="")
    assert page.state.result["head"]["rule"].startswith("Rule: Guard band, ISO 14253-1: must keep the limit by ")


def test_of_many_lines_only_the_chosen_one_shows_what_the_rule_accepts():
    page = Page(ruled(open_example("coating_rolls"), None))
    accepted = [name for name in page.scene.names("limits") if name.endswith("accepted")]
    zones = [name for name in page.scene.names("limits") if name.endswith("zone")]
    assert (len(accepted), len(zones)) == (1, 5)
    page.set(component=0)
    assert [name for name in page.scene.names("limits") if name.endswith("accepted")] != accepted
