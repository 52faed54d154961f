"""The printed reduction of a survey."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from scenes.corrections.proposal import ShimProposal
from scenes.reductions.survey import SurveyResult
from scenes.reductions.verdict import Word
from scenes.units import show
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
        for each in results:
            proposal = proposals.get((task.name, each.estimate.visit))
            if proposal is None or feet is None:
                continue
            out.print()
            if each.verdict.word is Word.CONFORMS:
                best = show(proposal.predicted, layout.units.deviation)
                out.print(escape(f"Shims for {feet.surface}, {each.estimate.visit}: none needed, it conforms; "
                                 f"shims could bring it to {best}"))  # fmt: skip
            else:
                print_shims(proposal, feet, layout, each.estimate.visit, out)
