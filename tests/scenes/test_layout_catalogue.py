"""The catalogue: complete, in SI as written, with own kinds beside it; packed into the wheel."""

from __future__ import annotations

from importlib.resources import files

import pytest

from scenes.layout.catalogue import builtin_catalogue, read_catalogue

OURS = """
catalogue: 1
targets:
  narrow:
    window: [4 mm, 4 mm]
    centre height: 20 mm
    resolution: 0.2 um
    linearity: 0.1 %
    zero: [0 um, 0 um]
    zero known to: 1 um
    roll: 1 mrad
    largest spot: 1.5 mm
"""


def test_the_built_in_catalogue_is_complete() -> None:
    kinds = builtin_catalogue()
    assert {role: bool(named) for role, named in kinds.items()} == {
        "emitter": True, "rotary base": True, "target": True, "prism": True, "stage": True, "vial": True, "mount": True,
    }  # fmt: skip
    assert set(kinds["mount"]) == {"post", "magnet", "bracket", "discs", "tripod"}
    for named in kinds.values():
        for name, kind in named.items():
            assert kind.data is not None
            assert kind.data.about, name


def test_common_practice_values_are_in_the_catalogue() -> None:
    """Figures that crews commonly count on: range, tripod, linear accuracy."""
    kinds = builtin_catalogue()
    assert kinds["emitter"]["block"].data.farthest == pytest.approx(150 * 0.3048)
    assert kinds["mount"]["tripod"].data.repeats == pytest.approx(0.0005 * 0.0254)
    assert kinds["target"]["two axes"].data.zero_known_to == pytest.approx(2.5e-6)


def test_the_catalogue_says_where_its_values_come_from() -> None:
    text = (files("scenes") / "catalogue" / "devices.yaml").read_text(encoding="utf-8")
    assert "The values are invented" in text
    assert text.count("common practice") >= 6


def test_own_kinds_are_read_from_beside_the_layout(press, tmp_path) -> None:
    from scenes.layout import read_layout

    (tmp_path / "ours.yaml").write_text(OURS)
    path = tmp_path / "layout.yaml"
    path.write_text(press.changed(("units:", "catalogue: [ours.yaml]\nunits:"), ("target: two axes", "target: narrow")))
    target = read_layout(path).targets["t1"]
    assert (target.kind, target.window_h, target.origins["roll"]) == ("narrow", 0.004, "catalogue ours.yaml: narrow")


def test_problems_of_an_own_catalogue_carry_its_name(press, tmp_path) -> None:
    from scenes.errors import LayoutError
    from scenes.layout import read_layout

    (tmp_path / "ours.yaml").write_text(OURS.replace("    roll: 1 mrad\n", "").replace("1.5 mm", "1.5"))
    path = tmp_path / "layout.yaml"
    path.write_text(press.changed(("units:", "catalogue: [ours.yaml, none.yaml]\nunits:"), ("two axes", "narrow")))
    with pytest.raises(LayoutError) as caught:
        read_layout(path)
    said = [(p.file.endswith("ours.yaml"), p.line, p.message) for p in caught.value.problems]
    assert (True, 5, "a target of a catalogue needs the key 'roll'") in said
    assert (True, 11, "the number 1.5 has no unit") in said
    assert any("'none.yaml' cannot be read: there is no such file" in message for _, _, message in said)
    assert len(said) == 3


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "a catalogue is a mapping of sections"),
        ("catalogue: 3\n", "version 1 of the catalogue language"),
        ("catalogue: 1\nmounts: {crane: {}}", "the mounts of a catalogue has no key 'crane'"),
        ("catalogue: 1\nlasers: {}", "a catalogue has no key 'lasers'"),
        ("catalogue: [", "a value is expected here"),
    ],
)
def test_wrong_catalogues(text: str, message: str) -> None:
    _, problems = read_catalogue(text, "ours.yaml", "catalogue ours.yaml")
    assert message in "\n".join(problem.message for problem in problems)
