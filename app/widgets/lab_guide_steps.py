"""Four steps into the trade's first words: forward, backward, 1X, phase lag."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.simulate.lab_state import LabState, Precession
from app.session.lab_fields import LabField, line_of, order_fields

if TYPE_CHECKING:
    from app.plots.lab_view import LabView


@dataclass(frozen=True)
class GuideStep:
    """A step: what there is to see, what to try, and what is said when that is done.

    `word` is what to remember of it, `fields` are the numbers to move, `rotation` whether the
    rotation is one of them.
    """

    title: str
    see: str
    attempt: str
    said: str
    word: str
    state: LabState
    fields: tuple[LabField, ...]
    done: Callable[[LabView], bool]
    rotation: bool = False


_ONCE = order_fields(1.0)
_HALF = order_fields(0.5)
_WANTED_LAG = 90.0
_NEAR_LAG = 3.0


def _turned_round(view: LabView) -> bool:
    return view.result.state.rotation == "cw"


def _runs_backward(view: LabView) -> bool:
    return view.result.seen_ellipse.precession == "backward"


def _half_moves(view: LabView) -> bool:
    return line_of(view.result.state, 0.5).forward_um_pp >= 10.0


def _lags_as_wanted(view: LabView) -> bool:
    lag = view.lag_deg(view.names[0])
    return lag is not None and abs(lag - _WANTED_LAG) <= _NEAR_LAG


STEPS: tuple[GuideStep, ...] = (
    GuideStep(
        title="Forward",
        see="The small triangle on the rim is a notch: it shows how the shaft turns. While it "
        "turns, its centre runs round as well: that path is the orbit, and it is all that the two "
        "probes see. Here the centre goes round the same way as the shaft turns. That is forward. "
        "In the spectrum it stands to the right of zero.",
        attempt="Let the shaft turn clockwise.",
        said="The orbit turned round with the shaft, and its line stayed at the right: forward "
        "means with the rotation, whichever way that is.",
        word="the shaft's centre runs round the way the shaft turns.",
        state=LabState(title="Forward"),
        fields=(),
        done=_turned_round,
        rotation=True,
    ),
    GuideStep(
        title="Backward",
        see="Now there are two arrows: F turns with the shaft, B against it, at the same pace. "
        "Their sum draws the orbit: an ellipse, F + B long and F − B wide. In the spectrum B "
        "stands to the left of zero.",
        attempt="Make backward larger than forward, slowly.",
        said="When both were equal, the orbit was a line. Now it runs against the shaft: backward, "
        "and the line at the left is the higher one.",
        word="it runs round against the way the shaft turns.",
        state=LabState((Precession(1.0, 60.0, 45.0, 20.0, 45.0),), title="Backward"),
        fields=(_ONCE[2], _ONCE[0]),
        done=_runs_backward,
    ),
    GuideStep(
        title="1X",
        see="Once per turn the notch passes REF. That instant, the event, is marked by a small "
        "circle on the orbit and on the waveforms. What comes back in every turn is called 1X "
        "(twice a turn: 2X). It puts the mark at the same place each time.",
        attempt="Add a motion at half of running speed, 0.5X, of 40 µm.",
        said="Now it takes two turns until all comes back, so two marks stand on the orbit. The "
        "1X in it has not changed: its arrows turn as before.",
        word="the part of a motion that comes back once in every turn.",
        state=LabState((Precession(1.0, 60.0, 45.0),), title="1X"),
        fields=(_HALF[0],),
        done=_half_moves,
    ),
    GuideStep(
        title="Phase lag",
        see="The ring on the rim is the high spot: the side that is furthest out. How far "
        "does the shaft turn from the event until the high spot is nearest to a probe? That angle "
        "is the phase lag. The coloured arcs round the bearing show it, and the arrows over the "
        "waveforms, from the event to the peak. Later means more.",
        attempt="Bring the lag at LAB-X to 90°: move where F points to at the event (0° is to the "
        "right, 90° up).",
        said="Right. LAB-Y sits a quarter turn further on, so the high spot comes there 90° later: "
        "its lag is 180°.",
        word="how far the shaft turns from the event until the 1X high spot is at the probe.",
        state=LabState((Precession(1.0, 60.0, 20.0),), title="Phase lag"),
        fields=(_ONCE[1],),
        done=_lags_as_wanted,
    ),
)
