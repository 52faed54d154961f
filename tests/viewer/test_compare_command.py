"""``datumray reduce --compare`` and ``--rule``: other references and rules, printed and in JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from scenes.model.survey import Rule
from viewer.commands.main import app
from viewer.commands.references import DecisionRule, TaskReference, reference_of, rule_of

EXAMPLE = Path(__file__).parents[2] / "examples" / "transfer_rails"
FILES = [str(EXAMPLE / "layout.yaml"), str(EXAMPLE / "readings" / "as_found.csv")]


@pytest.fixture(scope="module")
def reduced():
    """The document of a comparison and the printed one."""
    runner, answers = CliRunner(), []
    for options in (["--json", "-"], []):
        answer = runner.invoke(app, ["reduce", *FILES, "--compare", "--trials", "1000", *options])
        assert answer.exit_code == 0, answer.output
        answers.append(answer.stdout)
    return json.loads(answers[0]), answers[1]


def test_references_stand_side_by_side(reduced):
    document, printed = reduced
    told = {each["task"]: each for each in document["compared"]}
    height = told["a height"]["references"]
    assert {each["reference"] for each in height} == {
        "minimum zone", "least squares", "end points", "gravity", "datum feature"
    }  # fmt: skip
    assert [each["chosen"] for each in height] == [True, False, False, False, False]
    values = {each["reference"]: each["components"][0]["value"] for each in height if each["components"]}
    assert min(values, key=values.get) == "minimum zone"
    (own,) = [
        each for each in document["results"] if each["task"] == "a height" and each["component"] != "local"
    ]  # fmt: skip
    assert values["least squares"] == own["value"]
    (absent,) = [each for each in height if each["reference"] == "datum feature"]
    assert "add to:" in absent["reason"]
    assert "the same readings against other references" in printed
    assert "gravity tells heights only" in " ".join(printed.split())


def test_rules_stand_side_by_side(reduced):
    document, printed = reduced
    told = {each["task"]: each for each in document["compared"]}
    rules = told["b height"]["rules"]
    assert {each["rule"] for each in rules} == set(map(str, Rule))
    words = {each["rule"]: each["components"][0]["verdict"] for each in rules}
    assert words["guard band"] == "not proven"
    assert words["relaxed acceptance"] == "conforms"
    assert "under other rules" in printed


def test_a_rule_takes_the_place_of_that_of_the_layout():
    asked = ["reduce", *FILES, "--trials", "1000", "--json", "-", "--rule", "relaxed-acceptance"]
    answer = CliRunner().invoke(app, asked)
    document = json.loads(answer.stdout)
    judged = [each for each in document["results"] if each["verdict"] is not None]
    assert {each["rule"] for each in judged} == {"relaxed acceptance"}
    assert "compared" not in document


def test_every_word_can_be_typed():
    assert {rule_of(each) for each in DecisionRule} == set(Rule)
    assert len({reference_of(each) for each in TaskReference}) == len(TaskReference)
