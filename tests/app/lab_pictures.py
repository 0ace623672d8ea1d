"""Views to feed the Lab's pictures with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.model.results import Ellipse, OrbitPath, Trace
from analysis.simulate.lab import LabResult, compose
from analysis.simulate.lab_recipe import recipe_of
from analysis.simulate.lab_state import LabState, Precession
from app.plots.lab_view import LabView


def view_of(state: LabState, hidden: frozenset[str] = frozenset()) -> LabView:
    """A state as the page hands it to its pictures."""
    return LabView(compose(state), recipe_of(state).setup, hidden)


def ellipse_view(size: float = 1.0) -> LabView:
    """A forward ellipse of 1X with a little 2X; the clearance grows with it."""
    lines = (
        Precession(1.0, 60.0 * size, 30.0, 20.0 * size, 80.0),
        Precession(2.0, 8.0 * size, 10.0),
    )
    return view_of(LabState(motions=lines, clearance_um=240.0 * size))


def void_view() -> LabView:
    """Nothing but NaN."""
    view = ellipse_view()
    return replace(view, result=_emptied(view.result))


def _emptied(result: LabResult) -> LabResult:
    def path(old: OrbitPath) -> OrbitPath:
        nan, marks = np.full_like(old.x, np.nan), np.full_like(old.marks_x, np.nan)
        return replace(old, x=nan, y=nan, marks_x=marks, marks_y=marks)

    def ellipse(old: Ellipse) -> Ellipse:
        nan = complex(np.nan, np.nan)
        return replace(old, forward=nan, backward=nan, major_um=np.nan, minor_um=np.nan)

    waveforms = {
        name: replace(
            each,
            trace=Trace(each.trace.x, np.full_like(each.trace.y, np.nan)),
            marks_um=np.full_like(each.marks_um, np.nan),
        )
        for name, each in result.waveforms.items()
    }
    return replace(
        result,
        seen=path(result.seen),
        shaft=path(result.shaft),
        waveforms=waveforms,
        seen_ellipse=ellipse(result.seen_ellipse),
        shaft_ellipse=ellipse(result.shaft_ellipse),
    )
