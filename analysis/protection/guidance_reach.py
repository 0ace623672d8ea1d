"""Can the limit be reached at all: within the probe's straight line, within the bearing?"""

from __future__ import annotations

from analysis.model.advice import COMMON_PRACTICE, FROM_MEMORY, Advice, Source
from analysis.model.setup import Plane, Probe

from .guidance_case import Case

_RANGE = Source("a limit must be readable within the probe's linear range", COMMON_PRACTICE)
_CLEARANCE = Source(
    "the shaft moves within the diametral clearance of its bearing", COMMON_PRACTICE
)
_CLEARANCE_ZONES = Source(
    "ISO 7919-3:2009 and ISO 20816-3:2022, annex on clearance: A/B, B/C, C/D at 0.4, 0.6 and 0.7 "
    "of the clearance where C/D comes near it",
    f"{FROM_MEMORY} (doubtful)",
)
_CLEARANCE_SHARE = 0.7


def linear_range_advice(case: Case) -> tuple[Advice, ...]:
    """A limit that a probe cannot reach within its linear range, around the gap it works at."""
    title = "Within the linear range"
    if case.highest_level is None and (
        case.limit.measure != "position" or case.limit.below is None
    ):
        return ()
    unknown: list[str] = []
    against: list[tuple[float, str]] = []
    room: list[tuple[float, str]] = []
    for probe in case.probes:
        if probe.linear_range_um is None:
            unknown.append(f"the setup gives no linear range of {probe.name}")
            continue
        found = (
            _position_reach(case, probe)
            if case.limit.measure == "position"
            else _vibration_reach(case, probe)
        )
        if found is None:
            unknown.append(
                f"the gap that {probe.name} works at is not known (no baseline, no rest_gap_um)"
            )
            continue
        margin, sentence = found
        (against if margin < 0 else room).append((margin, sentence))
    out = []
    if against:
        text = " ".join(sentence for _, sentence in against)
        out.append(Advice("linear_range", title, "against", text, _RANGE))
    elif room:
        out.append(Advice("linear_range", title, "in_order", min(room)[1], _RANGE))
    if unknown:
        text = "Cannot be judged: " + "; ".join(unknown) + "."
        out.append(Advice("linear_range", title, "unknown", text, _RANGE))
    return tuple(out)


def _vibration_reach(case: Case, probe: Probe) -> tuple[float, str] | None:
    """Room of a p-p level, µm p-p (negative: it cannot be read), and what to say."""
    level, gap = case.highest_level, case.normal_gap(probe)
    assert probe.linear_range_um is not None
    if gap is None or level is None:
        return None
    low, high = probe.linear_range_um
    most = 2.0 * min(gap[0] - low, high - gap[0])
    where = f"Around {case.length(gap[0])} ({gap[1]})"
    if most <= 0:
        return -level, f"At {case.length(gap[0])} ({gap[1]}), {probe.name} is outside its range."
    can = f"{where}, {probe.name} can read {case.length(most, 'p-p')} within its linear range"
    if level > most:
        text = f"{can}: the waveform is bent or cut before {case.length(level, 'p-p')} is read."
    else:
        text = f"{can}; the limit asks for {case.length(level, 'p-p')}."
    return most - level, text


def _position_reach(case: Case, probe: Probe) -> tuple[float, str] | None:
    assert probe.linear_range_um is not None
    low, high = probe.linear_range_um
    ends = f"{case.length(low)} to {case.length(high)}"
    half = 0.0
    beside = ""
    if case.baseline is not None and probe.name in case.baseline.peak_to_peak:
        half = case.baseline.peak_to_peak[probe.name].mean_um / 2.0
        beside = f" with the normal vibration of {case.length(2.0 * half, 'p-p')} beside it"
    worst: tuple[float, str] | None = None
    for word, value in (("above", case.limit.above), ("below", case.limit.below)):
        if value is None:
            continue
        margin = min(value - half - low, high - value - half)
        setting = f"{word} {case.length(value)}"
        if margin < 0:
            text = (
                f"{setting.capitalize()} of {probe.name}{beside} reaches outside its linear "
                f"range, {ends}: the reading cannot be trusted there."
            )
        else:
            text = (
                f"{setting.capitalize()} of {probe.name}{beside} stays {case.length(margin)} "
                f"inside its linear range, {ends}."
            )
        if worst is None or margin < worst[0]:
            worst = margin, text
    return worst


def zones_and_clearance(case: Case, c_d: float) -> tuple[Advice, ...]:
    """A caution where the zones come near the bearing's clearance."""
    small = [
        plane
        for plane in _planes(case)
        if plane.clearance_um is not None and c_d > _CLEARANCE_SHARE * plane.clearance_um
    ]
    if not small:
        return ()
    plane = min(small, key=lambda each: each.clearance_um or 0.0)
    assert plane.clearance_um is not None
    text = (
        f"The C/D boundary, {case.length(c_d, 'p-p')}, comes near the bearing clearance of "
        f"{plane.name}, {case.length(plane.clearance_um)}: the clearance decides then. 0.4, 0.6 "
        f"and 0.7 of it are {case.length(0.4 * plane.clearance_um)}, "
        f"{case.length(0.6 * plane.clearance_um)} and {case.length(0.7 * plane.clearance_um)}."
    )
    title = "Zones and clearance"
    return (Advice("clearance", title, "look", text, _CLEARANCE_ZONES),)


def clearance_advice(case: Case) -> tuple[Advice, ...]:
    """A limit outside what the shaft can do inside its bearing."""
    if case.limit.above is None and case.limit.below is None:
        return ()
    planes = [plane for plane in _planes(case) if plane.clearance_um is not None]
    title = "Within the bearing clearance"
    if not planes:
        if not case.all_radial:
            return ()
        text = "Cannot be judged: the setup gives no clearance_um of these probes' plane."
        return (Advice("clearance", title, "unknown", text, _CLEARANCE),)
    if case.limit.measure == "position":
        return _position_clearance(case, planes, title)
    level = case.highest_level
    if level is None:
        return ()
    plane = min(planes, key=lambda each: each.clearance_um or 0.0)
    assert plane.clearance_um is not None
    clearance = case.length(plane.clearance_um)
    share = 100.0 * level / plane.clearance_um
    if level >= plane.clearance_um:
        text = (
            f"{case.length(level, 'p-p')} is more than the diametral clearance of {plane.name}, "
            f"{clearance}: the shaft touches its bearing before the {case.limit.level} can come."
        )
        return (Advice("clearance", title, "against", text, _CLEARANCE),)
    text = (
        f"{case.length(level, 'p-p')} is {share:.0f} % of the diametral clearance of "
        f"{plane.name}, {clearance}."
    )
    return (Advice("clearance", title, "in_order", text, _CLEARANCE),)


def _position_clearance(case: Case, planes: list[Plane], title: str) -> tuple[Advice, ...]:
    outside, inside = [], []
    for plane in planes:
        for probe in case.probes:
            reach = _gap_within_clearance(plane, probe)
            if probe.name not in plane.probes or reach is None:
                continue
            ends = f"{case.length(reach[0])} to {case.length(reach[1])}"
            for word, value in (("above", case.limit.above), ("below", case.limit.below)):
                if value is None:
                    continue
                setting = f"{word} {case.length(value)} of {probe.name}"
                if reach[0] <= value <= reach[1]:
                    inside.append(f"{setting} (clearance {ends})")
                else:
                    outside.append(f"{setting} (clearance {ends})")
    if outside:
        text = (
            f"Outside what the gap can be while the shaft stays in its bearing clearance: "
            f"{'; '.join(outside)}. It comes only once the bearing has worn so far, or the reading "
            f"is wrong."
        )
        return (Advice("clearance", title, "against", text, _CLEARANCE),)
    if inside:
        text = f"Within what the shaft can do in its bearing: {'; '.join(inside)}."
        return (Advice("clearance", title, "in_order", text, _CLEARANCE),)
    text = "Cannot be judged: rest_gap_um or angle_deg is missing in the setup."
    return (Advice("clearance", title, "unknown", text, _CLEARANCE),)


_REST = {
    "bottom": (0.0, -1.0),
    "top": (0.0, 1.0),
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
    "centre": (0.0, 0.0),
}


def _gap_within_clearance(plane: Plane, probe: Probe) -> tuple[float, float] | None:
    """Smallest and largest gap while the shaft's centre is in its clearance circle, µm."""
    if plane.clearance_um is None or probe.rest_gap_um is None or probe.angle_deg is None:
        return None
    radius = plane.clearance_um / 2.0
    rest = _REST[plane.rest]
    towards = sum(a * b for a, b in zip(probe.direction, rest, strict=True)) * radius
    middle = probe.rest_gap_um + towards  # the gap with the shaft in the bearing's centre
    return middle - radius, middle + radius


def _planes(case: Case) -> list[Plane]:
    return [plane for plane in case.setup.plane if set(plane.probes) & set(case.limit.probes)]
