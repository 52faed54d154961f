"""Diagnosis of a whole survey: every visit, every group of set-ups that hang together."""

from __future__ import annotations

from ..reductions.survey import SurveyResult
from .diagnose import diagnose
from .diagnosis import Diagnosis

__all__ = ["diagnose_survey"]


def diagnose_survey(survey: SurveyResult, visit: str = "") -> tuple[Diagnosis, ...]:
    """What stands out on every visit, or on one; networks that several tasks share are looked at once."""
    found = []
    for name in survey.visits:
        if visit and name != visit:
            continue
        mine = [each for each in survey.measured if each.evidence.visit == name]
        networks = list({id(each.evidence.network): each.evidence.network for each in mine}.values())
        for network in networks:
            resting = tuple(each for each in mine if each.evidence.network is network)
            found.append(diagnose(survey.layout, network, name, resting, resting[0].records))
    return tuple(found)
