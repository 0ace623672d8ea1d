"""What `response` and the Run page ask of a capture or a table, and the answer: one way to both."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from analysis.jobs import SILENT, Progress
from analysis.model.errors import InputError
from analysis.model.response_results import (
    Doubt,
    PlaneResponse,
    Response,
    ResponsePoints,
    ResponseResult,
    ResponseTable,
    SlowRoll,
)
from analysis.model.results import RevolutionTable
from analysis.model.setup import Plane, Setup
from analysis.rotor.orbit import NEAREST_PARALLEL_DEG, degrees_from_parallel
from analysis.rotor.response.orbit_axes import machine_axes
from analysis.rotor.response.principal_axes import plane_response
from analysis.rotor.response.responses import SMOOTHING_TURNS, points_of, response_of
from analysis.rotor.response.slow_roll import Refused, at_speed, propose, typed
from analysis.rotor.vectors import vector_from

Partial = Callable[[ResponseResult], None]


@dataclass(frozen=True)
class SlowRollChoice:
    """Which slow-roll vectors are taken off.

    Args:
        take_off: whether at all.
        speed_rpm: read at this speed; the steady lowest speeds are proposed when not given.
        vectors: typed ones by probe, which go before.
    """

    take_off: bool = True
    speed_rpm: float | None = None
    vectors: Mapping[str, complex] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class ResponseRequest:
    """What is wanted. `operating_rpm` goes before the setup's."""

    order: int = 1
    slow_roll: SlowRollChoice = SlowRollChoice()
    operating_rpm: tuple[float, float] | None = None
    smoothing_turns: int = SMOOTHING_TURNS
    probes: tuple[str, ...] | None = None
    planes: bool = True


def answer_response(
    source: str,
    table: RevolutionTable,
    setup: Setup,
    request: ResponseRequest = ResponseRequest(),
    progress: Progress = SILENT,
    partial: Partial | None = None,
) -> ResponseResult:
    """The response of every radial probe and of every plane of a capture.

    Raises:
        InputError: when the phase of its vectors is not known.
    """
    radial = [p.name for p in setup.probe if p.kind == "radial" and p.name in table.probes]
    points = {
        name: points_of(table, name, request.order)
        for name in radial
        if request.order in table.probes[name].vectors
    }
    notices = list(table.notices)
    left_out = [p.name for p in setup.probe if p.kind == "axial" and p.name in table.probes]
    if left_out:
        notices.append(f"axial probes are left out: {', '.join(left_out)}")
    known = table.kind == "events"
    return answer_points(
        source,
        points,
        setup,
        request,
        phase_known=known,
        notices=tuple(notices),
        progress=progress,
        partial=partial,
    )


def answer_table_response(
    table: ResponseTable,
    setup: Setup | None = None,
    request: ResponseRequest = ResponseRequest(),
    progress: Progress = SILENT,
    partial: Partial | None = None,
) -> ResponseResult:
    """The response of every probe of a table; planes where a setup says what they are."""
    points = {
        name: ResponsePoints(request.order, table.time_s, table.speed_rpm, orders[request.order])
        for name, orders in table.vectors.items()
        if request.order in orders
    }
    return answer_points(
        table.name,
        points,
        setup,
        request,
        notices=table.notices,
        progress=progress,
        partial=partial,
    )


def answer_points(
    source: str,
    points: Mapping[str, ResponsePoints],
    setup: Setup | None,
    request: ResponseRequest,
    *,
    phase_known: bool = True,
    notices: tuple[str, ...] = (),
    progress: Progress = SILENT,
    partial: Partial | None = None,
) -> ResponseResult:
    """The response of measured vectors by probe, wherever they come from.

    `partial` is given what is known of the probes, before the planes are looked at.

    Raises:
        InputError: when their phase is not known.
    """
    if not phase_known:
        raise InputError(
            f"{source}: without phase-reference events there is no phase lag, and critical speeds "
            f"cannot be told; give the setup a [phase_reference] whose channel has pulses"
        )
    said = list(notices)
    operating = request.operating_rpm
    if operating is None and setup is not None:
        operating = setup.machine.operating_rpm
    if operating is None:
        said.append("no operating range is known (operating_rpm): margins are not told")
    request = replace(request, slow_roll=with_kept(request.slow_roll, setup, request.order))
    wanted = [n for n in points if request.probes is None or n in request.probes]
    planes = list(setup.plane) if setup is not None and request.planes else []
    probes: dict[str, Response] = {}
    for k, name in enumerate(wanted):
        progress.report(k / (len(wanted) + 2 * len(planes)), f"critical speeds of {name}")
        probes[name] = _probe(name, points[name], request, operating)
    if partial is not None and planes:
        partial(ResponseResult(source, operating, dict(probes), {}, tuple(said)))
    found: dict[str, PlaneResponse] = {}
    for k, plane in enumerate(planes):
        done = (len(wanted) + 2 * k) / (len(wanted) + 2 * len(planes))
        progress.report(done, f"principal directions of {plane.name}")
        answered = _plane(plane, probes, setup, request, operating)
        if answered is not None:
            found[plane.name] = answered
            _tell_of_split(answered, plane, probes)
    progress.report(1.0, "critical speeds")
    return ResponseResult(source, operating, probes, found, tuple(said))


def _probe(
    name: str,
    points: ResponsePoints,
    request: ResponseRequest,
    operating: tuple[float, float] | None,
) -> Response:
    slow_roll, notices = slow_roll_of(name, points, request.slow_roll)
    return response_of(
        name,
        points,
        slow_roll,
        operating,
        smoothing_turns=request.smoothing_turns,
        notices=notices,
    )


def with_kept(choice: SlowRollChoice, setup: Setup | None, order: int) -> SlowRollChoice:
    """The choice with the vectors that the setup keeps, where nothing else was asked for.

    A speed that was asked for goes before them, and so does a vector that was typed.
    """
    if setup is None or not choice.take_off or choice.speed_rpm is not None:
        return choice
    kept = {
        probe.name: vector_from(each.um_pp, each.lag_deg)
        for probe in setup.probe
        for each in probe.slow_roll
        if each.order == order
    }
    return replace(choice, vectors={**kept, **choice.vectors})


def slow_roll_of(
    name: str, points: ResponsePoints, choice: SlowRollChoice
) -> tuple[SlowRoll | None, tuple[Doubt, ...]]:
    """The slow-roll vector of a probe by a choice, or `None` with the reason."""
    if not choice.take_off:
        return None, ()
    if name in choice.vectors:
        return typed(points.order, choice.vectors[name], choice.speed_rpm), ()
    speed = choice.speed_rpm
    found = propose(points) if speed is None else at_speed(points, speed)
    if isinstance(found, Refused):
        return None, (found.reason,)
    return found, found.doubts


def _plane(
    plane: Plane,
    probes: Mapping[str, Response],
    setup: Setup | None,
    request: ResponseRequest,
    operating: tuple[float, float] | None,
) -> PlaneResponse | None:
    assert setup is not None
    pair = [probes.get(name) for name in plane.probes]
    angles = [setup.probe_named(name).angle_deg for name in plane.probes]
    if pair[0] is None or pair[1] is None or angles[0] is None or angles[1] is None:
        return None
    if degrees_from_parallel(angles[0], angles[1]) < NEAREST_PARALLEL_DEG:
        return None
    if len(pair[0].compensated.vectors) != len(pair[1].compensated.vectors):
        return None
    x, y = machine_axes(pair[0].compensated, pair[1].compensated, angles[0], angles[1])
    return plane_response(plane.name, x, y, operating, smoothing_turns=request.smoothing_turns)


def _tell_of_split(answered: PlaneResponse, plane: Plane, probes: dict[str, Response]) -> None:
    """A probe that looks between two principal directions sees both modes in one curve."""
    if not answered.split or answered.axis_deg is None:
        return
    first, second = answered.first, answered.second
    assert first is not None
    assert second is not None
    speeds = " and ".join(
        f"{max(each.criticals, key=lambda c: c.amplitude_um_pp).speed_rpm:.0f}"
        for each in (first, second)
    )
    doubt = Doubt(
        "two-directions",
        f"{plane.name} has two critical speeds close together, {speeds} r/min along its principal "
        f"directions: a probe between them sees both at once, so its factor is of neither alone",
    )
    low, high = (
        max(each.criticals, key=lambda c: c.amplitude_um_pp).speed_rpm for each in (first, second)
    )
    low, high = 0.9 * min(low, high), 1.1 * max(low, high)
    for name in plane.probes:
        response = probes[name]
        criticals = tuple(
            replace(c, doubts=(*c.doubts, doubt)) if low <= c.speed_rpm <= high else c
            for c in response.criticals
        )
        probes[name] = replace(response, criticals=criticals)
