"""Can this machine draw? Asked in a child process, answered once, explained where it cannot."""

import os
import subprocess
import sys

import pytest

from scenes.errors import PictureError
from viewer import graphics
from viewer.graphics import ProbeResult, choose_window, forget_probe, probe_in_child, require_graphics

LINUX = sys.platform.startswith("linux")


@pytest.fixture(autouse=True)
def fresh_answer():
    forget_probe()
    yield
    forget_probe()


class CountedProbe:
    def __init__(self, result):
        self.result = result
        self.environments = []

    def __call__(self, environment):
        self.environments.append(dict(environment))
        return self.result


def test_a_machine_that_draws_is_asked_once():
    probe = CountedProbe(ProbeResult(True))
    environment = {}
    for _ in range(3):
        require_graphics(probe, environment)
    assert len(probe.environments) == 1


def test_a_machine_that_cannot_draw_is_asked_once_and_explained_each_time():
    probe = CountedProbe(ProbeResult(False, "the graphics system could not be started"))
    for _ in range(2):
        with pytest.raises(PictureError, match="cannot draw") as caught:
            require_graphics(probe, {})
    assert len(probe.environments) == 1
    if LINUX:
        assert "libegl1 libgl1-mesa-dri" in str(caught.value)
    assert "could not be started" in str(caught.value)


def test_after_forgetting_the_machine_is_asked_again():
    with pytest.raises(PictureError):
        require_graphics(CountedProbe(ProbeResult(False)), {})
    forget_probe()
    require_graphics(CountedProbe(ProbeResult(True)), {})


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32", "freebsd14"])
def test_every_system_gets_a_hint(platform):
    text = graphics._explanation("why", platform)
    assert "(why)" in text
    assert ("libegl1" in text) == (platform not in ("darwin", "win32"))


@pytest.mark.parametrize(
    ("before", "platform", "after"),
    [
        ({}, "linux", "vtkEGLRenderWindow"),
        ({"DISPLAY": ""}, "linux", "vtkEGLRenderWindow"),
        ({"DISPLAY": ":0"}, "linux", None),
        ({"VTK_DEFAULT_OPENGL_WINDOW": ""}, "linux", "vtkEGLRenderWindow"),
        ({"VTK_DEFAULT_OPENGL_WINDOW": "", "DISPLAY": ":0"}, "linux", None),
        ({"VTK_DEFAULT_OPENGL_WINDOW": "vtkOSOpenGLRenderWindow"}, "linux", "vtkOSOpenGLRenderWindow"),
        ({}, "darwin", None),
        ({}, "win32", None),
    ],
)
def test_the_window_kind_is_set_only_without_a_display(before, platform, after):
    environment = dict(before)
    choose_window(environment, platform)
    assert environment.get("VTK_DEFAULT_OPENGL_WINDOW") == after


def test_the_real_probe_agrees_with_a_real_window():
    environment = dict(os.environ)
    choose_window(environment)
    code = (
        "import vtkmodules.vtkRenderingOpenGL2\n"
        "from vtkmodules.vtkRenderingCore import vtkRenderWindow\n"
        "w = vtkRenderWindow(); w.SetOffScreenRendering(1); w.Render()\n"
        "raise SystemExit(0 if w.GetNeverRendered() == 0 else 1)"
    )
    really = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=False).returncode
    assert probe_in_child(environment).drawn == (really == 0)


@pytest.mark.skipif(not LINUX, reason="hides the libraries by the loader's search path of Linux")
def test_missing_libraries_become_a_message_and_not_a_crash(tmp_path):
    # An empty file found first by the loader stands for a library that is not there.
    for name in ("libEGL.so.1", "libEGL.so", "libGL.so.1", "libGL.so", "libOSMesa.so", "libOSMesa.so.8"):
        (tmp_path / name).touch()
    environment = {**os.environ, "LD_LIBRARY_PATH": str(tmp_path)}
    environment.pop("DISPLAY", None)
    with pytest.raises(PictureError, match="libegl1 libgl1-mesa-dri"):
        require_graphics(environment=environment)


@pytest.mark.skipif(not LINUX, reason="hides the drivers by a variable of the Linux loader for EGL")
def test_missing_drivers_become_a_message_and_not_a_crash(tmp_path):
    environment = {**os.environ, "__EGL_VENDOR_LIBRARY_DIRS": str(tmp_path), "LIBGL_DRIVERS_PATH": str(tmp_path)}
    environment.pop("DISPLAY", None)
    assert not probe_in_child(environment | {"VTK_DEFAULT_OPENGL_WINDOW": "vtkEGLRenderWindow"}).drawn


def test_a_probe_that_hangs_is_not_waited_for(monkeypatch):
    monkeypatch.setattr(graphics, "PROBE_SECONDS", 0.2)
    monkeypatch.setattr(graphics, "_PROBE_CODE", "import time; time.sleep(30)")
    assert "no picture within" in probe_in_child(os.environ).detail


def test_a_black_picture_does_not_count(monkeypatch):
    monkeypatch.setattr(graphics, "_PROBE_CODE", "print('black')")
    assert probe_in_child(os.environ) == ProbeResult(False, "the picture stayed black")


def test_a_missing_package_is_named(monkeypatch):
    monkeypatch.setattr(graphics, "_PROBE_CODE", "import no_such_package_for_drawing")
    assert "no_such_package_for_drawing" in probe_in_child(os.environ).detail
