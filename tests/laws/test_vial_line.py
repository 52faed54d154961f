"""A line that is levelled by a vial counts from gravity: its rise is known as well as vial and housing."""

from __future__ import annotations

import numpy as np
import pytest

from scenes.layout.read import read_layout
from scenes.reductions.planned_tasks import planned_of
from scenes.reductions.prediction import predict
from scenes.reductions.survey import reduce_survey
from scenes.uncertainty.simulate import simulated

LAYOUT = """
layout: 1
machine:
  rail: {rail: {length: 12 m, width: 100 mm, height: 200 mm, guide: +y}, at: [0 m, 0 m, 0 m]}
devices: {laser: {emitter: block}, t1: {target: two axes}, bubble: {vial: block level}}
stations: {a: {on: rail, every: 2 m, names: A, target: t1, mount: {post: 120 mm}}}
setups:
  along:
    emitter: {use: laser, on: rail, at: [-0.4 m, 0 m, 118 mm], aim: +x}
    level by: vial
    reads: [a]
tasks: {level: {levelness: rail, limit: 0.1 mm/m}}
"""
TRIALS = 4_000


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(LAYOUT)
    return read_layout(path)


def test_the_vial_is_what_levelness_rests_on(layout):
    planned = predict(planned_of(layout, layout.tasks["level"]), np.random.default_rng(1), TRIALS)
    (rise,) = planned.components
    parts = dict(rise.budget)
    vial = layout.vials["bubble"]
    assert parts["zero of the vial"] == pytest.approx(vial.zero_known_to, rel=1e-3)
    assert parts["setting of the vial"] == pytest.approx(vial.sensitivity, rel=1e-3)
    assert parts["beam against the housing"] == pytest.approx(layout.emitters["laser"].pointing, rel=1e-3)
    assert rise.trial_u == pytest.approx(rise.standard_uncertainty, rel=5.0 / np.sqrt(2.0 * TRIALS))


def test_without_a_vial_it_is_refused(tmp_path):
    path = tmp_path / "other.yaml"
    path.write_text(LAYOUT.replace("    level by: vial\n", "").replace(", bubble: {vial: block level}", ""))
    other = read_layout(path)
    with pytest.raises(Exception, match="gravity"):
        planned_of(other, other.tasks["level"])


def test_simulated_surveys_lie_within_u(layout):
    inside, surveys = 0, 60
    for seed in range(surveys):
        (found,) = reduce_survey(layout, simulated(layout, np.random.default_rng(seed)).readings, trials=1000).measured
        one = simulated(layout, np.random.default_rng(seed))
        told = found.deviations[0].stations
        places = np.array([layout.stations[name].at[0] for name in told])
        true = np.polyfit(places, [one.truth.up[name] for name in told], 1)[0]
        (rise,) = found.components
        inside += abs(rise.value - true) <= rise.expanded_uncertainty
    assert inside >= 50  # fewer than this of 60 would happen once in 1e4 times at 95 %
