"""The Lab's finding in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.plots.lab_view import LEAST_UM_PP, LabView
from app.plots.wording import length_text

if TYPE_CHECKING:
    from analysis.model.units import LengthUnit

_ROUND, _FLAT = 0.03, 0.03
"""Shares of the larger circle under which an ellipse is called a circle, or a line."""


def headline(view: LabView, unit: LengthUnit) -> str:
    """What the 1X does and when its high spot comes to the probes."""
    seen = view.result.seen_ellipse
    forward, backward = 2.0 * abs(seen.forward), 2.0 * abs(seen.backward)
    large, small = max(forward, backward), min(forward, backward)
    if large < LEAST_UM_PP:
        return "No 1X: nothing comes back once per turn."
    if small <= _ROUND * large:
        shape = f"runs {seen.precession} in a circle, {length_text(large, unit)} p-p"
    elif large - small <= _FLAT * large:
        shape = f"goes to and fro on a line, {length_text(seen.major_um, unit)} p-p"
    else:
        major, minor = length_text(seen.major_um, unit), length_text(seen.minor_um, unit)
        shape = f"runs {seen.precession} on an ellipse, {major} by {minor} p-p"
    lags = [(name, view.lag_deg(name)) for name in view.names]
    known = [f"to {name} {round(lag) % 360}°" for name, lag in lags if lag is not None]
    if not known:
        return f"1X {shape}."
    return f"1X {shape}. Its high spot comes {' and '.join(known)} of turning after the event."


def remarks(view: LabView) -> list[str]:
    """The loops, then what the probes get wrong."""
    return [view.result.loops.sentence, *(f"▲ {note}" for note in view.result.notes)]
