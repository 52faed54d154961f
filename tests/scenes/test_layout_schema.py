"""JSON Schema for editors: every key described, the snapshot on purpose, the example in agreement with it."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

import yaml

from scenes.layout import json_schema
from scenes.layout.keys import Keys

GOLDEN = Path(__file__).parents[1] / "golden" / "layout_schema.json"


class Core(yaml.SafeLoader):
    """YAML 1.2, which editors read: only true and false are truth values, ``on`` is a word."""

    yaml_implicit_resolvers: ClassVar = {
        sign: [pair for pair in pairs if not pair[0].endswith("bool")]
        for sign, pairs in yaml.SafeLoader.yaml_implicit_resolvers.items()
    }


Core.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("true|false"), list("tf"))


def described(schema: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for name, part in {"layout": schema, **schema["$defs"]}.items():
        for key, value in part["properties"].items():
            yield name, key, value


def test_every_key_has_a_description() -> None:
    bare = [f"{name}: {key}" for name, key, value in described(json_schema()) if len(value.get("description", "")) < 10]
    assert not bare
    assert len(list(described(json_schema()))) > 100


def test_keys_are_as_people_type_them() -> None:
    for name, key, _ in described(json_schema()):
        assert re.fullmatch(r"[a-z]+( [a-z]+)*", key), f"{name}: {key}"


def test_every_mapping_has_a_description_and_no_other_keys() -> None:
    for name, part in json_schema()["$defs"].items():
        assert part["description"], name
        assert part["additionalProperties"] is False, name


def test_words_for_later_are_no_keys_yet() -> None:
    pending = [Keys]
    while pending:
        keys = pending.pop()
        pending.extend(keys.__subclasses__())
        assert not set(keys.later) & set(keys.key_names()), keys.__name__
        assert set(keys.what) <= set(keys.key_names()), keys.__name__


def test_the_schema_is_the_recorded_one() -> None:
    """Set UPDATE_GOLDEN=1 to record a change of the language on purpose."""
    text = json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n"
    if os.environ.get("UPDATE_GOLDEN"):
        GOLDEN.write_text(text, encoding="utf-8")
    assert text == GOLDEN.read_text(encoding="utf-8")


def _agreeing(value: Any, choices: list[dict[str, Any]], root: dict[str, Any]) -> int:
    return sum(not check(value, choice, root, "") for choice in choices)


def check(value: Any, schema: dict[str, Any], root: dict[str, Any], where: str) -> list[str]:
    """Disagreements of ``value`` with the few words of JSON Schema that the layout's schema uses."""
    if "$ref" in schema:
        return check(value, root["$defs"][schema["$ref"].rsplit("/", 1)[1]], root, where)
    for word in ("anyOf", "oneOf"):
        if word in schema and _agreeing(value, schema[word], root) not in ((1,) if word == "oneOf" else range(1, 99)):
            return [f"{where}: none of the choices"]
    found = []
    names = schema.get("type", [])
    types = {"object": dict, "array": list, "string": str, "integer": int, "number": (int, float), "boolean": bool}
    kinds = [types.get(name, type(None)) for name in ([names] if isinstance(names, str) else names)]
    if kinds and not any(isinstance(value, kind) for kind in kinds):
        return [f"{where}: {value!r} is no {names}"]
    if "enum" in schema and value not in schema["enum"]:
        found.append(f"{where}: {value!r} is not one of {schema['enum']}")
    if "pattern" in schema and isinstance(value, str) and not re.search(schema["pattern"], value):
        found.append(f"{where}: {value!r} does not match")
    if isinstance(value, dict):
        properties, more = schema.get("properties", {}), schema.get("additionalProperties", True)
        found += [f"{where}: {key} is missing" for key in schema.get("required", []) if key not in value]
        for key, entry in value.items():
            if key in properties:
                found += check(entry, properties[key], root, f"{where}.{key}")
            elif isinstance(more, dict):
                found += check(entry, more, root, f"{where}.{key}")
            elif more is False:
                found.append(f"{where}: {key} is not allowed")
    if isinstance(value, list) and "items" in schema:
        for i, entry in enumerate(value):
            found += check(entry, schema["items"], root, f"{where}[{i}]")
    return found


def test_a_layout_agrees_with_the_schema_and_a_wrong_one_does_not(press) -> None:
    schema = json_schema()
    assert check(yaml.load(press.text, Core), schema, schema, "layout") == []
    for change in (
        ("limit: 60 um", "limt: 60 um"),
        ("limit: 60 um", "limit: 60"),
        ("limit: 60 um", "limit:"),
        ("post: 120 mm", "post: 120 mm, tripod: 1 m"),
        ("grid: 7 x 5", "grid: 7 by 5"),
        ("level by: three points", "level by: four points"),
        ("{target: two axes}", "{two axes: target}"),
    ):
        assert check(yaml.load(press.changed(change), Core), schema, schema, "layout"), change


def test_layouts_of_every_method_agree_with_the_schema(sheets) -> None:
    schema = json_schema()
    for name, sheet in sheets.items():
        assert check(yaml.load(sheet.text, Core), schema, schema, name) == []
    for name, old, new in (
        ("bore", "{up: 0..20 um over 300 mm", "{up: [0, 20]"),
        ("bore", "in front of: barrel", "in front: barrel"),
        ("rails", "spacing: [rail_a, rail_b]", "spacings: [rail_a, rail_b]"),
        ("rolls", "at: {along beam: 2 m}", "at: {along: 2 m}"),
        ("gantry", "sweeps: true", "sweeps: often"),
        ("press_slide", "at positions: [low, mid, top]", "at position: [low, mid, top]"),
    ):
        assert check(yaml.load(sheets[name].changed((old, new)), Core), schema, schema, name), new
