"""The Lab's orbit: what the probes make of the motion, and where the shaft is in it now."""

from __future__ import annotations

import math

import numpy as np
from PySide6.QtCore import Qt

from analysis.model.results import PlaneReading

from .curve import Curve
from .lab_view import LabView
from .layers import circle
from .orbit_plot import OrbitPlot, OrbitView
from .palette import Palette, palette
from .style import brush, line, rule

_APART = 0.02
"""Of the orbit's size: what the shaft does is drawn where it is further from what is seen."""


class LabOrbitPlot(OrbitPlot):
    """An orbit picture with a dot that runs; dotted, where it differs, what the shaft does."""

    DESCRIPTION = OrbitPlot.DESCRIPTION + (
        " Dot: where the shaft is in slow motion. Dotted path: what the shaft truly does, where "
        "the probes tell something else."
    )
    EMPTY = "Nothing composed yet. Move a slider at the left; to review, open a capture."

    _lab: LabView | None = None

    def _build(self) -> None:
        super()._build()
        self._true_curve = Curve()
        self.canvas.chart.add(self._true_curve)
        self._turns = 0.0
        self._differs = False
        self._paths = "raw"
        self.set_clearance_shown(False)

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._true_curve.setPen(line(colours.muted, Qt.PenStyle.DotLine))

    def title(self) -> str:
        """There is one plane."""
        return self.NAME

    def subtitle(self) -> str:
        """As of every orbit; first that there are two paths."""
        words = super().subtitle()
        return f"dotted: the shaft itself · {words}" if self._differs else words

    def show_result(self, view: object | None) -> None:
        """Draw a `LabView`."""
        self._lab = view if isinstance(view, LabView) else None
        super().show_result(orbit_view(self._lab) if self._lab is not None else None)

    def set_turns(self, turns: float, *, now: bool = True) -> None:
        """Move the dot to this angle of the shaft; with the next drawing unless `now`."""
        self._turns = turns
        if now and self._lab is not None and self._view is not None:
            self._move()

    def _draw(self) -> None:
        super()._draw()
        if self._lab is None:
            return
        seen, shaft = self._lab.result.seen, self._lab.result.shaft
        size = max(float(np.ptp(shaft.x)), float(np.ptp(shaft.y)), 1e-6)
        apart = float(np.hypot(seen.x - shaft.x, seen.y - shaft.y).max())
        # White noise stays below six times its rms in some thousand samples.
        noise = 6.0 * self._lab.result.state.noise_um_rms
        hidden = "shaft" in self._lab.hidden
        self._differs = not hidden and apart > _APART * size + noise
        # Beyond the picture there is nothing to see: the scale is that of what is seen.
        self._true_curve.setData(
            shaft.x if self._differs else np.empty(0), shaft.y if self._differs else np.empty(0)
        )

    def _decorate(self) -> None:
        super()._decorate()
        if self._lab is not None:
            self._move()

    def _rotation_text(self) -> str:
        """With the two marks named: the once-per-turn mark is where the event found the shaft."""
        return f"{super()._rotation_text()} · ○ event · ● now"

    def _move(self) -> None:
        seen = self._lab.result.seen
        points = (len(seen.x) - 1) // self._lab.result.shown_turns
        at = int(self._turns * points) % (len(seen.x) - 1)
        x, y = float(seen.x[at]), float(seen.y[at])
        if not math.isfinite(x + y):
            self.canvas.hover.show_content()
            return
        place = self.canvas.to_pixels(x, y)
        ink = palette(self._theme).ink
        self.canvas.hover.show_content((), (circle(place, 4.0, rule(ink), brush(ink)),))


def orbit_view(view: LabView) -> OrbitView:
    """A composed state as an orbit picture takes it."""
    plane = view.setup.plane[0]
    reading = PlaneReading(
        name=plane.name,
        s_max_um=None,
        orbits={} if "precession" in view.hidden else {1: view.result.seen_ellipse},
        centreline=None,
    )
    return OrbitView(
        raw=view.result.seen,
        filtered=None,
        plane=plane,
        reading=reading,
        setup=view.setup,
        probe_readings={},
    )
