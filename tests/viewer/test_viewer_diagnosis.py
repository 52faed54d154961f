"""The tab of diagnosis: its numbers are those of ``scenes.diagnosis``, and a hidden fault is shown, not applied."""

import json
import logging

import numpy as np
import pytest
from typer.testing import CliRunner

from scenes.diagnosis.surveys import diagnose_survey
from scenes.tracing.geometry import CHANNELS
from scenes.units import show
from viewer.commands.main import app
from viewer.desk import plain
from viewer.logic.diagnosis_closures import FAR, NEAR, closure_chart, closure_rows, mark_of_size
from viewer.logic.diagnosis_drawn import marks_of, residuals_of, signature_of
from viewer.logic.diagnosis_held import Diagnoses, group_choices
from viewer.logic.diagnosis_shown import NOTHING, diagnosis_document
from viewer.logic.diagnosis_station import station_card
from viewer.logic.session import open_session
from viewer.reactions.diagnosis import DiagnosisReactions
from viewer.scene3d_diagnosis import DiagnosisPicture

from .conftest import ROOT, open_example
from .test_viewer_reactions import Page

RAILS = ROOT / "examples" / "transfer_rails"
HIDDEN = "A10"
"""Station whose mount is half a millimetre off in one set-up."""


@pytest.fixture(autouse=True)
def nothing_goes_wrong_unsaid(caplog):
    yield
    assert [record for record in caplog.get_records("call") if record.levelno >= logging.ERROR] == []


@pytest.fixture(scope="module")
def faulty(tmp_path_factory):
    """Rails read with a hidden fault."""
    file = tmp_path_factory.mktemp("fault") / "readings.csv"
    command = ["simulate", str(RAILS / "layout.yaml"), "--seed", "5", "--truth", str(RAILS / "truth.csv"),
               "--fault", f"wrong-mount={HIDDEN},0.5 mm", "-o", str(file)]  # fmt: skip
    assert CliRunner().invoke(app, command).exit_code == 0
    return open_session(str(RAILS / "layout.yaml"), [str(file)])


@pytest.fixture(scope="module")
def held(faulty):
    """The first group of set-ups of the survey with the fault."""
    return Diagnoses(faulty).of("as found")[0]


# --- plain data


def test_diagnoses_are_those_of_the_library_with_their_networks(faulty):
    found, wanted = Diagnoses(faulty).of("as found"), diagnose_survey(faulty.survey, "as found")
    assert len(found) == len(wanted) > 1
    for each, one in zip(found, wanted, strict=True):
        assert each.diagnosis.chi_square == one.chi_square
        assert each.network.geometry.rows.setups == one.setups
    assert [each["title"].startswith("◆") for each in group_choices(found)] == [bool(one.suspects) for one in wanted]


def test_a_suspect_is_told_with_size_evidence_and_what_it_would_change(faulty, held):
    document = diagnosis_document(faulty, held)
    suspect, card = held.diagnosis.suspects[0], document["suspects"][0]
    assert document["head"]["kind"] == "bad"
    assert HIDDEN in card["about"]
    size, expanded = (show(each, "um").replace("-", "\u2212").replace("um", "µm")
                      for each in (suspect.sizes[0], 2.0 * suspect.u[0]))  # fmt: skip
    assert card["size"] == f"{size} ± {expanded}"
    assert f"falls by {suspect.drop:.1f}" in card["evidence"]
    assert len(card["others"]) == len(suspect.others)
    told = {f"{task}, {name}" if name else task for task, name, _ in suspect.changes}
    assert {each["name"] for each in card["changes"]} <= told
    assert "/" not in card["about"]
    json.dumps(plain(document))


def test_results_stay_what_they_were(faulty, held):
    own = {each.evidence.task.name: each.components[0].value for each in faulty.survey.measured}
    diagnosis_document(faulty, held)
    signature_of(faulty.layout, held, 0)
    assert own == {each.evidence.task.name: each.components[0].value for each in faulty.survey.measured}


def test_a_sound_survey_says_so_in_large_words():
    session = open_example("coating_rolls")
    (each,) = Diagnoses(session).of("as found")
    head = diagnosis_document(session, each)["head"]
    assert head["word"] == NOTHING
    assert head["kind"] == "good"
    assert f"Chi-square {each.diagnosis.chi_square:.1f}" in head["about"]


def test_readings_that_nothing_controls_are_not_called_sound(faulty):
    uncontrolled = Diagnoses(faulty).of("as found")[-1]
    assert uncontrolled.diagnosis.redundancy == 0
    head = diagnosis_document(faulty, uncontrolled)["head"]
    assert head["kind"] == "open"
    assert head["word"] != NOTHING
    assert np.isnan(marks_of(uncontrolled.network).worst).all()


def test_suspicions_from_a_shape_are_apart(faulty, held):
    document = diagnosis_document(faulty, held)
    assert len(document["suspicions"]) == len(held.diagnosis.suspicions) > 0
    assert "machine of that shape looks the same" in document["suspicion_note"]
    share = held.diagnosis.suspicions[0].share
    assert f"{100.0 * share:.0f} %" in document["suspicions"][0]["share"]


@pytest.mark.parametrize(("size", "shape"), [(1.9, "●"), (-2.5, "■"), (-3.1, "◆")])
def test_sizes_have_shapes_of_their_own(size, shape):
    assert mark_of_size(size)["shape"] == shape


def test_closures_are_drawn_to_scale_between_their_lines(faulty, held):
    closures = held.diagnosis.closures
    chart = closure_chart(faulty.layout, closures)
    at = {line["key"]: line["y"] for line in chart["lines"]}
    per = (at[f"{-FAR:g}"] - at[f"{FAR:g}"]) / (2.0 * FAR)
    assert (at[f"{-NEAR:g}"] - at[f"{NEAR:g}"]) / (2.0 * NEAR) == pytest.approx(per, rel=0.02)
    assert len(chart["dots"]) == len(closures)
    by_name = {(each.station, round(each.normalised, 1)): each for each in closures}
    for dot in chart["dots"]:
        size = (chart["zero"] - dot["y"]) / per
        near = min(by_name.values(), key=lambda each, dot=dot, size=size: (
            each.station != dot["name"], abs(each.normalised - size)
        ))  # fmt: skip
        assert near.station == dot["name"]
        assert size == pytest.approx(near.normalised, abs=0.15)
    rows = closure_rows(faulty.layout, closures)
    assert [row["size"] for row in rows] == [f"{abs(each.normalised):.1f}" for each in closures]


def test_the_residual_of_a_reading_is_its_share_of_chi_square(held):
    """One reading taken out lets chi-square fall by the square of its normalised residual."""
    told = residuals_of(held.network)
    suspect = held.diagnosis.suspects[0]
    assert float(np.nanmax(np.abs(told))) == pytest.approx(np.sqrt(suspect.drop), rel=1e-6)
    marks = marks_of(held.network)
    assert marks.stations[int(np.nanargmax(marks.worst))] == HIDDEN


def test_the_signature_has_the_estimated_size_along_its_channel(faulty, held):
    suspect, signature = held.diagnosis.suspects[0], signature_of(faulty.layout, held, 0)
    assert suspect.kind == "bad reading"
    assert signature.stations == (HIDDEN,)
    np.testing.assert_allclose(signature.effects, suspect.sizes)
    geometry, of = held.network.geometry, held.network.observations
    row = next(
        int(of.row[i]) for i in range(len(of.row))
        if suspect.where.startswith(f"{CHANNELS[of.channel[i]]} of {HIDDEN} from "
                                    f"{geometry.rows.setups[geometry.rows.setup[of.row[i]]]} ")
    )  # fmt: skip
    np.testing.assert_allclose(signature.directions[0], geometry.axis_v[row])


def test_the_card_tells_every_reading_of_a_station(faulty, held):
    card = station_card(faulty.layout, held, HIDDEN)
    assert [each["reading"] for each in card["facts"]] == ["v from first", "v from second"]
    assert all(each["shape"] == "◆" for each in card["facts"])
    assert station_card(faulty.layout, held, "A1")["facts"][0]["word"] == "controlled by no other reading"


# --- reactions


class DiagnosisPage(Page):
    """The page with the tab of diagnosis open."""

    def __init__(self, session):
        super().__init__(session)
        self.diagnosis = DiagnosisReactions(self.desk, DiagnosisPicture(self.scene))
        self.state.tab = "diagnosis"
        self.diagnosis.refresh()
        self.desk.start()


@pytest.fixture
def opened(faulty):
    return DiagnosisPage(faulty)


def test_the_tab_opens_where_something_stands_out(opened):
    state = opened.state
    assert state.diagnosis["head"]["word"] == "One error stands out"
    assert state.diagnosis_word == ""
    assert state.suspect == 0
    assert set(opened.scene.mesh("diagnosis far")["station"]) == {
        i for i, size in enumerate(opened.diagnosis._marks.worst) if size > FAR
    }
    assert opened.scene.mesh("diagnosis signature") is not None
    assert state.legend["slider"] == "mark_zoom_log"
    assert state.legend["factor"].startswith("what it would do")


def test_another_group_has_other_marks_and_no_arrows(opened):
    opened.set(diagnosis_group=2)
    assert opened.state.diagnosis["head"]["kind"] == "open"
    assert opened.scene.mesh("diagnosis signature") is None
    assert opened.scene.mesh("diagnosis far") is None
    assert opened.scene.mesh("diagnosis uncontrolled") is not None
    assert opened.state.legend is None


def test_a_closure_marks_its_station(opened):
    dot = opened.state.diagnosis["chart"]["dots"][0]
    opened.set(station=dot["name"])
    assert opened.state.diagnosis_card["name"] == dot["name"]
    assert opened.scene.mesh("diagnosis chosen") is not None


def test_arrows_are_stretched(opened):
    before = opened.diagnosis.drawn()
    opened.set(mark_zoom_log=opened.state.mark_zoom_log - 1.0)
    assert np.ptp(opened.diagnosis.drawn()[:, 2]) < np.ptp(before[:, 2])


def test_nothing_is_looked_for_while_another_tab_is_open(faulty):
    page = Page(faulty)
    reactions = DiagnosisReactions(page.desk, DiagnosisPicture(page.scene))
    page.set(tab="result")
    assert not reactions._diagnoses.is_ready("as found")
    assert page.state.diagnosis is None
