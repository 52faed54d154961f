"""Law 15: a verdict is monotone in U and the same in every unit, whatever the rule."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, t

from scenes.model.survey import Rule
from scenes.reductions.verdict import RULES, Word, accepted_within, decide, guard_of

lengths = st.floats(1e-7, 1e-2)
rules = st.sampled_from(list(Rule))
RANK = {Word.CONFORMS: 0, Word.NOT_PROVEN: 1, Word.DOES_NOT_CONFORM: 2}
DRAWN_TO = {Rule.GUARD_BAND: Word.NOT_PROVEN, Rule.GUARD_BAND_U: Word.NOT_PROVEN, Rule.RELAXED: Word.CONFORMS}
"""Word that ever more uncertainty leads to; simple acceptance does not look at it."""


@settings(max_examples=1000, deadline=None)
@given(lengths, lengths, lengths, st.floats(1.0, 100.0), rules)
def test_more_uncertainty_never_proves_more(value, u, limit, grown, rule):
    sure, unsure = decide(value, u, limit, rule), decide(value, grown * u, limit, rule)
    assert unsure.word in (sure.word, DRAWN_TO.get(rule, sure.word))
    assert abs(unsure.probability - 0.5) <= abs(sure.probability - 0.5) + 1e-12


@settings(max_examples=1000, deadline=None)
@given(lengths, lengths, lengths, lengths, rules)
def test_a_larger_value_is_never_judged_better(value, more, u, limit, rule):
    one, other = decide(value, u, limit, rule), decide(value + more, u, limit, rule)
    assert RANK[other.word] >= RANK[one.word]
    assert other.probability <= one.probability


@settings(max_examples=1000, deadline=None)
@given(lengths, lengths, lengths, st.sampled_from([2.0**10, 2.0**-7]), rules, st.sampled_from([None, -1.0, 0.0]))
def test_the_verdict_is_the_same_in_every_unit(value, u, limit, factor, rule, below):
    """Powers of two scale without rounding, so that even ties at the guard band stay ties."""
    lower = None if below is None else below * limit
    one = decide(value, u, limit, rule, lower)
    other = decide(factor * value, factor * u, factor * limit, rule, None if lower is None else factor * lower)
    assert one.word is other.word
    assert one.probability == other.probability
    assert other.guard == factor * one.guard


@settings(max_examples=1000, deadline=None)
@given(st.floats(-1e-2, 1e-2), lengths, lengths, st.floats(1.0, 3.0))
def test_rules_are_in_order(value, u, limit, k):
    """From the strictest to the most lenient, at two limits: what one accepts, the next accepts too."""
    order = (Rule.GUARD_BAND_U, Rule.GUARD_BAND, Rule.SIMPLE, Rule.RELAXED)
    if guard_of(Rule.GUARD_BAND_U, u, k) < guard_of(Rule.GUARD_BAND, u):
        order = (Rule.GUARD_BAND, Rule.GUARD_BAND_U, Rule.SIMPLE, Rule.RELAXED)
    found = [decide(value, u, limit, rule, -limit, k) for rule in order]
    accepted = [each.word is Word.CONFORMS for each in found]
    assert accepted == sorted(accepted)
    assert found[-1].word is not Word.NOT_PROVEN
    assert found[-2].word is not Word.NOT_PROVEN
    for each in found:
        room = accepted_within(each.rule, u, k)
        assert (each.word is Word.CONFORMS) == (-limit + room <= value <= limit - room)


def test_what_rules_prove():
    """At the edge of what a rule accepts, the probability of conformity is that of its name."""
    value = 0.1 - guard_of(Rule.GUARD_BAND, 0.01)
    assert decide(value, 0.01, 0.1).probability == pytest.approx(0.95, abs=1e-12)
    value = 0.1 - guard_of(Rule.GUARD_BAND_U, 0.01, 2.0)
    assert decide(value, 0.01, 0.1, Rule.GUARD_BAND_U).probability == pytest.approx(norm.cdf(2.0), abs=1e-12)
    value = 0.1 + guard_of(Rule.RELAXED, 0.01)
    found = decide(value, 0.01, 0.1, Rule.RELAXED)
    assert (found.word, found.probability) == (Word.CONFORMS, pytest.approx(0.05, abs=1e-12))
    assert set(RULES) == set(Rule)


@pytest.mark.parametrize("dof", [1.0, 4.0, 30.0])
def test_few_degrees_of_freedom_widen_the_guard_band(dof):
    """A Student t in place of the normal distribution."""
    assert guard_of(Rule.GUARD_BAND, 0.01, dof=dof) == pytest.approx(0.01 * t.ppf(0.95, dof), rel=1e-9)
    assert guard_of(Rule.GUARD_BAND, 0.01, dof=dof) > guard_of(Rule.GUARD_BAND, 0.01)
    found = decide(0.08, 0.01, 0.1, lower=-0.1, dof=dof)
    assert found.probability == pytest.approx(t.cdf(2.0, dof) - t.cdf(-18.0, dof), rel=1e-9)


@settings(max_examples=300, deadline=None)
@given(lengths, lengths, rules)
def test_without_uncertainty_all_rules_compare_with_the_limit(value, limit, rule):
    expected = Word.CONFORMS if value <= limit else Word.DOES_NOT_CONFORM
    assert decide(value, 0.0, limit, rule).word is expected
    assert decide(value, 1e-6, limit, Rule.SIMPLE).word is expected
    assert decide(value, 0.0, limit, rule).probability == (1.0 if value <= limit else 0.0)
