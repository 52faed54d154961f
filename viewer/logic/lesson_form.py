"""Lesson of the reference lines: one profile, and its straightness from end points, least squares and minimum zone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from scenes.model.layout import Layout, ShownUnits
from scenes.reductions.form import FormResult, straightness, straightness_of_trials
from scenes.reductions.reference import Reference
from scenes.tracing.geometry import SurveyGeometry, survey_geometry
from scenes.tracing.rows import planned_rows
from scenes.tracing.spots import spots
from scenes.tracing.state import NOMINAL
from scenes.vectors import Floats
from viewer.logic.lesson_form_sliders import FORM_REFERENCES
from viewer.logic.lesson_scenes import line_scene

__all__ = ["FormLesson", "FormLessonResult", "form_lesson_result", "open_form_lesson", "shape_of"]

REACH = 6.0
"""Distance [m] of the last station."""

BUMP_AT = 0.3
"""Place of the high spot, as a share of the line."""

TRIALS = 4000
SEED = 11


@dataclass(frozen=True, slots=True, eq=False)
class FormLesson:
    """A rail read along one beam.

    Attributes
    ----------
    layout : Layout
    geometry : SurveyGeometry
    places : (n,) float
        Stations along the rail, metres.
    chance : (n, t) float
        Standard normal numbers; the first column is that of the readings shown.
    """

    layout: Layout
    geometry: SurveyGeometry
    places: Floats
    chance: Floats


@dataclass(frozen=True, slots=True, eq=False)
class FormLessonResult:
    """What the three lines make of the readings.

    Attributes
    ----------
    heights : (n,) float
        Of the rail over the beam as read, metres.
    forms : mapping of way -> FormResult
        Straightness of ``heights``, for each of ``FORM_REFERENCES``.
    added : mapping of way -> float
        What the scatter adds to each value on average, metres.
    """

    heights: Floats
    forms: Mapping[str, FormResult]
    added: Mapping[str, float]


def open_form_lesson(units: ShownUnits) -> FormLesson:
    """The lesson with its scene."""
    layout = line_scene(units, REACH)
    geometry = survey_geometry(layout, planned_rows(layout))
    places = geometry.foot[:, 0]
    chance = np.random.default_rng(SEED).standard_normal((len(places), TRIALS))
    return FormLesson(layout, geometry, places, chance)


def shape_of(name: str, share: Floats) -> Floats:
    """Heights of a rail of size 1 at ``share`` (n,), 0 to 1 along the line."""
    if name == "bow":
        return np.asarray(1.0 - (2.0 * share - 1.0) ** 2)
    if name == "wave":
        return np.asarray(0.5 * np.sin(2.0 * np.pi * share))
    if name == "bump":
        return np.asarray(np.abs(share - BUMP_AT) < 1e-6, dtype=np.float64)
    if name == "end":
        return np.asarray(np.maximum(0.0, 10.0 * share - 9.0))
    return np.asarray(-np.exp(-(((share - 0.42) / 0.16) ** 2)) + 0.35 * np.exp(-(((share - 0.8) / 0.12) ** 2)))


def form_lesson_result(
    lesson: FormLesson, shape: str, size: float, tilt: float, last: float, scatter: float
) -> FormLessonResult:
    """The three values: shape of a ``size`` [m], ``tilt`` of the beam [rad], error ``last`` and ``scatter`` [m]."""
    share = (lesson.places - lesson.places[0]) / np.ptp(lesson.places)
    wrong = np.append(np.zeros(len(share) - 1), last)
    high = np.stack([wrong, wrong + scatter * lesson.chance[:, 0]])
    state = replace(NOMINAL, deviation=size * shape_of(shape, share), tilt_y=np.array(-tilt), noise_v=-high)
    sure, heights = -spots(lesson.geometry, state).v  # a target that stands higher meets the beam lower
    forms = {way: _form(lesson, heights, reference) for way, reference in FORM_REFERENCES.items()}
    added = dict.fromkeys(FORM_REFERENCES, 0.0)
    if scatter > 0.0:
        trials = sure[:, None] + scatter * lesson.chance
        for way, reference in FORM_REFERENCES.items():
            average = float(straightness_of_trials(lesson.places, trials, reference).mean())
            added[way] = average - _form(lesson, sure, reference).value
    return FormLessonResult(heights, forms, added)


def _form(lesson: FormLesson, heights: Floats, reference: Reference) -> FormResult:
    return straightness(np.column_stack([lesson.places, heights]), reference)
