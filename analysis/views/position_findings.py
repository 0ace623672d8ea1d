"""What a reader should know of positions: sentences with their numbers, worst first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from analysis.model.position_results import (
    Clip,
    Finding,
    HiddenPeak,
    PlanePosition,
    ProbePosition,
    RangeUse,
    Severity,
    ThrustPair,
)
from analysis.model.units import LengthUnit
from analysis.protection.lengths import length_text, names_text

CLOSE_SHARE: Final = 0.05
"""A margin below this share of the linear range is worth a word: a choice of this program."""

STRAIGHT_PERCENT: Final = 5.0
"""Effect of the local slope on p-p that is worth a word: the usual tolerance of a scale factor
(API 670, 5th ed., from memory)."""

_RANK: Final[dict[Severity, int]] = {"severe": 0, "warning": 1, "note": 2, "in_order": 3}
_TOPICS: Final = (
    "clipping", "outside", "fault", "hidden", "cut_before_limit", "margin", "forecast", "slope",
    "clearance", "thrust", "loop", "rest",
)  # fmt: skip


def findings_of(
    probes: Mapping[str, ProbePosition],
    planes: Mapping[str, PlanePosition],
    thrust: tuple[ThrustPair, ...],
    unit: LengthUnit = LengthUnit.UM,
) -> tuple[Finding, ...]:
    """Findings of probes, planes and axial pairs, worst first, lengths in the reader's unit."""
    found: list[Finding] = []
    for probe in probes.values():
        found += _of_probe(probe, unit)
    for plane in planes.values():
        found += _of_plane(plane, unit)
    for pair in thrust:
        found += _of_thrust(pair, unit)
    # Among findings of a kind the smallest margin first; the rest keep the setup's order.
    return tuple(
        sorted(
            found,
            key=lambda f: (
                _RANK[f.severity],
                _TOPICS.index(f.topic),
                f.numbers.get("margin_um", 0.0),
            ),
        )
    )


def _of_probe(probe: ProbePosition, unit: LengthUnit) -> list[Finding]:
    use = probe.capture or probe.chosen or probe.moment
    found = [_clipping(probe.name, clip, unit) for clip in probe.clips or probe.moment_clips]
    if use is not None:
        if use.void_turns:
            found.append(_fault(probe.name, use))
        found += _range(probe, use, unit)
    elif any(loop.fault for loop in probe.loops):
        sentence = f"{probe.name}: its circuit is at fault throughout, so nothing is known of it"
        found.append(Finding("severe", "fault", probe.name, sentence, {}))
    hidden = probe.hidden or probe.moment_hidden
    if hidden is not None:
        found.append(_hidden(probe.name, hidden, unit))
    found += _forecast(probe, unit)
    point = probe.working_point
    if point is not None and abs(point.effect_percent) > STRAIGHT_PERCENT:
        less = "less" if point.effect_percent < 0.0 else "more"
        found.append(
            Finding(
                "warning",
                "slope",
                probe.name,
                f"{probe.name}: the curve's slope there is {point.swept_mv_per_um:.3f} mV/µm "
                f"against {point.average_mv_per_um:.3f} mV/µm on average: whoever reads it with "
                f"the average shows {abs(point.effect_percent):.1f} % {less} p-p",
                {
                    "swept_mv_per_um": point.swept_mv_per_um,
                    "average_mv_per_um": point.average_mv_per_um,
                    "effect_percent": point.effect_percent,
                },
            )
        )
    for loop in probe.loops:
        if loop.saturated is not None and loop.current_ma is not None:
            what = "position" if loop.measure == "position" else "p-p"
            found.append(
                Finding(
                    "warning",
                    "loop",
                    probe.name,
                    f"{probe.name}: the {what} loop stands at its {loop.saturated} end, "
                    f"{loop.current_ma:.1f} mA, and shows no more than that",
                    {"current_ma": loop.current_ma},
                )
            )
    return found


def _clipping(name: str, clip: Clip, unit: LengthUnit) -> Finding:
    what = {
        "converter": "the recorder's converter cuts the waveform",
        "fault_limit": "the peaks pass the voltage that counts as a circuit fault",
        "flattened": "the crests are cut level",
    }[clip.cause]
    sentence = (
        f"{name}: {what} at its {clip.end} end, {length_text(clip.level_um, unit)} "
        f"({_volts(clip.level_v)})"
    )
    numbers = {"level_um": clip.level_um, "level_v": clip.level_v, "share": clip.share}
    if clip.turns is not None and clip.first_s is not None and clip.seconds is not None:
        sentence += (
            f", in {clip.turns} turns, first at {clip.first_s:.2f} s, "
            f"{_seconds(clip.seconds)} together"
        )
        numbers |= {"turns": clip.turns, "first_s": clip.first_s, "seconds": clip.seconds}
    if clip.cause == "fault_limit":
        sentence += "; those turns are void and no p-p limit acts in them"
    else:
        sentence += "; p-p reads too low while it lasts, however large the vibration is"
    return Finding("severe", "clipping", name, sentence, numbers)


def _fault(name: str, use: RangeUse) -> Finding:
    turns = use.turns + use.void_turns
    return Finding(
        "warning",
        "fault",
        name,
        f"{name}: a circuit fault or dropped samples in {use.void_turns} of {turns} turns, "
        f"which are left out",
        {"void_turns": use.void_turns, "turns": turns},
    )


def _range(probe: ProbePosition, use: RangeUse, unit: LengthUnit) -> list[Finding]:
    margin, end = use.margin_um, use.nearer_end
    if probe.linear_range_um is None or margin is None or end is None:
        sentence = f"{probe.name}: the setup gives no linear range to hold its gap against"
        return [Finding("note", "margin", probe.name, sentence, {"mean_um": use.mean_um})]
    low, high = probe.linear_range_um
    place = length_text(high if end == "far" else low, unit)
    if margin < 0.0:
        return [_outside(probe.name, use, place, unit), *_setting(probe, use, unit)]
    share = margin / (high - low)
    close = share < CLOSE_SHARE
    found = [
        Finding(
            "warning" if close else "in_order",
            "margin",
            probe.name,
            f"{probe.name}: inside its linear range all the time, "
            f"{'only ' if close else ''}{length_text(margin, unit)} "
            f"({_percent(share)} of it) from the {end} end, {place}",
            {"margin_um": margin, "share": share, "mean_um": use.mean_um},
        )
    ]
    return found + (_setting(probe, use, unit) if close else [])


def _outside(name: str, use: RangeUse, place: str, unit: LengthUnit) -> Finding:
    margin, end = use.margin_um, use.nearer_end
    assert margin is not None
    mean_out = any(s.mean_outside for s in use.stretches)
    times = len(use.stretches)
    sentence = (
        f"{name}: {'the gap itself' if mean_out else 'its peaks'} went past the {end} end of the "
        f"linear range ({place}) by up to {length_text(-margin, unit)}, first at "
        f"{use.stretches[0].span.start_s:.2f} s, in {use.outside_turns} of {use.turns} turns "
        f"({_seconds(use.outside_s)}, {times} stretch{'' if times == 1 else 'es'})"
    )
    numbers = {
        "margin_um": margin,
        "first_s": use.stretches[0].span.start_s,
        "outside_turns": use.outside_turns,
        "turns": use.turns,
        "outside_s": use.outside_s,
        "stretches": times,
        "worst_s": max(use.stretches, key=lambda stretch: stretch.beyond_um).worst_s,
    }
    if use.outside_fraction is not None:
        sentence += f"; {100.0 * use.outside_fraction:.1f} % of all samples lie outside"
        numbers["outside_fraction"] = use.outside_fraction
    return Finding("severe", "outside", name, sentence, numbers)


def _setting(probe: ProbePosition, use: RangeUse, unit: LengthUnit) -> list[Finding]:
    """Where it should sit instead."""
    assert probe.linear_range_um is not None
    low, high = probe.linear_range_um
    share = (use.mean_um - low) / (high - low)
    middle = (low + high) / 2.0 - ((use.max_um - use.mean_um) - (use.mean_um - use.min_um)) / 2.0
    off = use.mean_um - middle
    if abs(off) < CLOSE_SHARE * (high - low):
        return []
    return [
        Finding(
            "warning",
            "margin",
            probe.name,
            f"{probe.name}: it sits at {length_text(use.mean_um, unit)}, {100.0 * share:.0f} % of "
            f"the way through its range; with a gap {length_text(abs(off), unit)} "
            f"{'smaller' if off > 0.0 else 'larger'} both ends would have the same room. A gap is "
            f"set with the machine stopped and locked out",
            {"mean_um": use.mean_um, "place_share": share, "centred_um": middle, "off_um": off},
        )
    ]


def _hidden(name: str, hidden: HiddenPeak, unit: LengthUnit) -> Finding:
    read, there = (
        length_text(round(each, 1), unit, "p-p") for each in (hidden.read_um, hidden.estimated_um)
    )
    spread = length_text(round(hidden.deviation_um, 1), unit)
    numbers = {
        "read_um": hidden.read_um,
        "estimated_um": hidden.estimated_um,
        "deviation_um": hidden.deviation_um,
        "lost_um": hidden.lost_um,
        "at_s": hidden.span.start_s,
    }
    at = f"around {hidden.span.start_s:.2f} s"
    if hidden.is_clear:
        sentence = (
            f"{name}: {at} {read} was read where the part of the waveform that can be trusted "
            f"speaks for {there} (± {spread}): the rest was lost"
        )
        return Finding("severe", "hidden", name, sentence, numbers)
    sentence = (
        f"{name}: p-p {at} is not sure: {read} was read, the part of the waveform that can be "
        f"trusted speaks for {there} (± {spread}), too wide to say how much is missing"
    )
    return Finding("warning", "hidden", name, sentence, numbers)


def _forecast(probe: ProbePosition, unit: LengthUnit) -> list[Finding]:
    ahead, use = probe.forecast, probe.moment
    if ahead is None or use is None or probe.linear_range_um is None:
        return []
    low, high = probe.linear_range_um
    least = min(ahead.rise_um, ahead.fall_um)
    numbers = {"rise_um": ahead.rise_um, "fall_um": ahead.fall_um}
    if least >= 0.0:
        sentence = (
            f"{probe.name}: at this vibration the gap may rise by "
            f"{length_text(ahead.rise_um, unit)} before the far end cuts the waveform, and fall by "
            f"{length_text(ahead.fall_um, unit)} before the near end does"
        )
    else:
        way = "fall" if ahead.rise_um < ahead.fall_um else "rise"
        sentence = (
            f"{probe.name}: at this vibration the gap must {way} by {length_text(-least, unit)} "
            f"for the whole waveform to lie in the linear range"
        )
    close = least < CLOSE_SHARE * (high - low)
    found = [Finding("warning" if close else "note", "forecast", probe.name, sentence, numbers)]
    if ahead.beyond_cut:
        levels = [f"{level.upper()} at {length_text(um, unit)}" for level, um in ahead.beyond_cut]
        cut = ahead.cut_peak_to_peak_um
        meets = (
            f"the waveform meets the {ahead.cut_end} end at {length_text(round(cut, 1), unit)} p-p"
            if cut is not None
            else "the mean gap is outside the linear range"
        )
        numbers = {f"{level}_um": um for level, um in ahead.beyond_cut}
        if cut is not None:
            numbers["cut_peak_to_peak_um"] = cut
        lies = "lies" if len(levels) == 1 else "lie"
        sentence = (
            f"{probe.name}: at this gap {meets}; {names_text(levels)} {lies} beyond what the "
            f"probe is promised to show"
        )
        found.append(Finding("warning", "cut_before_limit", probe.name, sentence, numbers))
    return found


def _of_plane(plane: PlanePosition, unit: LengthUnit) -> list[Finding]:
    name = plane.name
    if plane.path is None or plane.rest is None:
        return [Finding("note", "rest", name, f"{name}: no centreline: {plane.missing}", {})]
    found = []
    if plane.outside_turns:
        turns = len(plane.path.time_s)
        found.append(
            Finding(
                "warning",
                "clearance",
                name,
                f"{name}: in {plane.outside_turns} of {turns} turns the shaft would lie outside "
                f"its clearance: rest gaps, clearance or a probe's straight line are not right",
                {"outside_turns": plane.outside_turns, "turns": turns},
            )
        )
    if plane.rest.assumed and plane.rest.speed_rpm is not None:
        found.append(
            Finding(
                "note",
                "rest",
                name,
                f"{name}: the rest position is assumed: the setup gives no rest gaps, those at "
                f"{plane.rest.speed_rpm:.0f} r/min stand for them",
                {"speed_rpm": plane.rest.speed_rpm},
            )
        )
    if plane.clearance_um is None:
        sentence = f"{name}: no clearance in the setup, so positions count from rest"
        found.append(Finding("note", "rest", name, sentence, {}))
    elif plane.direction_assumed:
        sentence = f"{name}: the shaft is taken to rest at the {plane.rest_towards} of its bearing"
        found.append(Finding("note", "rest", name, sentence, {}))
    return found


def _of_thrust(pair: ThrustPair, unit: LengthUnit) -> list[Finding]:
    name = f"{pair.probes[0]} / {pair.probes[1]}"
    if pair.difference_um is None or pair.difference_at_s is None or pair.travel_um is None:
        return []
    apart = length_text(round(abs(pair.difference_um), 1), unit)
    allowed = length_text(pair.tolerance_um, unit)
    travel = pair.travel_um[1] - pair.travel_um[0]
    numbers = {
        "difference_um": pair.difference_um,
        "difference_at_s": pair.difference_at_s,
        "travel_um": travel,
    }
    if pair.agree:
        sentence = (
            f"{name}: both agree within {apart} ({allowed} allowed); the collar went "
            f"{length_text(round(travel, 1), unit)}, the float that this capture shows"
        )
        return [Finding("in_order", "thrust", name, sentence, numbers)]
    sentence = (
        f"{name}: they differ by {apart} at {pair.difference_at_s:.2f} s, {allowed} is allowed: "
        f"one of them, its rest gap or its mounting is not right"
    )
    return [Finding("warning", "thrust", name, sentence, numbers)]


def _seconds(value: float) -> str:
    return f"{value:.2f} s" if value < 1.0 else f"{value:.1f} s"


def _percent(share: float) -> str:
    return f"{100.0 * share:.{1 if share < 0.1 else 0}f} %"


def _volts(value: float) -> str:
    return f"{value:.2f} V".replace("-", "−")
