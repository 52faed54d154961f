"""The printed reduction of a survey."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from scenes.corrections.proposal import ShimProposal
from scenes.reductions.survey import SurveyResult
from viewer.report.tables import print_result, print_shims, print_stations

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
    for task in layout.tasks.values():
        results = [each for each in survey.results if each.estimate.task.name == task.name]
        if not results:
            continue
        reference = results[0].form.reference
        out.print()
        out.print(f"Deviations from the {reference}, + = high, with standard uncertainty u")
        print_stations(survey, task.name, out)
        for each in results:
            out.print()
            print_result(each, layout, out)
        feet = next((each for each in layout.feet.values() if each.surface == task.surface), None)
        for (name, visit), proposal in proposals.items():
            if name == task.name and feet is not None:
                out.print()
                print_shims(proposal, feet, layout, visit, out)
