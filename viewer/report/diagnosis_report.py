"""The printed diagnosis of a visit."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from scenes.diagnosis.diagnosis import LEVEL, Diagnosis, Suspect, Suspicion
from scenes.hints import listed
from scenes.model.layout import Layout
from viewer.report.diagnosis_words import COVERAGE, closure_words, size_words
from viewer.report.tables import table_of

__all__ = ["print_diagnosis"]

CONTROLLED = 0.05
"""Set-ups with fewer readings to spare are not told: nothing controls them."""

MOST_CLOSURES = 6
MOST_OTHERS = 3


def print_diagnosis(layout: Layout, each: Diagnosis, out: Console) -> None:
    """Print suspects, suspicions, closures and advice."""
    out.print()
    out.print(f"[bold]{escape(each.visit)}: readings from {escape(listed(list(each.setups)))}[/bold]")
    if not each.redundancy:
        out.print("  No reading controls another, so that none can show an error.")
    else:
        out.print(f"  {each.redundancy} readings control others: chi-square {each.chi_square:.1f}, reached by "
                  f"{100.0 * each.probability:.1f} % of sound surveys; {each.tried} errors tried")  # fmt: skip
        if not each.suspects and not each.twins:
            out.print("  Nothing stands out.")
    for number, suspect in enumerate(each.suspects, 1):
        _print_suspect(number, suspect, layout, out)
    if len(each.suspects):
        out.print(f"  A sound survey shows as much of any error in {100.0 * LEVEL:g} % of all cases (score test, "
                  "Bonferroni's bound). Nothing has been corrected.")  # fmt: skip
    for twin in each.twins:
        out.print(escape(f"  written twice? {twin.about}"))
    for suspicion in each.suspicions:
        _print_suspicion(suspicion, layout, out)
    _print_closures(each, layout, out)
    if each.untold:
        out.print(escape(f"  cannot be told from these readings: {', '.join(part.kind for part in each.untold)}"))
    for advice in each.advice:
        out.print(escape(f"  read again: {advice.station} from {advice.setup}; {advice.reason}"))


def _print_suspect(number: int, each: Suspect, layout: Layout, out: Console) -> None:
    out.print(escape(f"  {number}. {each.about}"))
    size = size_words(layout, each)
    if size:
        out.print(escape(f"     size {size}, k = {COVERAGE:g}"))
    free = f"{each.parameters} parameter{'s' * (each.parameters != 1)}" if each.parameters else "no free size"
    out.print(f"     chi-square falls by {each.drop:.1f} ({free}), chance in a sound survey {each.probability:.2g}; "
              f"{100.0 * each.seen:.0f} % of such an error is seen")  # fmt: skip
    for other in each.others[:MOST_OTHERS]:
        out.print(escape(f"     cannot be told apart from: {other}"))
    out.print(escape(f"     to confirm: {each.confirm}"))


def _print_suspicion(each: Suspicion, layout: Layout, out: Console) -> None:
    of = f"{each.task}, {each.component}" if each.component else each.task
    size = size_words(layout, each)
    words = f"; {size}" if size else ""
    out.print(escape(f"  suspicion from the shape of {of}: {each.about}{words}"))
    out.print(escape(f"     it would explain {100.0 * each.share:.0f} % of it; a machine of that shape looks the same"))
    out.print(escape(f"     to confirm: {each.confirm}"))


def _print_closures(each: Diagnosis, layout: Layout, out: Console) -> None:
    if not each.closures:
        return
    table = table_of("station", "channel", "what", "difference", "expected", "times",
                     title="Closures")  # fmt: skip
    for closure in each.closures[:MOST_CLOSURES]:
        difference, expected = closure_words(layout, closure)
        times = f"{abs(closure.normalised):.1f}"
        table.add_row(escape(closure.station), closure.channel, closure.what, difference, expected, times)
    out.print(table)
    if len(each.closures) > MOST_CLOSURES:
        out.print(f"  {len(each.closures) - MOST_CLOSURES} others close better; --json lists them all")
    controlled = [part for part in each.by_setup if part.redundancy > CONTROLLED]
    if len(controlled) > 1:
        parts = ", ".join(f"{part.setup} {part.chi_square:.1f} of {part.redundancy:.1f}" for part in controlled)
        out.print(escape(f"  chi-square by set-up, of what is expected: {parts}"))
