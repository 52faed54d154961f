"""What the program can say and do is written down."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from scenes.checks.codes import CODES
from viewer.commands.main import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def said_codes() -> set[str]:
    """Codes that stand in a Finding anywhere in the sources."""
    found = set()
    for path in (ROOT / "scenes").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        if "Finding(" in text or "_finding(" in text:
            found |= set(re.findall(r'"([a-z]+(?:-[a-z]+)*)"', text)) & set(CODES)
            for code in re.findall(r'Severity\.\w+(?: if \w+ else Severity\.\w+)?,\s*"([a-z-]+)"', text):
                assert code in CODES, f"{path.name} says {code}, which is not listed"
    return found


def test_every_code_is_used_and_in_the_readme():
    assert said_codes() == set(CODES)
    listed = set(re.findall(r"`([a-z-]+)`", README.split("## Findings")[1].split("## How sure")[0]))
    assert listed == set(CODES)


def test_every_command_and_option_is_in_the_readme():
    group = typer.main.get_command(app)
    for name, command in group.commands.items():
        assert f"`datumray {name}" in README
        assert command.help
        for parameter in command.params:
            assert getattr(parameter, "help", None), f"{name}: {parameter.name} has no help"
            options = [flag for flag in (*parameter.opts, *parameter.secondary_opts) if flag.startswith("--")]
            if options and parameter.name not in ("help", "browser"):
                assert options[0] in README, f"{name} {options[0]}"
    assert "--no-browser" in README


@pytest.mark.parametrize("mark", ["view", "tests"])
def test_the_two_commands_stand_in_the_readme_as_one_line(mark):
    block = README.split(f"<!-- {mark} -->")[1].split("<!-- end -->")[0]
    lines = [line for line in block.splitlines() if line and not line.startswith("```")]
    assert len(lines) == 1
    assert lines[0].startswith("python3 -m venv .venv && .venv/bin/pip install")


def test_the_layout_in_the_readme_is_read(tmp_path):
    from scenes.layout.read import read_layout

    text = README.split("```yaml")[1].split("```")[0]
    assert len(read_layout(tmp_path / "readme.yaml", text).stations) == 35


LANGUAGE, REST = README.split("### Words of the layout")[1].split("### Readings")
WORDS = set(re.findall(r"[a-z][a-z ]*[a-z]|[a-z]", "; ".join(re.findall(r"`([^`]*)`", LANGUAGE))))


def key_names(keys):
    """Keys of an entry as they are written in a layout."""
    return {field.alias or name for name, field in keys.model_fields.items()}


def test_every_word_of_set_ups_and_every_way_to_place_things_is_in_the_readme():
    from scenes.layout.schema_beams import PlacedEmitterKeys, PrismUseKeys
    from scenes.layout.schema_machine import SurfaceKeys
    from scenes.layout.schema_mounts import MountKeys
    from scenes.layout.schema_setups import SetupKeys
    from scenes.layout.schema_stations import StationsKeys

    wanted = {*SurfaceKeys.what, *MountKeys.what, *StationsKeys.what, "in", "ends of", "positions"}
    wanted |= key_names(SetupKeys) | key_names(PlacedEmitterKeys) | key_names(PrismUseKeys)
    assert wanted - WORDS == set()


def test_every_kind_of_the_catalogue_is_in_the_readme():
    from scenes.layout.catalogue import builtin_catalogue

    listed = dict.fromkeys(re.findall(r"`([^`]+)`", LANGUAGE.split("| device or mount | kinds |")[1]))
    assert set(listed) == {kind for kinds in builtin_catalogue().values() for kind in kinds}


def test_every_key_of_tasks_is_in_the_readme():
    from scenes.layout.schema_tasks import QUANTITIES, TaskKeys

    quantities = REST.split("## Quantities")[1].split("## Findings")[0]
    assert set(QUANTITIES) <= set(re.findall(r"`([a-z ]+)`", quantities))
    asked = {key for keys in QUANTITIES.values() for key in key_names(keys)} - set(QUANTITIES)
    assert asked >= key_names(TaskKeys)
    assert asked - WORDS == set()


def test_every_column_of_readings_is_in_the_readme():
    from scenes.readings.columns import READING_COLUMNS

    table = REST.split("| column | meaning |")[1].split("\n\n")[0]
    firsts = " ".join(row.split("|")[1] for row in table.splitlines() if row.count("|") > 2)
    assert set(re.findall(r"`([a-z ]+?)(?: \[\w+\])?`", firsts)) == set(READING_COLUMNS)
