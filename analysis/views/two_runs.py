"""A second run laid over the first: how far they lie apart, and why the two may not be alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from analysis.jobs import SILENT, Progress
from analysis.model.response_results import Doubt, Overlay, ResponseResult, ResponseTable
from analysis.model.results import RevolutionTable
from analysis.model.setup import Probe, Setup, SeverityZones
from analysis.rotor.response.overlay import overlay

from .response import (
    ResponseRequest,
    SlowRollChoice,
    answer_response,
    answer_table_response,
)


@dataclass(frozen=True, eq=False)
class OtherRun:
    """Vectors of another capture or table of the machine, and the setup that goes with them.

    `own_setup` is false where it has none and that of this run stands in for it.
    """

    name: str
    source: RevolutionTable | ResponseTable
    setup: Setup | None
    own_setup: bool = True


@dataclass(frozen=True, eq=False)
class TwoRuns:
    """Overlays by probe, and what is to be said of the two as a whole."""

    overlays: Mapping[str, Overlay] = field(default_factory=dict)
    doubts: tuple[Doubt, ...] = ()


def response_of_other(
    other: OtherRun, *, take_off: bool, order: int = 1, progress: Progress = SILENT
) -> ResponseResult:
    """An order of the other run with its own slow roll taken off, or as measured.

    Raises:
        InputError: when the phase of its vectors is not known.
    """
    own = SlowRollChoice(take_off)
    request = ResponseRequest(order, slow_roll=own, smoothing_turns=1, planes=False)
    if isinstance(other.source, ResponseTable):
        return answer_table_response(other.source, other.setup, request, progress)
    assert other.setup is not None
    return answer_response(other.name, other.source, other.setup, request, progress)


def compare_runs(
    other: OtherRun, before: ResponseResult, now: ResponseResult, setup: Setup | None
) -> TwoRuns:
    """This run less the other one, by probe; the setup's zones say what is significant.

    Args:
        other: the other run.
        before: its response.
        now: the response of this run, of the same order.
        setup: of this run.
    """
    zones = (setup.severity_zones if setup is not None else None) or SeverityZones()
    found: dict[str, Overlay] = {}
    doubts = [*_missing(other, before, now), *_unlike_machine(other, setup)]
    apart = []
    for name, response in now.probes.items():
        if name not in before.probes:
            continue
        laid = overlay(
            before.probes[name], response, b_c=zones.b_c, operating_rpm=now.operating_rpm
        )
        if laid is None:
            apart.append(name)
            continue
        unlike = _unlike_probe(other, setup, name)
        found[name] = replace(laid, doubts=(*laid.doubts, *unlike))
    if apart:
        sentence = f"{', '.join(apart)}: the two runs have no passage through the same speeds"
        doubts.append(Doubt("no-speed-in-common", sentence))
    return TwoRuns(found, tuple(doubts))


def _missing(other: OtherRun, before: ResponseResult, now: ResponseResult) -> list[Doubt]:
    here = [name for name in now.probes if name not in before.probes]
    there = [name for name in before.probes if name not in now.probes]
    out = []
    if here:
        out.append(Doubt("probes-differ", f"no vectors of {', '.join(here)} in {other.name}"))
    if there:
        out.append(Doubt("probes-differ", f"no vectors of {', '.join(there)} in this run"))
    return out


def _unlike_machine(other: OtherRun, setup: Setup | None) -> list[Doubt]:
    """What makes every lag of the one run another than that of the other."""
    if not other.own_setup or other.setup is None or setup is None:
        return []
    out = []
    if other.setup.machine.rotation != setup.machine.rotation:
        out.append(
            Doubt(
                "rotation-differs",
                f"the shaft turns {other.setup.machine.rotation} by the setup of {other.name} and "
                f"{setup.machine.rotation} by that of this run: lags are not alike",
            )
        )
    marks = [
        (each.edge, each.events_per_turn) if each is not None else None
        for each in (other.setup.phase_reference, setup.phase_reference)
    ]
    if None not in marks and marks[0] != marks[1]:
        out.append(
            Doubt(
                "phase-reference-differs",
                "the two setups take the event of a turn from another edge or another count of "
                "events: lags are not alike, and a difference vector means little",
            )
        )
    return out


def _unlike_probe(other: OtherRun, setup: Setup | None, name: str) -> list[Doubt]:
    then, now = _probe_of(other.setup if other.own_setup else None, name), _probe_of(setup, name)
    if then is None or now is None or then.angle_deg is None or now.angle_deg is None:
        return []
    if abs((then.angle_deg - now.angle_deg + 180.0) % 360.0 - 180.0) < 0.5:
        return []
    return [
        Doubt(
            "probe-angle-differs",
            f"{name} sits at {then.angle_deg:g}° by the setup of {other.name} and at "
            f"{now.angle_deg:g}° by that of this run: the two vectors are not of one direction",
        )
    ]


def _probe_of(setup: Setup | None, name: str) -> Probe | None:
    if setup is None:
        return None
    return next((probe for probe in setup.probe if probe.name == name), None)
