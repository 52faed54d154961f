"""Imports run one way, and the core stays free of pictures and pages."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = {  # a package may import those with a lower number, and itself
    "errors": 0, "units": 0, "hints": 0, "vectors": 0, "frames": 1, "shapes": 2, "model": 3, "layout": 4, "tracing": 4,
    "uncertainty": 5, "readings": 5, "reductions": 6, "aiming": 7, "checks": 7, "corrections": 7,
    "diagnosis": 7, "visits": 7, "live": 7, "meshes": 8,
}  # fmt: skip
PICTURES = {"pyvista", "trame", "trame_client", "trame_server", "trame_rca", "trame_vtk", "trame_vuetify", "matplotlib"}


def imports_of(path: Path) -> set[str]:
    """Full names of all modules that a file imports, also inside functions."""
    package = path.relative_to(ROOT).with_suffix("").parts
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            start = list(package[: len(package) - node.level]) if node.level else []
            found.add(".".join([*start, *([node.module] if node.module else [])]))
    return found


def files(package: str) -> list[Path]:
    return sorted((ROOT / package).rglob("*.py"))


def layer_of(module: str) -> str | None:
    parts = module.split(".")
    return parts[1] if parts[0] == "scenes" and len(parts) > 1 else None


@pytest.mark.parametrize("path", files("scenes"), ids=lambda path: str(path.relative_to(ROOT)))
def test_scenes_import_one_way(path):
    if path == ROOT / "scenes" / "__init__.py" or "examples" in path.parts:
        return
    own = path.relative_to(ROOT).with_suffix("").parts[1]
    for module in imports_of(path):
        assert not module.startswith("viewer"), f"{path.name} imports {module}"
        other = layer_of(module)
        if other is not None and other != own:
            assert LAYERS[other] < LAYERS[own], f"{own} may not import {other}"


@pytest.mark.parametrize("path", files("scenes"), ids=lambda path: str(path.relative_to(ROOT)))
def test_only_meshes_draw(path):
    top = {module.split(".")[0] for module in imports_of(path)}
    inside_meshes = (ROOT / "scenes" / "meshes") in path.parents
    assert not top & (PICTURES - ({"pyvista"} if inside_meshes else set()))
    assert "vtk" not in top
    if not inside_meshes and path != ROOT / "scenes" / "tracing" / "sight.py":
        assert "vtkmodules" not in top


def test_every_package_of_scenes_has_a_layer():
    packages = {path.name for path in (ROOT / "scenes").iterdir() if path.is_dir() and (path / "__init__.py").exists()}
    modules = {path.stem for path in (ROOT / "scenes").glob("*.py")} - {"__init__"}
    assert packages | modules <= set(LAYERS) | {"examples"}


def test_commands_without_pictures_load_no_graphics():
    """check, reduce, form and schema run on machines without any graphics library."""
    code = """
import sys
sys.argv = ["datumray", "check", sys.argv[1]]
try:
    from viewer.commands.main import run
    run()
except SystemExit as end:
    assert end.code in (0, None), end
bad = [name for name in sys.modules if name.split(".")[0] in ("pyvista", "trame") or "Rendering" in name]
assert not bad, bad
"""
    layout = ROOT / "examples" / "press_bed" / "layout.yaml"
    command = [sys.executable, "-c", code, str(layout)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr


def test_top_level_is_as_agreed():
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "viewer", "scenes", "tests", "examples"}
    listed = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    tops = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {top for top in tops if not top.startswith(".")} == agreed
