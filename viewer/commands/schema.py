"""``datumray schema``: the JSON Schema of layout files, for editors."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["schema"]


def schema(
    output: Annotated[str, typer.Option("--output", metavar="FILE", help="Write to FILE, not the terminal.")] = "-",
) -> None:
    """Print the JSON Schema of layout files, so that an editor can complete and check them."""
    import json
    import sys

    from scenes.layout.schema_file import json_schema
    from scenes.readings.write import replace_text

    text = json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    if output == "-":
        sys.stdout.write(text)
    else:
        replace_text(output, text)
