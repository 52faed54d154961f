"""A small app for the tests of the server: a coloured sphere, a slider for its size, and ways to misbehave."""

import argparse
import functools
import sys
import time
from pathlib import Path

import pyvista as pv
from trame.ui.vuetify3 import VAppLayout
from trame.widgets import html, rca, vuetify3

from scenes.errors import GeometryError, InputError, PictureError
from viewer.serving import serve


class Demo:
    """The sphere: its size follows the slider."""

    def __init__(self, server):
        self.server = server
        self.plotter = pv.Plotter(off_screen=True)
        self.plotter.render_window.SetMultiSamples(0)
        self.plotter.set_background("white")
        self.actor = self.plotter.add_mesh(pv.Sphere(theta_resolution=70, phi_resolution=70), color="#3366cc")
        self.plotter.camera_position = "xy"
        self.plotter.camera.zoom(0.5)
        server.state.update({"size": 1.0, "answer": "", "trame__title": "Sphere"})
        server.state.change("size")(self.resize)
        server.controller.add("work")(self.work)
        server.controller.add("fail")(self.fail)
        self.layout()

    def layout(self):
        with VAppLayout(self.server):
            vuetify3.VSlider(v_model=("size", 1.0), min=0.2, max=2.0, step=0.1, raw_attrs=['data-test="size"'])
            html.Div("{{ size }}", raw_attrs=['data-test="size-text"'])
            html.Button("Work", click=(self.work, "[3]"), raw_attrs=['data-test="work"'])
            html.Button("Fail", click=self.fail, raw_attrs=['data-test="fail"'])
            html.Button("Fail in a reaction", click="size = -1", raw_attrs=['data-test="fail-reaction"'])
            html.Div("{{ answer }}", raw_attrs=['data-test="answer"'])
            with html.Div(style="width: 100%; height: 400px"):
                area = rca.RemoteControlledArea(display="image")
                self.view = area.create_view_handler(self.plotter.render_window, encoder="jpeg", target_fps=30)

    def resize(self, size, **_):
        if size < 0:
            raise ValueError("a sphere of negative size")
        self.actor.scale = (size, size, size)
        self.view.update()

    def work(self, seconds):
        time.sleep(seconds)
        self.server.state.answer = "worked"

    def fail(self):
        raise ValueError("the inside of the program")

    def close(self):
        print("demo closed", flush=True)


def make_demo(server):
    return Demo(server)


def make_refusal(told, _server):
    """Fail in the way that the file ``told`` says now."""
    if told.read_text() == "geometry":
        raise GeometryError("The three datum points lie on one line.")
    raise RuntimeError("the inside of the program")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--refuse", type=Path, help="fail as this file says")
    parser.add_argument("--port", type=int, default=0)
    parser.add_argument("--max-visits", type=int, default=4)
    parser.add_argument("--browser", action="store_true")
    given = parser.parse_args()
    try:
        make = functools.partial(make_refusal, given.refuse) if given.refuse else make_demo
        serve(make, port=given.port, open_browser=given.browser, max_visits=given.max_visits)
    except (InputError, PictureError) as error:
        sys.exit(str(error))
