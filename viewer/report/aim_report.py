"""The printed aim of a beam: where it stands, what to set, and how to do it by watching the targets."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from scenes.aiming.advice import COVERAGE, AimAdvice
from scenes.aiming.following import Move, Step
from scenes.aiming.near_far import End
from scenes.aiming.procedures import Procedure
from scenes.aiming.traced import TracedLine
from scenes.units import PLACE, show
from scenes.vectors import Floats
from viewer.report.aim_notes import notes_on
from viewer.report.aim_words import PLACE_WORDS, TURN_WORDS, directed_pair, readout, turned

__all__ = ["print_aim"]

CAUTION = (
    "Laser: keep to the class on its label and to IEC 60825-1; never look into the beam or its reflection. Clamp the "
    "stage before readings count."
)
INCHES = ("in", "thou", "ft")


def print_aim(advice: AimAdvice, unit: str, angle_unit: str, out: Console, traced: TracedLine | None = None) -> None:
    """Print where the beam stands, what to set, both procedures, and what to mind.

    ``traced`` is the line of the set-up of a layout, if it is about one.
    """
    if traced is not None:
        _print_setup(advice, traced, unit, out)
    _print_stand(advice, unit, angle_unit, out)
    out.print()
    if len(advice.overshoot.steps) == 1:
        out.print(f"[bold]Nothing to set[/bold]: both targets read what is wanted within {_within(advice, unit)}.")
    else:
        _print_setting(advice, unit, angle_unit, out)
        _print_overshoot(advice, unit, out)
        _print_rounds(advice, unit, out)
    for note in notes_on(advice, unit, angle_unit):
        out.print(f"  note: {note}", markup=False)
    out.print(f"  {CAUTION}", style="dim", markup=False)


def _print_setup(advice: AimAdvice, traced: TracedLine, unit: str, out: Console) -> None:
    ends = ", ".join(f"{end.name.lower()}: station {traced.stations[end]}, target {traced.targets[end]}" for end in End)
    out.print(f"[bold]Set-up[/bold] {escape(traced.setup)}; {escape(ends)}")
    wanted = ", ".join(f"{end.name.lower()} {readout(advice.aim.wanted[end], unit)}" for end in End)
    out.print(f"  home: {wanted} (where nothing else is wanted: what the beam of the layout reads)", markup=False)
    place = (
        f"{_place(abs(traced.pivot), unit)} {'behind' if traced.pivot < 0.0 else 'ahead of'} " if traced.pivot else ""
    )
    out.print(f"  pivot of the stage: {place or 'taken to be '}where the beam leaves the emitter", markup=False)


def _place(distance: float, unit: str) -> str:
    """Distance of a target, in the system of units that the readings are shown in."""
    return show(distance, "in" if unit in INCHES else "m", to=PLACE)


def _within(advice: AimAdvice, unit: str) -> str:
    return show(advice.overshoot.within, unit)


def _print_stand(advice: AimAdvice, unit: str, angle_unit: str, out: Console) -> None:
    aim = advice.aim
    out.print("[bold]Where the beam stands[/bold], against the datum line: the line on which both targets read what is "
              "wanted")  # fmt: skip
    for end in End:
        where = f"{end.name.lower()}, {_place(aim.line.distance(end), unit)} from the pivot"
        known = "" if aim.off_u is None else _known(aim.off_u[end], unit)
        out.print(f"  {where}: {directed_pair(aim.off[end], unit, PLACE_WORDS)}{known}", markup=False)
    u, offset_u = aim.angle_u, aim.offset_u
    known = "" if u is None else f" (U = {show(COVERAGE * float(u.max()), angle_unit, 'angle')})"
    out.print(f"  angle: {directed_pair(aim.angle, angle_unit, TURN_WORDS, 'angle')}{known}", markup=False)
    known = "" if offset_u is None else _known(offset_u, unit)
    out.print(f"  at the pivot: {directed_pair(aim.offset, unit, PLACE_WORDS)}{known}", markup=False)
    if u is None:
        out.print("  no uncertainty is stated, since that of the readings is not (--reading-known-to)", style="dim")
    else:
        out.print(f"  U: expanded uncertainty for h and v each, k = {COVERAGE:g}", style="dim")


def _known(u: Floats, unit: str) -> str:
    """Expanded uncertainty of a place: one number where it is the same for h and v."""
    shown = dict.fromkeys(show(COVERAGE * float(each), unit) for each in u)
    return f" (U = {', '.join(shown)})"


def _print_setting(advice: AimAdvice, unit: str, angle_unit: str, out: Console) -> None:
    setting, turns = advice.setting, advice.turns
    out.print("[bold]What to set[/bold], from where the stage stands now")
    tilt, shift = turned(setting.tilt, turns.tilt, angle_unit, "angle"), turned(setting.shift, turns.shift, unit)
    out.print(f"  tilt the beam {tilt}: it is parallel to the datum line", markup=False)
    out.print(f"  shift it {shift}: it lies on the datum line", markup=False)


def _print_overshoot(advice: AimAdvice, unit: str, out: Console) -> None:
    shift, tilt = advice.shift_at.name.lower(), advice.shift_at.other.name.lower()
    share = advice.overshoot_share
    out.print()
    out.print("[bold]In one round, by watching[/bold]: overshoot with the tilt, then shift (home: what is wanted)")
    _print_steps(advice.overshoot, unit, out)
    if abs(share) >= 0.001:
        past = "past" if share > 0.0 else "short of"
        out.print(f"  rule: shift {shift} home; tilt {tilt} to {abs(share):.3g} of what it was off {past} home; shift "
                  f"{shift} home: {tilt} is home too", style="dim", markup=False)  # fmt: skip


def _print_rounds(advice: AimAdvice, unit: str, out: Console) -> None:
    share, procedure = advice.round_share, advice.rounds
    swings = ", on the other side" if share < 0.0 else ""
    out.print()
    if advice.rounds_needed is None:
        out.print("[bold]By rounds of shift and tilt[/bold]: never closes", style="default")
    else:
        count = procedure.rounds if procedure.closed else advice.rounds_needed
        out.print(f"[bold]By rounds of shift and tilt[/bold]: each leaves {100.0 * abs(share):.3g} %{swings}; "
                  f"{count} round{'s' * (count != 1)} to within {_within(advice, unit)}")  # fmt: skip
    _print_steps(procedure, unit, out)
    if not procedure.closed:
        out.print("  ... and so on", style="dim")


def _print_steps(procedure: Procedure, unit: str, out: Console) -> None:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("  do this")
    for header in ("near h", "near v", "far h", "far v"):
        table.add_column(f"{header} \\[{unit}]", justify="right", no_wrap=True)
    for number, step in enumerate(procedure.steps):
        cells = (show(float(value), unit, sign=True).split(" ", 1)[0] for value in step.readings.ravel())
        table.add_row(f"  {_words(number, step, unit)}", *cells)
    out.print(table)


def _words(number: int, step: Step, unit: str) -> str:
    if step.end is None or step.aimed is None:
        return "now" if step.move is Move.START else f"{number}. set"
    return f"{number}. {step.move} until {step.end.name.lower()} reads {readout(step.aimed, unit)}"
