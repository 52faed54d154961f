"""Reactions of the tab of moves: which task, the proposal, sliders, soft feet, exaggeration, and the chosen station."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenes.corrections.chosen_moves import ChosenMoves, chosen_moves, stacks_at
from scenes.corrections.moves import Moves
from scenes.tracing.places import station_places
from scenes.units import to_si
from scenes.vectors import Floats
from viewer import text
from viewer.desk import Desk
from viewer.logic.legend import legend_document
from viewer.logic.moves import (
    forecast_rows,
    head_document,
    mover_rows,
    mover_words,
    moves_document,
    station_words,
    step_rows,
)
from viewer.logic.moves_book import GOALS, Asked, MovesBook, movable_tasks, moved_visit
from viewer.logic.moves_places import MoverPlaces, mover_places
from viewer.logic.moves_shown import found_shown, left_shown
from viewer.logic.moves_sliders import MoveSlider, lifts_at, positions_of, sliders_of
from viewer.logic.shown import Shown, first_factor, rounded_factor, standing_bar
from viewer.logic.signs import corners_drawn
from viewer.scene3d_moves import GROUPS, MovesPicture, arrow_reach

__all__ = ["MovesReactions"]

SEED = 20
WORKING = "Working out the moves …"


@dataclass(frozen=True, slots=True, eq=False)
class _Open:
    """The moves that are open, with what does not change while sliders move."""

    asked: Asked
    moves: Moves
    found: Shown
    places: MoverPlaces
    number: int


class MovesReactions:
    """Keeps panel and picture of the moves in step with the sliders; works only while its tab is open."""

    def __init__(self, desk: Desk, picture: MovesPicture) -> None:
        self._desk, self._picture = desk, picture
        self._book = MovesBook(desk.session)
        self._open: _Open | None = None
        self._sliders: tuple[MoveSlider, ...] = ()
        self._shown: Shown | None = None
        self._told: ChosenMoves | None = None
        self._telling = False
        self.look: Callable[[], None] = lambda: None
        """Called when something else is shown, so that the picture holds it."""
        desk.watch(("task", "visit", "moves_goal", "moves_most", "moves_gaps"), self._ask)
        desk.watch(("moves_free",), self._free)
        desk.watch(("moves_at",), self._moved)
        desk.watch(("moves_zoom_log",), self._zoom)
        desk.watch(("station",), self._station)

    @property
    def _is_open(self) -> bool:
        return bool(self._desk.state.tab == "moves")

    # --- which moves

    def _asked(self) -> Asked | None:
        state, session = self._desk.state, self._desk.session
        if state.task not in movable_tasks(session) or state.moves_goal not in GOALS:
            return None
        unit = session.layout.units.deviation
        gaps = tuple(
            (str(foot), to_si(float(gap), unit, "length")) for foot, gap in dict(state.moves_gaps or {}).items()
            if isinstance(gap, int | float) and math.isfinite(gap) and gap > 0.0
        )  # fmt: skip
        return Asked(
            state.task, moved_visit(session, state.task, state.visit), state.moves_goal, int(state.moves_most), gaps,
            session.rule,
        )  # fmt: skip

    def _ask(self, *_: Any) -> None:
        if not self._is_open:
            return
        asked = self._asked()
        if self._open is not None and self._open.asked.task != self._desk.state.task:
            self._nothing("")
            self._desk.put(moves_gaps={}, moves_most=0)
            asked = self._asked()
        if asked is None:
            self._nothing("The layout names neither feet nor bearings for this task.")
        elif self._book.is_ready(asked):
            self._show(asked)
        else:
            self._desk.put(moves_word=WORKING)
            self._desk.in_background(lambda: self._book.of(asked), lambda: self._done(asked))

    def _done(self, asked: Asked) -> None:
        if self._is_open and self._asked() == asked:
            self._show(asked)

    def _nothing(self, word: str) -> None:
        self._open = self._shown = self._told = None
        self._picture.clear()
        self._desk.put(moves=None, moves_word=word, moves_live=None, moves_steps=[], legend=None)
        self._desk.redraw()

    def _show(self, asked: Asked) -> None:
        moves = self._book.of(asked)
        if isinstance(moves, str):
            self._nothing(text.plain_message(moves))
            return
        desk, session, before = self._desk, self._desk.session, self._open
        own = session.own(asked.task, asked.visit)
        names = [each.name for each in moves.components]
        number = names.index(own.worst.name) if own.worst is not None and own.worst.name in names else 0
        index = next((i for i, each in enumerate(own.components) if each.name == names[number]), -1)
        found = found_shown(session, moves, index)
        self._open = _Open(asked, moves, found, mover_places(session.layout, moves), number)
        if before is None or before.asked.task != asked.task:
            zoom = math.log10(first_factor(session, asked.task))
            desk.put(moves_zoom_log=round(zoom, 3), moves_zoom_most=round(zoom + 1.0, 3))
        self._set_sliders(moves.lifts)
        if before is None or before.asked.task != asked.task:
            self.look()

    def _set_sliders(self, lifts: Floats) -> None:
        """Sliders at moves ``(m,)`` [m]."""
        assert self._open is not None
        layout, moves, free = self._desk.session.layout, self._open.moves, bool(self._desk.state.moves_free)
        self._sliders = sliders_of(moves, layout.units.deviation, free)
        self._desk.put(moves=moves_document(layout, moves, self._sliders, free), moves_word="")
        self._place(lifts)

    def _place(self, lifts: Floats) -> None:
        positions = positions_of(self._sliders, lifts)
        self._desk.put(moves_at=positions)
        self._evaluate()

    # --- sliders and buttons

    @property
    def lifts(self) -> Floats:
        """Moves ``(m,)`` [m] as the sliders stand."""
        return lifts_at(self._sliders, list(self._desk.state.moves_at or []))

    def _moved(self, at: list[float]) -> None:
        if not self._is_open or self._open is None:
            return
        held = positions_of(self._sliders, lifts_at(self._sliders, list(at or [])))
        if held != list(at or []):
            self._desk.put(moves_at=held)
        self._evaluate()

    def _free(self, _free: bool) -> None:
        if self._is_open and self._open is not None:
            self._set_sliders(self.lifts)

    def optimum(self) -> None:
        """Set all sliders to the proposal."""
        if self._open is not None:
            self._place(self._open.moves.lifts)

    def as_found(self) -> None:
        """Set all sliders to nought."""
        if self._open is not None:
            self._place(np.zeros(len(self._sliders)))

    def set_move(self, mover: int, value: Any) -> None:
        """Set one move from its number, in the unit of deviations."""
        if self._open is None or not 0 <= int(mover) < len(self._sliders):
            return
        lifts = self.lifts.copy()
        try:
            wanted = to_si(float(value), self._desk.session.layout.units.deviation, "length")
        except (TypeError, ValueError):
            wanted = float(lifts[int(mover)])
        lifts[int(mover)] = wanted
        self._place(lifts)
        self._desk.put(moves_turn=int(self._desk.state.moves_turn) + 1)

    def set_gap(self, mover: int, value: Any) -> None:
        """Say the gap under a foot, in the unit of deviations; nought or nothing takes it away."""
        if self._open is None or self._open.moves.movers.kind == "bearings":
            return
        name = self._open.moves.movers.names[int(mover)]
        try:
            gap = float(value)
        except (TypeError, ValueError):
            gap = 0.0
        gaps = {foot: each for foot, each in dict(self._desk.state.moves_gaps or {}).items() if foot != name}
        if math.isfinite(gap) and gap > 0.0:
            gaps[name] = gap
        self._desk.put(moves_gaps=gaps)

    # --- what they would leave

    def _evaluate(self) -> None:
        """At once what is quick; the forecast in full as soon as it is worked out."""
        self._told = None
        self._draw()
        self._put()
        self._tell()

    def _tell(self) -> None:
        """Work out the forecast of the sliders as they stand; while one is worked out, the next one waits for it."""
        opened = self._open
        if self._telling or opened is None:
            return
        lifts, found = self.lifts, []
        task = self._desk.session.task(opened.asked.task)

        def work() -> None:
            found.append(chosen_moves(opened.moves, lifts, task, np.random.default_rng(SEED)))

        def then() -> None:
            self._telling = False
            if self._open is opened and np.array_equal(lifts, self.lifts):
                self._told = found[0]
                self._put()
            elif self._is_open:
                self._tell()

        self._telling = True
        self._desk.in_background(work, then)

    @property
    def factor(self) -> float:
        """Exaggeration in use."""
        return rounded_factor(float(self._desk.state.moves_zoom_log))

    def _draw(self) -> None:
        """The picture as the sliders stand."""
        opened, desk = self._open, self._desk
        if opened is None:
            return
        moves, lifts = opened.moves, self.lifts
        self._shown = left_shown(desk.session, opened.found, moves, moves.evaluate(lifts), None)
        words = mover_words(desk.session.layout, moves, lifts)
        self._picture.draw(self._shown, self.factor, opened.places, moves.movers.directions, lifts, words)
        self._legend()
        desk.redraw()

    def _put(self) -> None:
        """The numbers as the sliders stand; the forecast as far as it is worked out."""
        opened, desk, told = self._open, self._desk, self._told
        if opened is None:
            return
        moves, layout, lifts = opened.moves, desk.session.layout, self.lifts
        outcome, task = moves.evaluate(lifts), desk.session.task(opened.asked.task)
        desk.put(moves_live={
            "head": head_document(layout, task, moves, outcome, told, opened.number),
            "rows": mover_rows(layout, moves, lifts, outcome.loads, stacks_at(moves, lifts)),
            "components": forecast_rows(layout, task, moves, outcome, told) if len(moves.components) > 1 else [],
            "at": self._at(lifts),
            "warnings": [] if told is None else [text.plain_message(each) for each in told.warnings],
        })  # fmt: skip
        if told is not None:
            desk.put(moves_steps=step_rows(layout, told), moves_criterion=told.criterion)
            self._card()

    def _at(self, lifts: Floats) -> str:
        """Whether the sliders stand at the optimum or as found."""
        assert self._open is not None
        if np.array_equal(lifts, lifts_at(self._sliders, positions_of(self._sliders, self._open.moves.lifts))):
            return "optimum"
        return "" if lifts.any() else "found"

    # --- picture

    def _legend(self) -> None:
        shown, units = self._shown, self._desk.session.layout.units
        if shown is None:
            return
        legend = legend_document(
            self.factor, shown.largest, units.angle if shown.angles else units.deviation,
            bar=standing_bar(shown) if shown.figures else None, zone=shown.zone, drawn="predicted deviation",
            what="heights" if shown.sheet is not None else "slopes" if shown.angles else "deviations",
            angles=shown.angles,
        )  # fmt: skip
        self._desk.put(legend={**legend, "slider": "moves_zoom_log"})

    def _zoom(self, _log_factor: float) -> None:
        if self._is_open and self._open is not None:
            self._draw()

    def _station(self, station: str) -> None:
        if self._is_open and self._open is not None:
            self._card()
            self._picture.choose(station)
            self._desk.redraw()

    def _card(self) -> None:
        opened, told, station = self._open, self._told, self._desk.state.station
        if opened is None or told is None:
            return
        layout = self._desk.session.layout
        rows = station_words(layout, self._desk.session.task(opened.asked.task), opened.moves, told, station)
        self._desk.put(moves_card={"name": station, "rows": rows} if rows else None)

    # --- for the picture as a whole

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of the scene that the tab shows."""
        return ("machine", "stand", *GROUPS)

    def refresh(self) -> None:
        """Show what is chosen after another tab."""
        asked = self._asked()
        if self._open is None or asked is None or self._open.asked != asked:
            self._ask()
        else:
            self._picture.choose(self._desk.state.station)
            self._card()
            self._draw()

    def drawn(self) -> Floats:
        """Points ``(n, 3)`` that a close look must hold."""
        opened = self._open
        if opened is None or self._shown is None:
            return np.zeros((0, 3))
        places, factor = opened.places, self.factor
        reach = arrow_reach(opened.moves.lifts, opened.moves.movers.directions, factor, places.size)
        raised = self._shown.raised(self._shown.figures[0], factor) if self._shown.sheet is not None else np.zeros(3)
        return np.vstack([corners_drawn(self._shown, factor), places.starts + raised, places.starts + raised + reach])

    def points(self) -> tuple[tuple[str, ...], Floats]:
        """Stations and the points at which they are drawn."""
        if self._shown is not None:
            return self._shown.stations, self._shown.tips(self.factor)
        layout = self._desk.session.layout
        names = tuple(layout.stations)
        foot, normal, rise = station_places(layout, names)
        return names, foot + rise[:, None] * normal
