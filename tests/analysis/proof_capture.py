"""A captured proof test: somebody who follows the written sequences on a calibrator.

The capture comes from a recipe, so it is seen through volts, counts and noise like any other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from analysis.model.replay_results import ReplayResult
from analysis.model.setup import Setup
from analysis.protection.monitor import monitor_series
from analysis.protection.proof_plan import Group, Phase, drafts_of, groups_of
from analysis.protection.proof_values import quiet_motion
from analysis.protection.replay import replay
from analysis.rotor.revolutions import revolution_table
from analysis.simulate.recipe import Recipe
from analysis.simulate.synthesis import simulate

VIBRATION_HZ = 80.0
CHANGE_S = 0.02
LARGEST_UM = 1000.0
OPEN_AT_UM = 3600.0  # beyond the driver's rail: what an open circuit looks like

PROBE = {
    "name": "DE-X",
    "channel": "DE_X",
    "angle_deg": 45.0,
    "scale_factor_mv_per_um": 7.874,
    "linear_range_um": [250.0, 2280.0],
    "rest_gap_um": 1250.0,
    "fault_v": [-22.0, -0.5],
}
OUTPUTS = [
    {"probe": "DE-X", "measure": "peak_to_peak", "range_um": [0.0, 200.0]},
    {"probe": "DE-X", "measure": "position", "range_um": [250.0, 2250.0]},
]


def limit(level: str, measure: str = "peak_to_peak", **more: object) -> dict[str, object]:
    return {
        "probes": ["DE-X"],
        "measure": measure,
        "level": level,
        "delay_s": 1.0,
        "latching": level == "trip",
        **more,
    }


ALARM, TRIP = limit("alarm", above=95.0), limit("trip", above=125.0)


def thrust_setup(**more: object) -> Setup:
    """Two axial probes, two out of two."""
    names = ["THR-A", "THR-B"]
    probes = [
        PROBE | {"name": name, "channel": name, "kind": "axial", "angle_deg": None}
        for name in names
    ]
    trip = {
        "probes": names,
        "measure": "position",
        "level": "trip",
        "above": 1660.0,
        "below": 860.0,
        "delay_s": 1.0,
        "latching": True,
        "votes": 2,
    }
    return Setup.model_validate({"probe": probes, "limit": [trip | more]})


def setup_with(*limits: dict[str, object], **more: object) -> Setup:
    tables: dict[str, object] = {"probe": [PROBE], "output": OUTPUTS, "limit": list(limits)}
    return Setup.model_validate(tables | more)


@dataclass(frozen=True)
class Doing:
    """One thing that the tester does: what the probe sees from a time on, or a reset."""

    kind: str
    phase: Phase
    reset: bool


def doings(setup: Setup, groups: list[Group] | None = None) -> list[Doing]:
    """Everything that the steps for all limits ask for, in order."""
    if groups is None:
        groups = groups_of(setup, range(len(setup.limit)), None)
    return [
        Doing(draft.kind, phase, draft.reset and place == 0)
        for group in groups
        for draft in drafts_of(setup, group)
        for place, phase in enumerate(draft.phases)
    ]


def captured(
    done: list[Doing],
    monitor: Setup,
    *,
    change: Callable[[Doing], Doing | None] = lambda doing: doing,
) -> ReplayResult:
    """What a capture of this shows when it is replayed through a monitor's settings.

    `change` may do something otherwise, or leave it out (`None`).
    """
    resets: list[float] = []
    at = 0.5
    courses = {probe.name: ([], []) for probe in monitor.probe}
    for doing in done:
        changed = change(doing)
        if changed is None:
            continue
        end = at + changed.phase.length_s
        driven = dict(changed.phase.motions)
        for probe in monitor.probe:
            motion = driven.get(probe.name) or quiet_motion(monitor, probe, vibrating=False)
            gap = OPEN_AT_UM if motion.open_circuit else motion.gap_um
            vibration = 0.0 if motion.open_circuit else motion.peak_to_peak_um
            values = (probe.rest_gap_um or 0.0) - gap, vibration / LARGEST_UM
            for points, value in zip(courses[probe.name], values, strict=True):
                points += [(at + CHANGE_S, value), (end, value)]
        if changed.reset:
            resets.append(at + 0.4)
        at = end
    recipe = Recipe.model_validate(
        {
            "duration_s": at + 0.5,
            "seed": 11,
            "target": [
                {
                    "probes": [name],
                    "position_um": position,
                    "vibration": [
                        {"frequency_hz": VIBRATION_HZ, "um_pp": LARGEST_UM, "over_time": share}
                    ],
                }
                for name, (position, share) in courses.items()
            ],
            "channel": [
                {
                    "probe": probe.name,
                    "sample_rate_hz": 4096.0,
                    "noise_um_rms": 0.05,
                    "volts_limits": [-23.5, -0.2],
                }
                for probe in monitor.probe
            ],
            "setup": monitor,
        }
    )
    capture = simulate(recipe)
    table = revolution_table(capture, monitor, capture.span, orders=(1,))
    return replay(monitor_series(capture, monitor, table), monitor, resets_s=resets)
