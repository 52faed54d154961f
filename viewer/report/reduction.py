"""The printed reduction of a survey."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from scenes.corrections.bed_feet import feet_of
from scenes.corrections.proposal import ShimProposal
from scenes.reductions.survey import SurveyResult
from scenes.reductions.verdict import Word
from scenes.units import show
from viewer.report.measured_report import print_measured, print_measured_stations
from viewer.report.tables import print_shims

__all__ = ["print_reduction"]


def print_reduction(
    survey: SurveyResult, proposals: dict[tuple[str, str], ShimProposal], remarks: tuple[str, ...], out: Console
) -> None:
    """Print stations, verdicts and shims of every task."""
    layout = survey.layout
    if layout.title:
        out.print(f"[bold]{escape(layout.title)}[/bold]")
    for remark in (*survey.readings.remarks, *remarks):
        out.print(f"  note: {escape(remark)}")
    for failure in survey.failures:
        out.print(f"[bold]{escape(failure.task)}, {escape(failure.visit)}[/bold]")
        out.print(f"  no result: {escape(failure.message)}")
    shimmed: dict[str, int] = {}
    for task in layout.tasks.values():
        results = [each for each in survey.measured if each.evidence.task.name == task.name]
        if not results:
            continue
        out.print()
        out.print(escape(f"{task.name}: deviations with standard uncertainty u"))
        print_measured_stations(results, out)
        for each in results:
            out.print()
            print_measured(each, out)
        feet = feet_of(layout, task.surface)
        for each in results:
            visit = each.evidence.visit
            proposal = proposals.get((task.name, visit))
            if proposal is None or feet is None:
                continue
            out.print()
            if each.word is Word.CONFORMS:
                best = show(proposal.predicted, layout.units.deviation)
                place = f"{feet.surface}, {task.name}, {visit}"
                out.print(escape(f"Shims for {place}: none needed, it conforms; shims could bring it to {best}"))
            else:
                print_shims(proposal, feet, layout, task.name, visit, out)
                shimmed[feet.surface] = shimmed.get(feet.surface, 0) + 1
    for surface, count in shimmed.items():
        if count > 1:
            out.print(escape(f"  note: {count} proposals for the feet of {surface}: carry out one, then read again"))
