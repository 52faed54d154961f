"""Find out, without risk to this process, whether the machine can draw.

Where the graphics libraries are missing, making a VTK window ends the whole process with a segmentation fault and no
message. So a child process tries it first. Call :func:`require_graphics` before the first plotter or render window.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Mapping, MutableMapping
from dataclasses import dataclass

from scenes.errors import PictureError

__all__ = ["Probe", "ProbeResult", "choose_window", "forget_probe", "probe_in_child", "require_graphics"]

WINDOW_VARIABLE = "VTK_DEFAULT_OPENGL_WINDOW"
WINDOW_WITHOUT_DISPLAY = "vtkEGLRenderWindow"
PROBE_SECONDS = 60.0

# Draws one off-screen picture and looks at a pixel: a window that opens but stays black is no use either.
_PROBE_CODE = """
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.vtkCommonCore import vtkUnsignedCharArray
from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow
renderer = vtkRenderer()
renderer.SetBackground(1.0, 1.0, 1.0)
window = vtkRenderWindow()
window.SetOffScreenRendering(1)
window.SetSize(8, 8)
window.AddRenderer(renderer)
window.Render()
pixel = vtkUnsignedCharArray()
window.GetPixelData(4, 4, 4, 4, 0, pixel, 0)
print("drawn" if pixel.GetNumberOfValues() >= 3 and pixel.GetValue(0) > 200 else "black", flush=True)
"""

_HINTS = {
    "linux": (
        "On Debian or Ubuntu: apt install libegl1 libgl1-mesa-dri. "
        "On Fedora: dnf install mesa-libEGL mesa-dri-drivers. "
        "On Arch: pacman -S libglvnd mesa. "
        "On other systems install EGL and the Mesa drivers."
    ),
    "darwin": "OpenGL is part of macOS: log in at the screen (not only by ssh) and try again.",
    "win32": "Install or update the driver of the graphics card; a plain remote session may offer no OpenGL.",
}


@dataclass(frozen=True, slots=True)
class ProbeResult:
    """What a try to draw gave: whether a picture came, and the last words where none came."""

    drawn: bool
    detail: str = ""


Probe = Callable[[Mapping[str, str]], ProbeResult]

_known: ProbeResult | None = None


def choose_window(environment: MutableMapping[str, str], platform: str = sys.platform) -> None:
    """Set the kind of VTK window in ``environment`` where there is no display to open one on.

    Without the setting VTK tries the X server first and prints a warning. A value set by the user stays.
    """
    if environment.get(WINDOW_VARIABLE) == "":
        del environment[WINDOW_VARIABLE]  # VTK takes an empty value for a class name and then finds no window at all
    if platform.startswith("linux") and not environment.get("DISPLAY"):
        environment.setdefault(WINDOW_VARIABLE, WINDOW_WITHOUT_DISPLAY)


def probe_in_child(environment: Mapping[str, str]) -> ProbeResult:
    """Return whether a child process with this ``environment`` could draw a small off-screen picture."""
    try:
        done = subprocess.run(
            [sys.executable, "-c", _PROBE_CODE],
            env=dict(environment),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=PROBE_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return ProbeResult(False, f"no picture within {PROBE_SECONDS:.0f} s")
    if done.returncode == 0 and "drawn" in done.stdout.split():
        return ProbeResult(True)
    if done.returncode == 0:
        return ProbeResult(False, "the picture stayed black")
    if done.returncode == 1 and "Traceback" in done.stderr:  # Python's own end, not a crash of the graphics system
        return ProbeResult(False, done.stderr.strip().splitlines()[-1])
    return ProbeResult(False, "the graphics system could not be started")


def require_graphics(probe: Probe = probe_in_child, environment: MutableMapping[str, str] | None = None) -> None:
    """Return when this machine can draw; the answer is kept for the life of the process.

    Raises
    ------
    PictureError
        No off-screen picture can be made; the message names what to install.
    """
    global _known
    target = os.environ if environment is None else environment
    choose_window(target)
    if _known is None:
        _known = probe(target)
    if not _known.drawn:
        raise PictureError(_explanation(_known.detail))


def forget_probe() -> None:
    """Forget the kept answer, so that the next call tries again (libraries were installed meanwhile)."""
    global _known
    _known = None


def _explanation(detail: str, platform: str = sys.platform) -> str:
    system = "linux" if platform.startswith("linux") else platform
    hint = _HINTS.get(system, _HINTS["linux"])
    reason = f" ({detail})" if detail else ""
    return f"This machine cannot draw pictures{reason}. {hint}"
