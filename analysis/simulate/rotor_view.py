"""What the Lab asks of its rotor: the response over a run of speeds, and what it does at one."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.response_results import CriticalSpeed, ResponsePoints
from analysis.model.results import Complexes, Floats
from analysis.rotor.response.responses import response_of
from analysis.views.run_traces import RunTrace, points_only, traces_of

from .lab_state import LabState, Precession
from .rotor_model import (
    Mode,
    Rotor,
    fastest_growth,
    modes,
    stability_threshold,
    steady_response,
)
from .rotor_sweep import Sweep, sweep, turn_circles

_SPEEDS = 500
_HIGHEST_RPM = 30_000.0


@dataclass(frozen=True)
class RotorRequest:
    """A rotor, and the speeds that are looked at; the run goes up or down.

    `recorded` says how probes sit at the journal.
    """

    rotor: Rotor = field(default_factory=Rotor)
    run: Sweep = field(default_factory=Sweep)
    recorded: LabState = field(default_factory=LabState)


@dataclass(frozen=True, eq=False)
class RotorAnswer:
    """The steady response of each probe over the run.

    `threshold_rpm` is the speed above which the rotor whirls by itself, `None` when there is none
    up to 30 000 r/min. Traces and criticals end there: no shaft stays above it. `time_s` of the
    traces is the time at which the run passes a speed. Not `complete`: neither threshold nor
    criticals have been looked for, and the traces go on over a threshold.
    """

    request: RotorRequest
    traces: tuple[RunTrace, ...]
    criticals: Mapping[str, tuple[CriticalSpeed, ...]]
    threshold_rpm: float | None
    complete: bool


@dataclass(frozen=True)
class RotorMoment:
    """The rotor at one speed.

    `state` is its 1X at the journal as a state of the Lab; `growth_per_s` above 0: unstable.
    """

    speed_rpm: float
    state: LabState
    modes: tuple[Mode, ...]
    growth_per_s: float


@dataclass(frozen=True, eq=False)
class RunAnswer:
    """The rotor run through its speeds in time; `stopped` says why it ended early, or `None`."""

    request: RotorRequest
    traces: tuple[RunTrace, ...]
    stopped: str | None


def answer_rotor(
    request: RotorRequest, progress: Progress = SILENT, *, quick: bool = False
) -> RotorAnswer:
    """The response over the speeds of the run, as if each were held for a long time.

    Args:
        request: what is wanted.
        progress: told and asked between the parts.
        quick: the traces alone, some milliseconds, for a drag.

    Raises:
        JobCancelled: when `progress` asks for it.
    """
    progress.report(0.0, "threshold of stability")
    threshold = None if quick else stability_threshold(request.rotor, _HIGHEST_RPM)
    progress.report(0.6, "response over speed")
    speeds = _speeds_of(request, threshold)
    traces: list[RunTrace] = []
    criticals: dict[str, tuple[CriticalSpeed, ...]] = {}
    if len(speeds) > 1:
        found = steady_response(request.rotor, speeds, "journal")
        for probe in request.recorded.probes:
            vectors = found.probe_vector(probe.angle_deg)
            traces.append(_trace(probe.name, request.run, speeds, vectors))
            if not quick:
                # Without times: held speeds are no sweep, and nothing is late in them.
                points = ResponsePoints(1, np.full(len(speeds), np.nan), speeds, vectors)
                response = response_of(probe.name, points, None, smoothing_turns=1)
                criticals[probe.name] = response.criticals
            progress.report(0.8, "response over speed")
    progress.report(1.0, "response over speed")
    return RotorAnswer(
        request=request,
        traces=tuple(traces),
        criticals=criticals,
        threshold_rpm=threshold,
        complete=not quick,
    )


def rotor_at(request: RotorRequest, speed_rpm: float) -> RotorMoment:
    """The rotor at one speed; quick enough for every frame of a drag.

    Above its threshold of stability the 1X is what unbalance would do if nothing else happened.
    """
    rotor = request.rotor
    found = steady_response(rotor, np.array([speed_rpm]), "journal")
    forward, backward = complex(found.forward[0]), complex(found.backward[0])
    line = Precession(
        1.0, 2.0 * abs(forward), _degrees(forward), 2.0 * abs(backward), _degrees(backward)
    )
    state = replace(
        request.recorded,
        motions=(line,),
        whirl=None,
        asymmetry_um_pp=0.0,
        preload=None,
        stop=None,
        rotation=rotor.rotation,
        rotation_wrong=False,
        speed_rpm=max(speed_rpm, 60.0),
        title="A rotor in the Lab",
    )
    return RotorMoment(speed_rpm, state, modes(rotor, speed_rpm), fastest_growth(rotor, speed_rpm))


def answer_run(request: RotorRequest, progress: Progress = SILENT) -> RunAnswer:
    """The run itself, integrated in time: what it smears and how far it lags behind.

    Raises:
        JobCancelled: when `progress` asks for it.
    """
    path = sweep(request.rotor, request.run, progress=progress)
    if path.turns[-1] - path.turns[0] < 2.0:
        return RunAnswer(request, (), path.stopped)
    speeds, (forward, backward) = turn_circles(path, path.journal, request.rotor.sign)
    traces: list[RunTrace] = []
    for probe in request.recorded.probes:
        towards = cmath.exp(1j * math.radians(90.0 - probe.angle_deg))
        # Re[F e^{jσθ} u*] + Re[B e^{-jσθ} u*] as one phasor of e^{jθ}.
        along, against = forward * towards.conjugate(), backward * towards.conjugate()
        if request.rotor.sign < 0.0:
            along, against = against, along
        vectors = 2.0 * (along + against.conj())
        points = ResponsePoints(1, _times_of(request.run, speeds), speeds, vectors)
        traces += traces_of(points_only(probe.name, points, None))
    return RunAnswer(request, tuple(traces), path.stopped)


def _speeds_of(request: RotorRequest, threshold: float | None) -> Floats:
    run = request.run
    speeds = np.linspace(run.from_rpm, run.to_rpm, _SPEEDS)
    return speeds if threshold is None else speeds[speeds < threshold]


def _trace(name: str, run: Sweep, speeds: Floats, vectors: Complexes) -> RunTrace:
    """One passage; the lag unwrapped from the largest amplitude outwards, which lies within a turn.

    Made here and not by `traces_of`: that looks for passages, which these speeds are by
    construction, and loads a library for it that a drag would have to wait for.
    """
    unwrapped = np.degrees(np.unwrap(-np.angle(vectors)))
    top = int(np.argmax(np.abs(vectors)))
    lag = unwrapped + (unwrapped[top] % 360.0 - unwrapped[top])
    lag[np.abs(vectors) == 0.0] = np.nan
    return RunTrace(
        probe=name,
        order=1,
        direction="up" if run.to_rpm > run.from_rpm else "down",
        time_s=_times_of(run, speeds),
        speed_rpm=speeds,
        vectors=vectors,
        raw=vectors,
        lag_deg=lag,
        thinned=False,
    )


def _times_of(run: Sweep, speeds: Floats) -> Floats:
    out: Floats = (speeds - run.from_rpm) / (run.to_rpm - run.from_rpm) * run.seconds
    return out


def _degrees(circle: complex) -> float:
    return math.degrees(cmath.phase(circle))
