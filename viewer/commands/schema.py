"""``datumray schema``: the JSON Schema of layout files, for editors."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["schema"]


def schema(
    json: Annotated[str, typer.Option("--json", metavar="FILE", help="Write to FILE; - is the terminal.")] = "-",
) -> None:
    """Print the JSON Schema of layout files, so that an editor can complete and check them."""
    import sys
    from json import dumps

    from scenes.layout.schema_file import json_schema
    from scenes.readings.write import replace_text

    text = dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    if json == "-":
        sys.stdout.write(text)
    else:
        replace_text(json, text)
