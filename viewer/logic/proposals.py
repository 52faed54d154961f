"""Shims for the visits of a survey that still need them."""

from __future__ import annotations

from scenes.corrections.bed_feet import shims_for
from scenes.corrections.proposal import ShimProposal
from scenes.errors import GeometryError
from scenes.reductions.survey import SurveyResult

__all__ = ["proposals_of"]


def proposals_of(survey: SurveyResult) -> tuple[dict[tuple[str, str], ShimProposal], tuple[str, ...]]:
    """Proposals by task and visit, and in words why a task has none; tasks without feet are passed over."""
    found: dict[tuple[str, str], ShimProposal] = {}
    remarks: list[str] = []
    for measured in survey.measured:
        task, visit = measured.evidence.task, measured.evidence.visit
        try:
            proposal = shims_for(survey.layout, measured)
        except GeometryError as error:
            remarks.append(f"no shims for {task.surface}, {visit}: {error}")
            continue
        if proposal is not None:
            found[task.name, visit] = proposal
    return found, tuple(remarks)
