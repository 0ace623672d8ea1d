"""Faults between the tables of a setup, and between a setup and a capture.

An error is what surely cannot be meant; what may be meant but seldom is, is a warning:

- errors: names that point nowhere or stand twice; a pair of probes closer than 15° to parallel; a
  probe of a plane that is axial or has no angle; a level that can only come after the next one;
- warnings: limits, known points and rest gaps outside the linear range; a linear range that the
  circuit-fault limits cut; scale factors that look like the other unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.model.capture import Capture
from analysis.model.errors import SetupIssue
from analysis.model.setup import Limit, Output, PhaseReference, Plane, Probe, Relay, Setup

from .setup_limit_checks import check_limits
from .setup_lines import KeyPath
from .setup_tables import SetupTables
from .wording import unknown_name

CLOSEST_TO_PARALLEL_DEG = 15.0
"""A pair closer than this to parallel is an error (contract, section 1)."""

# Common practice: 7.87 mV/µm (200 mV/mil) for most probes, about 4 to 8 for wide ranges. Between
# these bounds nothing is said; far outside, the number is likely to be in the other unit.
_USUAL_MV_PER_UM = (1.0, 60.0)
_USUAL_MV_PER_MIL = (25.0, 1500.0)


def check_between_tables(tables: SetupTables) -> None:
    """Add to `tables.issues` what is wrong between tables that are each valid."""
    names = _check_duplicates(tables, "probe")
    _check_duplicates(tables, "plane")
    _check_duplicates(tables, "relay")
    probes: dict[str, Probe] = {}
    for path, model in tables.models.items():
        if isinstance(model, Probe):
            probes.setdefault(model.name, model)
            _check_probe(tables, path, model)
    _check_names(tables, names)
    for path, model in tables.models.items():
        if isinstance(model, Plane):
            _check_plane(tables, path, model, probes)
    _check_outputs(tables)
    _check_relays(tables)
    _check_channels(tables)
    check_limits(tables, probes)
    if not names and not any(issue.severity == "error" for issue in tables.issues):
        tables.tell("warning", ("probe",), "there is no [[probe]] table, so there are no readings")


def check_against_capture(setup: Setup, capture: Capture) -> tuple[SetupIssue, ...]:
    """What of a valid setup does not fit a capture: channels that it does not have.

    A missing channel is an error of the pair, not of either file; a reader may go on with the
    probes that remain.
    """
    known = [*capture.channels]
    issues = []
    for probe in setup.probe:
        if probe.channel not in capture.channels:
            words = unknown_name(probe.channel, "channel", known)
            issues.append(SetupIssue("error", f"probe {probe.name}, channel", words))
    reference = setup.phase_reference
    if reference is not None and reference.channel not in capture.channels:
        words = unknown_name(reference.channel, "channel", known)
        issues.append(SetupIssue("error", "phase_reference, channel", words))
    return tuple(issues)


def angle_between_deg(angle1_deg: float, angle2_deg: float) -> float:
    """How far two probe directions are from parallel, 0 to 90 degrees."""
    difference = abs(angle1_deg - angle2_deg) % 180.0
    return min(difference, 180.0 - difference)


def _check_duplicates(tables: SetupTables, table: str) -> list[str]:
    """The names in a table, also of entries that are faulty otherwise; duplicates are told."""
    names: list[str] = []
    for path, entry in tables.entries(table):
        name = entry.get("name")
        if not isinstance(name, str) or not name:
            continue
        if name in names:
            tables.tell("error", (*path, "name"), "this name stands twice: every one needs its own")
        else:
            names.append(name)
    return names


def _check_names(tables: SetupTables, names: Sequence[str]) -> None:
    """Every probe that is named anywhere must be there."""
    for path, name in _probe_references(tables):
        if name not in names:
            tables.tell("error", path, unknown_name(name, "probe", names))


def _probe_references(tables: SetupTables) -> Iterator[tuple[KeyPath, str]]:
    for table in ("plane", "limit", "relay"):
        for path, entry in tables.entries(table):
            value = entry.get("probes")
            for index, name in enumerate(value if isinstance(value, list) else ()):
                if isinstance(name, str):
                    yield (*path, "probes", index), name
    for path, entry in tables.entries("output"):
        name = entry.get("probe")
        if isinstance(name, str):
            yield (*path, "probe"), name


def _check_probe(tables: SetupTables, path: KeyPath, probe: Probe) -> None:
    _check_scale_factor(tables, path, probe)
    if probe.linear_range_um is None:
        return
    low, high = probe.linear_range_um
    for key, gap in (
        ("rest_gap_um", probe.rest_gap_um),
        ("point", probe.point.gap_um if "point" in probe.model_fields_set else None),
    ):
        if gap is not None and not low <= gap <= high:
            tables.tell(
                "warning",
                (*path, key),
                f"{gap:g} µm lies outside the linear range of {low:g} to {high:g} µm; check both",
            )
    _check_fault_limits(tables, path, probe, low, high)


def _check_scale_factor(tables: SetupTables, path: KeyPath, probe: Probe) -> None:
    per_um, per_mil = probe.scale_factor_mv_per_um, probe.scale_factor_mv_per_mil
    if per_um is not None and not _USUAL_MV_PER_UM[0] <= per_um <= _USUAL_MV_PER_UM[1]:
        words = f"{per_um:g} mV/µm is far from the usual 7.874"
        if per_um > _USUAL_MV_PER_UM[1]:
            words += f"; if it is mV/mil, write scale_factor_mv_per_mil = {per_um:g}"
        else:
            words += "; check the unit"
        tables.tell("warning", (*path, "scale_factor_mv_per_um"), words)
    if per_mil is not None and not _USUAL_MV_PER_MIL[0] <= per_mil <= _USUAL_MV_PER_MIL[1]:
        words = f"{per_mil:g} mV/mil is far from the usual 200"
        if per_mil < _USUAL_MV_PER_MIL[0]:
            words += f"; if it is mV/µm, write scale_factor_mv_per_um = {per_mil:g}"
        else:
            words += "; check the unit"
        tables.tell("warning", (*path, "scale_factor_mv_per_mil"), words)


def _check_fault_limits(
    tables: SetupTables, path: KeyPath, probe: Probe, low: float, high: float
) -> None:
    """A gap inside the linear range must not read as a circuit fault."""
    if probe.fault_v is None or probe.calibration is not None:
        return
    for gap in (low, high):
        volts = probe.point.volts - (gap - probe.point.gap_um) * probe.scale_factor_v_per_um
        if not probe.fault_v[0] <= volts <= probe.fault_v[1]:
            tables.tell(
                "warning",
                (*path, "fault_v"),
                f"the end of the linear range at {gap:g} µm gives {volts:.2f} V, which reads as "
                f"a circuit fault; widen fault_v or check the linear range",
            )


def _check_plane(
    tables: SetupTables, path: KeyPath, plane: Plane, probes: dict[str, Probe]
) -> None:
    where = (*path, "probes")
    first, second = plane.probes
    if first == second:
        tables.tell("error", where, f"'{first}' stands twice: a plane needs two different probes")
        return
    pair = [probes[name] for name in plane.probes if name in probes]
    for probe in pair:
        if probe.kind == "axial":
            tables.tell("error", where, f"'{probe.name}' is axial: a plane needs radial probes")
        elif probe.angle_deg is None:
            tables.tell(
                "error", where, f"'{probe.name}' has no angle: write its angle_deg, such as 45.0"
            )
    angles = [p.angle_deg for p in pair if p.angle_deg is not None and p.kind == "radial"]
    if len(angles) == 2:
        apart = angle_between_deg(*angles)
        if apart < CLOSEST_TO_PARALLEL_DEG:
            tables.tell(
                "error",
                where,
                f"the probes are {apart:g}° from parallel, at least {CLOSEST_TO_PARALLEL_DEG:g}° "
                f"are needed: check angle_deg of both",
            )


def _check_outputs(tables: SetupTables) -> None:
    seen: set[tuple[str, str]] = set()
    for path, model in tables.models.items():
        if isinstance(model, Output):
            key = (model.probe, model.measure)
            if key in seen:
                tables.tell(
                    "error", path, f"{model.probe} has two outputs of {model.measure}: keep one"
                )
            seen.add(key)


def _check_relays(tables: SetupTables) -> None:
    """A relay that nothing can drive is seldom meant."""
    limits = [model for model in tables.models.values() if isinstance(model, Limit)]
    for path, relay in tables.models.items():
        if not isinstance(relay, Relay):
            continue
        wanted = relay.probes
        if wanted is not None and len(set(wanted)) != len(wanted):
            tables.tell("error", (*path, "probes"), "a probe stands twice: name each once")
        if relay.driven_by != "fault" and not any(
            limit.level == relay.driven_by
            and (wanted is None or any(name in wanted for name in limit.probes))
            for limit in limits
        ):
            tables.tell(
                "warning", path, f"no {relay.driven_by} limit drives it: check driven_by and probes"
            )


def _check_channels(tables: SetupTables) -> None:
    """Two probes on one channel, or a probe on the phase reference, are seldom meant."""
    users: dict[str, str] = {}
    for path, model in tables.models.items():
        if isinstance(model, PhaseReference):
            name = "the phase reference"
        elif isinstance(model, Probe):
            name = f"probe {model.name}"
        else:
            continue
        if model.channel in users and users[model.channel] != name:
            tables.tell(
                "warning",
                (*path, "channel"),
                f"channel '{model.channel}' is also that of {users[model.channel]}; check both",
            )
        users.setdefault(model.channel, name)
