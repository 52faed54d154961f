"""Law 15: a verdict is monotone in U and the same in every unit."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from scenes.model.survey import Rule
from scenes.reductions.verdict import Word, decide

lengths = st.floats(1e-7, 1e-2)
RANK = {Word.CONFORMS: 0, Word.NOT_PROVEN: 1, Word.DOES_NOT_CONFORM: 2}


@settings(max_examples=1000, deadline=None)
@given(lengths, lengths, lengths, st.floats(1.0, 100.0))
def test_more_uncertainty_never_proves_more(value, u, limit, grown):
    sure, unsure = decide(value, u, limit), decide(value, grown * u, limit)
    assert unsure.word in (sure.word, Word.NOT_PROVEN)
    assert abs(unsure.probability - 0.5) <= abs(sure.probability - 0.5) + 1e-12


@settings(max_examples=1000, deadline=None)
@given(lengths, lengths, lengths, lengths)
def test_a_larger_value_is_never_judged_better(value, more, u, limit):
    one, other = decide(value, u, limit), decide(value + more, u, limit)
    assert RANK[other.word] >= RANK[one.word]
    assert other.probability <= one.probability


@settings(max_examples=1000, deadline=None)
@given(lengths, lengths, lengths, st.sampled_from([2.0**10, 2.0**-7]))
def test_the_verdict_is_the_same_in_every_unit(value, u, limit, factor):
    """Powers of two scale without rounding, so that even ties at the guard band stay ties."""
    one, other = decide(value, u, limit), decide(factor * value, factor * u, factor * limit)
    assert one.word is other.word
    assert one.probability == other.probability


@settings(max_examples=300, deadline=None)
@given(lengths, lengths)
def test_without_uncertainty_both_rules_compare_with_the_limit(value, limit):
    expected = Word.CONFORMS if value <= limit else Word.DOES_NOT_CONFORM
    assert decide(value, 0.0, limit).word is expected
    assert decide(value, 1e-6, limit, Rule.SIMPLE).word is expected
    assert decide(value, 0.0, limit).probability == (1.0 if value <= limit else 0.0)
