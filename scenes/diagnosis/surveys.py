"""Diagnosis of a whole survey: every visit, every group of set-ups that hang together."""

from __future__ import annotations

from dataclasses import replace

from ..reductions.survey import SurveyResult
from .diagnose import diagnose
from .diagnosis import Advice, Diagnosis
from .twins import twins_of

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
            found.append(_with_twins(survey, diagnose(survey.layout, network, name, resting, resting[0].records)))
    return tuple(found)


def _with_twins(survey: SurveyResult, found: Diagnosis) -> Diagnosis:
    """The same with records that are the same in every figure, and the advice to read one of them again."""
    twins = tuple(each for each in twins_of(survey.readings, found.visit) if each.setup in found.setups)
    advice = tuple(
        Advice(each.stations[1], each.setup, f"its record is that of {each.stations[0]} in every figure")
        for each in twins
    )
    return replace(found, twins=twins, advice=(*advice, *found.advice))
