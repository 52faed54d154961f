"""Diagnoses of a session with the networks that they are about, worked out when a visit is first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from scenes.diagnosis.diagnosis import Diagnosis
from scenes.diagnosis.surveys import diagnose_survey
from scenes.reductions.network import Network
from viewer.logic.session import Session

__all__ = ["Diagnosed", "Diagnoses", "first_diagnosis_state", "group_choices"]

Document = dict[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class Diagnosed:
    """A diagnosis, the network that it is about, where its records stand, and the tasks that rest on it."""

    diagnosis: Diagnosis
    network: Network
    records: tuple[str, ...]
    tasks: tuple[str, ...]


def first_diagnosis_state(session: Session) -> Document:
    """What the tab of diagnosis shares with the page, before it is opened."""
    visits = () if session.survey is None else session.survey.visits
    return {
        "diagnosis": None, "diagnosis_word": "", "diagnosis_card": None, "diagnosis_visits": list(visits),
        "diagnosis_visit": visits[0] if visits else "", "diagnosis_groups": [], "diagnosis_group": 0, "suspect": 0,
        "mark_zoom_log": 0.0, "mark_zoom_most": 1.0,
    }  # fmt: skip


@dataclass(slots=True, eq=False)
class Diagnoses:
    """Diagnoses by visit; what was worked out once is kept."""

    session: Session
    _found: dict[str, tuple[Diagnosed, ...]] = field(default_factory=dict)

    def is_ready(self, visit: str) -> bool:
        """Whether ``of`` answers at once."""
        return visit in self._found

    def of(self, visit: str) -> tuple[Diagnosed, ...]:
        """One diagnosis for each group of set-ups of a visit that hang together."""
        if visit not in self._found:
            self._found[visit] = self._work_out(visit)
        return self._found[visit]

    def _work_out(self, visit: str) -> tuple[Diagnosed, ...]:
        survey = self.session.survey
        if survey is None or visit not in survey.visits:
            return ()
        mine = [each for each in survey.measured if each.evidence.visit == visit]
        networks = list({id(each.evidence.network): each.evidence.network for each in mine}.values())
        found = []
        for diagnosis, network in zip(diagnose_survey(survey, visit), networks, strict=True):
            resting = [each for each in mine if each.evidence.network is network]
            tasks = tuple(dict.fromkeys(each.evidence.task.name for each in resting))
            found.append(Diagnosed(diagnosis, network, resting[0].records, tasks))
        return tuple(found)


def group_choices(found: tuple[Diagnosed, ...]) -> list[Document]:
    """Groups of set-ups as choices: what was read, for which tasks, and whether something stands out there."""
    return [
        {"number": number, "title": f"{'◆ ' if each.diagnosis.suspects else ''}{', '.join(each.diagnosis.setups)}"
                                    f" ({', '.join(each.tasks)})"}
        for number, each in enumerate(found)
    ]  # fmt: skip
