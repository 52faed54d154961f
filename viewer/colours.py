"""Colours of page and picture: a diverging map for deviations, and a light and a dark theme.

The map runs from indigo (low) through a light neutral (zero) to rust (high). Both arms are straight lines in CIELAB of
equal length, so equal steps of deviation are equal steps for the eye, on either side; blue and yellow-brown stay apart
for eyes that do not tell red from green; and lightness alone tells how large a deviation is.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from scenes.meshes.scene_parts import Role
from scenes.vectors import Floats

__all__ = [
    "DARK",
    "LIGHT",
    "Paint",
    "Theme",
    "diverging",
    "gradient_stops",
    "hex_of",
    "lab_from_srgb",
    "srgb_from_lab",
    "theme_of",
]

NEUTRAL = np.array([93.0, 0.0, 2.0])  # CIELAB of zero
LIGHTNESS = 39.0  # of both ends
CHROMA = 50.0
LOW_HUE, HIGH_HUE = np.deg2rad(285.0), np.deg2rad(55.0)
WHITE = np.array([0.95047, 1.0, 1.08883])  # D65, 2 degree observer

# Source of both matrices' numbers: IEC 61966-2-1 (sRGB), D65.
_LINEAR_FROM_XYZ = np.array(
    [[3.2404542, -1.5371385, -0.4985314], [-0.9692660, 1.8760108, 0.0415560], [0.0556434, -0.2040259, 1.0572252]]
)
_XYZ_FROM_LINEAR = np.linalg.inv(_LINEAR_FROM_XYZ)


def srgb_from_lab(lab: Floats) -> Floats:
    """SRGB values ``(n, 3)`` of CIELAB colours ``(n, 3)``, 0 to 1 where the screen can show them.

    Source: CIE 15:2018, clause 8.2.1 (CIELAB, inverted); IEC 61966-2-1 for the transfer curve.
    """
    middle = (lab[:, 0] + 16.0) / 116.0
    f = np.stack([middle + lab[:, 1] / 500.0, middle, middle - lab[:, 2] / 200.0], axis=-1)
    knee = 6.0 / 29.0
    linear = (np.where(f > knee, f**3, 3.0 * knee**2 * (f - 4.0 / 29.0)) * WHITE) @ _LINEAR_FROM_XYZ.T
    high = 1.055 * np.maximum(linear, 0.0) ** (1.0 / 2.4) - 0.055
    result: Floats = np.where(linear <= 0.0031308, 12.92 * linear, high)
    return result


def lab_from_srgb(rgb: Floats) -> Floats:
    """CIELAB colours ``(n, 3)`` of sRGB values ``(n, 3)`` between 0 and 1; the inverse of ``srgb_from_lab``."""
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    xyz = (linear @ _XYZ_FROM_LINEAR.T) / WHITE
    knee = 6.0 / 29.0
    f = np.where(xyz > knee**3, np.cbrt(xyz), xyz / (3.0 * knee**2) + 4.0 / 29.0)
    return np.stack([116.0 * f[:, 1] - 16.0, 500.0 * (f[:, 0] - f[:, 1]), 200.0 * (f[:, 1] - f[:, 2])], axis=-1)


def diverging(values: Floats) -> Floats:
    """SRGB colours ``(n, 3)`` of ``values`` (n,) between -1 (lowest) and +1 (highest); beyond, the end colours."""
    ends = [np.array([LIGHTNESS, CHROMA * np.cos(hue), CHROMA * np.sin(hue)]) for hue in (LOW_HUE, HIGH_HUE)]
    far = np.clip(np.abs(values), 0.0, 1.0)[:, None]
    end = np.where((values < 0.0)[:, None], ends[0], ends[1])
    return np.clip(srgb_from_lab(NEUTRAL + far * (end - NEUTRAL)), 0.0, 1.0)


def hex_of(colour: Floats) -> str:
    """``#rrggbb`` of one sRGB colour."""
    return "#" + "".join(f"{int(part):02x}" for part in np.round(255.0 * colour))


def gradient_stops(count: int = 17) -> str:
    """Colours of the map from lowest to highest, as stops of a CSS gradient."""
    return ", ".join(hex_of(colour) for colour in diverging(np.linspace(-1.0, 1.0, count)))


@dataclass(frozen=True, slots=True)
class Paint:
    """How a part of the picture is painted. ``line`` is the width of lines in pixels, 0 for faces."""

    colour: str
    opacity: float = 1.0
    line: float = 0.0
    lit: bool = True


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours of one theme: of the page as CSS variables, of the picture by role, and special ones by name."""

    name: str
    page: MappingProxyType[str, str]
    low: str
    high: str
    paints: MappingProxyType[Role, Paint]
    special: MappingProxyType[str, Paint]


def _paints(metal: str, edge: str, floor: str, grid: str, device: str, post: str, ok: str, caution: str, bad: str,
            sheet: str, ink: str, glass: str, bent: str) -> MappingProxyType[Role, Paint]:  # fmt: skip
    return MappingProxyType({
        Role.MACHINE_SURFACE: Paint(metal), Role.MACHINE_EDGE: Paint(edge, 1.0, 1.0, False),
        Role.MACHINE_INSIDE: Paint(metal), Role.MACHINE_SHELL: Paint(metal, 0.16),
        Role.FLOOR: Paint(floor, 1.0, 0.0, False), Role.FLOOR_GRID: Paint(grid, 1.0, 1.0, False),
        Role.MACHINE_GHOST: Paint(edge, 0.45, 1.0, False),
        Role.EMITTER: Paint(device), Role.EXIT_PORT: Paint(bad), Role.BASE: Paint(post), Role.TRIPOD: Paint(post),
        Role.V_BLOCK: Paint(post), Role.STAGE: Paint(post), Role.PRISM: Paint(device), Role.PRISM_RING: Paint(post),
        Role.GLASS: Paint(glass, 0.38), Role.MAGNET: Paint(device), Role.BRACKET: Paint(post),
        Role.DISCS: Paint(post), Role.CLOCK_MARK: Paint(caution, 1.0, 0.0, False),
        Role.GHOST_STAND: Paint(post, 0.22), Role.GHOST_TARGET: Paint(post, 0.30),
        Role.BEAM_LOST: Paint(bad, 0.45, 0.0, False), Role.BEAM_BENT: Paint(bent, 0.75, 0.0, False),
        Role.POST: Paint(post), Role.TARGET: Paint(device), Role.WINDOW: Paint("#f4f1e6", 1.0, 0.0, False),
        Role.SPOT: Paint(bad, 1.0, 0.0, False), Role.BEAM_CLEAR: Paint(ok, 1.0, 0.0, False),
        Role.BEAM_CLIPPED: Paint(caution, 1.0, 0.0, False), Role.BEAM_BLOCKED: Paint(bad, 1.0, 0.0, False),
        Role.SWEPT_PLANE: Paint(sheet, 0.13, 0.0, False), Role.DEVIATION_SURFACE: Paint("#ffffff"),
        Role.DEVIATION_VECTOR: Paint("#ffffff"), Role.UNCERTAINTY_BAR: Paint(ink, 1.0, 0.0, False),
        Role.ZERO_OUTLINE: Paint(ink, 1.0, 1.5, False), Role.LIMIT_PLANE: Paint(post, 1.0, 1.0, False),
        Role.STATION_MARK: Paint(ink, 1.0, 0.0, False), Role.FOOT: Paint(post), Role.SHIM: Paint(caution),
        Role.FINDING_MARK: Paint(bad, 1.0, 0.0, False), Role.FINDING_WARNING: Paint(caution, 1.0, 0.0, False),
    })  # fmt: skip


def _special(chosen: str, plate: str, ink: str, sheet: str) -> MappingProxyType[str, Paint]:
    return MappingProxyType({
        "chosen": Paint(chosen, 1.0, 0.0, False), "plate": Paint(plate, 0.72, 0.0, False),
        "ink": Paint(ink, 1.0, 0.0, False), "thin sheet": Paint(sheet, 0.06, 0.0, False),
    })  # fmt: skip


LIGHT = Theme(
    "light",
    MappingProxyType({
        "ground": "#f3f4f1", "panel": "#fbfbf9", "raised": "#ffffff", "line": "#d5d9d4", "ink": "#1d2523",
        "quiet": "#56615d", "accent": "#1a6468", "accent-soft": "#dcebea", "good": "#14695a", "good-soft": "#dcefe9",
        "open": "#8a5200", "open-soft": "#f8ead2", "bad": "#a3203a", "bad-soft": "#f9e1e4",
    }),
    "#e4e8e6", "#f6f7f5",
    _paints("#aab4b4", "#5d6a6b", "#dfe3e0", "#c6cdc9", "#3c4a50", "#6e7b7f", "#0f8a78", "#c27a00", "#c2213f",
            "#0f8a78", "#1d2523", "#7fb6d6", "#5b4a9c"),
    _special("#c0157a", "#ffffff", "#1d2523", "#0f8a78"),
)  # fmt: skip

DARK = Theme(
    "dark",
    MappingProxyType({
        "ground": "#14191b", "panel": "#1a2022", "raised": "#222a2c", "line": "#364144", "ink": "#e9eeec",
        "quiet": "#a3b0ad", "accent": "#6cc3c1", "accent-soft": "#1f3b3c", "good": "#6fcbb3", "good-soft": "#18372f",
        "open": "#eab561", "open-soft": "#3d2f15", "bad": "#f58a98", "bad-soft": "#452028",
    }),
    "#14191b", "#232b2e",
    _paints("#66737a", "#7c8a90", "#1b2123", "#30393c", "#c3ccd0", "#8d999e", "#4fd0b8", "#eab04d", "#ff6f83",
            "#4fd0b8", "#e9eeec", "#9fd0ea", "#b3a4f0"),
    _special("#ff8ad0", "#1c2426", "#e9eeec", "#4fd0b8"),
)  # fmt: skip


def theme_of(dark: bool) -> Theme:
    """The dark or the light theme."""
    return DARK if dark else LIGHT
