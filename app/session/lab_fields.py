"""The numbers of a state of the Lab, one by one: name, unit, range, how to read and how to put."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from analysis.simulate.lab_state import LabState, Precession
from analysis.simulate.recipe_parts import Preload, Stop

Kind = Literal["um", "deg", "share", "rpm", "order", "per_mm"]

DEFAULT_RATIO: Final = 0.43
"""Of a whirl that nobody has set: an oil whirl runs a little below half speed, common practice."""


@dataclass(frozen=True)
class LabField:
    """One number of a state.

    `least` to `most` is what the slider covers, `furthest` the largest value that may be typed.
    `put` gives another state; it may raise `ValueError` where there is no such state.
    """

    key: str
    name: str
    kind: Kind
    least: float
    most: float
    step: float
    tip: str
    get: Callable[[LabState], float]
    put: Callable[[LabState, float], LabState]
    furthest: float = 5000.0


def line_of(state: LabState, order: float) -> Precession:
    """The line of an order; a still one where nothing moves."""
    return next((line for line in state.motions if line.order == order), Precession(order))


def with_line(state: LabState, line: Precession) -> LabState:
    """The state with this line in the place of the one of its order."""
    others = [each for each in state.motions if each.order != line.order]
    lines = sorted([*others, line], key=lambda each: each.order)
    return replace(state, motions=tuple(lines))


def whirl_of(state: LabState) -> Precession:
    """The sub-synchronous line; a still one where there is none."""
    return state.whirl or Precession(DEFAULT_RATIO)


def order_fields(order: float) -> tuple[LabField, ...]:
    """Forward and backward circle of an order."""

    def field(part: str, name: str, kind: Kind, tip: str) -> LabField:
        return LabField(
            f"{order:g}X.{part}",
            name,
            kind,
            -180.0 if kind == "deg" else 0.0,
            180.0 if kind == "deg" else 200.0,
            1.0,
            tip,
            lambda state: float(getattr(line_of(state, order), part)),
            lambda state, value: with_line(state, replace(line_of(state, order), **{part: value})),
            furthest=360.0 if kind == "deg" else 5000.0,
        )

    return _circle_fields(field)


def whirl_fields() -> tuple[LabField, ...]:
    """Ratio, forward and backward circle of the sub-synchronous line."""

    def put(state: LabState, part: str, value: float) -> LabState:
        return replace(state, whirl=replace(whirl_of(state), **{part: value}))

    def field(part: str, name: str, kind: Kind, tip: str) -> LabField:
        return LabField(
            f"whirl.{part}",
            name,
            kind,
            -180.0 if kind == "deg" else 0.0,
            180.0 if kind == "deg" else 200.0,
            1.0,
            tip,
            lambda state: float(getattr(whirl_of(state), part)),
            lambda state, value: put(state, part, value),
            furthest=360.0 if kind == "deg" else 5000.0,
        )

    ratio = LabField(
        "whirl.order",
        "ratio",
        "order",
        0.2,
        0.95,
        0.001,
        "Frequency of the whirl as a part of running speed (X)",
        lambda state: whirl_of(state).order,
        lambda state, value: put(state, "order", value),
        furthest=0.999,
    )
    return (ratio, *_circle_fields(field))


def _circle_fields(
    field: Callable[[str, str, Kind, str], LabField],
) -> tuple[LabField, ...]:
    where = "Where it points to at the event, degrees counter-clockwise from the right"
    return (
        field("forward_um_pp", "forward", "um", "Circle with the rotation, peak to peak"),
        field("forward_at_deg", "points to", "deg", where),
        field("backward_um_pp", "backward", "um", "Circle against the rotation, peak to peak"),
        field("backward_at_deg", "points to", "deg", where),
    )


# Shape -------------------------------------------------------------------------------------------

_NO_PRELOAD: Final = Preload(at_deg=-90.0)
_NO_STOP: Final = Stop(at_deg=90.0, distance_um=20.0, rebound=0.5, drag=0.2)


def _of_model(
    key: str,
    part: str,
    rest: Any,
    name: str,
    kind: Kind,
    ends: tuple[float, float, float],
    tip: str,
    furthest: float = 5000.0,
) -> LabField:
    """A number of `preload` or of `stop`, which are made when the first one is put."""

    def now(state: LabState) -> Any:
        return getattr(state, key) or rest

    def put(state: LabState, value: float) -> LabState:
        content = {**now(state).model_dump(), part: value}
        return replace(state, **{key: type(rest).model_validate(content)})

    least, most, step = ends
    return LabField(
        f"{key}.{part}",
        name,
        kind,
        least,
        most,
        step,
        tip,
        lambda state: float(getattr(now(state), part)),
        put,
        furthest,
    )


_AROUND: Final = (-180.0, 180.0, 1.0)

PRELOAD_FIELDS: Final = (
    _of_model(
        "preload",
        "flatten",
        _NO_PRELOAD,
        "flattening",
        "share",
        (0.0, 0.95, 0.01),
        "Share of the motion along the load that the load takes away",
        0.99,
    ),
    _of_model(
        "preload",
        "bend_per_mm",
        _NO_PRELOAD,
        "bending",
        "per_mm",
        (0.0, 40.0, 0.5),
        "How much the orbit bends round the bearing's wall, 1/mm",
        1000.0,
    ),
    _of_model(
        "preload",
        "at_deg",
        _NO_PRELOAD,
        "load towards",
        "deg",
        _AROUND,
        "Direction of the load, degrees counter-clockwise from the right",
        360.0,
    ),
)

STOP_FIELDS: Final = (
    _of_model(
        "stop",
        "distance_um",
        _NO_STOP,
        "distance",
        "um",
        (0.0, 120.0, 1.0),
        "From the mean position to the wall",
    ),
    _of_model(
        "stop",
        "at_deg",
        _NO_STOP,
        "wall towards",
        "deg",
        _AROUND,
        "Direction of the wall, degrees counter-clockwise from the right",
        360.0,
    ),
    _of_model(
        "stop",
        "rebound",
        _NO_STOP,
        "rebound",
        "share",
        (0.0, 1.0, 0.01),
        "Share of what would go beyond the wall that comes back from it",
        1.0,
    ),
    _of_model(
        "stop",
        "drag",
        _NO_STOP,
        "drag",
        "share",
        (0.0, 1.0, 0.01),
        "Share of it that slides along the wall, against the surface of the shaft",
        1.0,
    ),
)


def _plain(
    key: str,
    name: str,
    kind: Kind,
    ends: tuple[float, float, float],
    tip: str,
    furthest: float = 5000.0,
) -> LabField:
    """A number of the state itself, or of its surface."""
    of, _, part = key.rpartition(".")
    least, most, step = ends

    def get(state: LabState) -> float:
        return float(getattr(getattr(state, of) if of else state, part))

    def put(state: LabState, value: float) -> LabState:
        if not of:
            return replace(state, **{part: value})
        return replace(state, **{of: replace(getattr(state, of), **{part: value})})

    return LabField(key, name, kind, least, most, step, tip, get, put, furthest)


ASYMMETRY_FIELDS: Final = (
    _plain(
        "asymmetry_um_pp",
        "forward at 2X",
        "um",
        (0.0, 200.0, 1.0),
        "What a shaft of two stiffnesses under a constant load does twice a turn, peak to peak",
    ),
    _plain(
        "asymmetry_at_deg",
        "points to",
        "deg",
        _AROUND,
        "Where it points to at the event, degrees counter-clockwise from the right",
        360.0,
    ),
)

# Measuring ---------------------------------------------------------------------------------------

SURFACE_FIELDS: Final = (
    _plain(
        "surface.um_pp",
        "runout",
        "um",
        (0.0, 60.0, 0.5),
        "What an eccentric track under the probes adds once per turn, peak to peak",
    ),
    _plain(
        "surface.at_deg",
        "high spot at",
        "deg",
        _AROUND,
        "Where the track's high spot is at the event, degrees counter-clockwise from the right",
        360.0,
    ),
    _plain(
        "surface.scratch_depth_um",
        "scratch",
        "um",
        (0.0, 60.0, 0.5),
        "Depth of a dent that passes each probe once per turn",
    ),
    _plain(
        "surface.scratch_at_deg",
        "scratch at",
        "deg",
        _AROUND,
        "Where the dent is at the event, degrees counter-clockwise from the right",
        360.0,
    ),
    _plain(
        "surface.scratch_width_deg",
        "its width",
        "deg",
        (2.0, 90.0, 1.0),
        "Width of the dent from edge to edge, degrees of the shaft's turn",
        360.0,
    ),
    _plain("noise_um_rms", "noise", "um", (0.0, 10.0, 0.1), "White noise of each probe, rms"),
)


def probe_fields(place: int) -> tuple[LabField, ...]:
    """Angle and rest gap of a probe."""

    def field(
        part: str, name: str, kind: Kind, ends: tuple[float, float, float], tip: str, most: float
    ) -> LabField:
        def put(state: LabState, value: float) -> LabState:
            probes = list(state.probes)
            probes[place] = replace(probes[place], **{part: value})
            return replace(state, probes=(probes[0], probes[1]))

        return LabField(
            f"probe{place}.{part}",
            name,
            kind,
            *ends,
            tip,
            lambda state: float(getattr(state.probes[place], part)),
            put,
            most,
        )

    return (
        field(
            "angle_deg",
            "angle",
            "deg",
            _AROUND,
            "Where the probe sits: degrees from 12 o'clock, to the right positive",
            360.0,
        ),
        field(
            "rest_gap_um",
            "gap at rest",
            "um",
            (200.0, 2400.0, 10.0),
            "Gap with the shaft in the middle; the linear range goes from 250 to 2280 µm",
            5000.0,
        ),
    )


SPEED_FIELD: Final = _plain(
    "speed_rpm", "speed", "rpm", (300.0, 12_000.0, 10.0), "Running speed, r/min", 60_000.0
)
CLEARANCE_FIELD: Final = _plain(
    "clearance_um",
    "clearance",
    "um",
    (40.0, 600.0, 5.0),
    "Diametral clearance of the bearing",
    1e5,
)
