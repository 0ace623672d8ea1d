"""Guidance on one limit: what standards and common practice say beside the setting in force.

Paid standards could not be opened: their figures are from memory, stand with edition and that
remark, and are never filled in. The machine's maker and owner decide.
"""

from __future__ import annotations

from typing import Final

from analysis.model.advice import (
    COMMON_PRACTICE,
    COMPUTED,
    FROM_MEMORY,
    SEEN,
    Advice,
    AdviceFinding,
    Source,
)
from analysis.model.replay_results import MonitorSeries
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit

from .baseline import baseline_of
from .guidance_case import Case
from .guidance_reach import clearance_advice, linear_range_advice, zones_and_clearance
from .guidance_settings import (
    circuit_fault_advice,
    delay_advice,
    latching_advice,
    multiplier_advice,
    order_advice,
    votes_advice,
)
from .lengths import length_text
from .zones import zone_boundaries

ALARM_SHARE: Final = 0.25
MOST_OF_BOUNDARY: Final = 1.25
UNSTEADY_SHARE: Final = 0.1
"""A vibration that scatters by more than this share of its mean is no baseline (common practice:
a reading that can be repeated)."""
_LEAST_RPM, _MOST_RPM = 1000.0, 30_000.0
_ALARM_SOURCE: Final = Source(
    "ISO 20816-1 and -3, operational limits: ALARM = baseline + 25 % of the B/C boundary, "
    "normally not above 1.25 × B/C",
    f"{SEEN} for casing vibration (an article on ISO 10816-3), {FROM_MEMORY} for shafts",
)
_TRIP_SOURCE: Final = Source(
    "ISO 20816-1 and -3, operational limits: TRIP inside zone C or D, recommended not above "
    "1.25 × C/D",
    f"{SEEN} for casing vibration (an article on ISO 10816-3), {FROM_MEMORY} for shafts",
)


def alarm_setting(baseline: float, b_c: float) -> float:
    """ALARM from baseline and B/C boundary: `baseline + 0.25 B/C`, at most `1.25 B/C`.

    Any unit, the same for all three. Source: ISO 20816-1/-3, operational limits (see the module).
    """
    return min(baseline + ALARM_SHARE * b_c, MOST_OF_BOUNDARY * b_c)


def trip_bounds(b_c: float, c_d: float) -> tuple[float, float]:
    """Lowest and highest TRIP inside zones C and D: B/C to `1.25 C/D`; source as above."""
    return b_c, MOST_OF_BOUNDARY * c_d


def advice(
    setup: Setup,
    series: MonitorSeries | None,
    limit_index: int,
    *,
    unit: LengthUnit = LengthUnit.UM,
) -> tuple[Advice, ...]:
    """Everything there is to say about one limit, the level first.

    Args:
        setup: the settings to judge, in force or on trial.
        series: the capture's measures, for the baseline; `None`: without a capture.
        limit_index: the limit's place in `setup.limit`.
        unit: the unit that sentences are written in; numbers in the results stay µm.

    Raises:
        IndexError: when there is no such limit.
    """
    limit = setup.limit[limit_index]
    baseline = None if series is None else baseline_of(series, setup.machine.operating_rpm)
    case = Case(setup, limit, limit_index, baseline, series is not None, unit)
    return (
        *_level_advice(case),
        *_normal_advice(case),
        *linear_range_advice(case),
        *clearance_advice(case),
        *order_advice(case),
        delay_advice(case),
        latching_advice(case),
        *votes_advice(case),
        *circuit_fault_advice(case),
        *multiplier_advice(case),
    )


def _level_advice(case: Case) -> tuple[Advice, ...]:
    """ALARM and TRIP by zones; for unfiltered p-p of radial probes alone."""
    limit = case.limit
    if limit.measure != "peak_to_peak" or limit.above is None or not case.all_radial:
        return ()
    title = f"Level of the {limit.level}"
    source = _ALARM_SOURCE if limit.level == "alarm" else _TRIP_SOURCE
    if case.baseline is None:
        return (Advice("level", title, "unknown", case.no_baseline, source),)
    speed = case.baseline.speed_rpm
    _, b_c, c_d = zone_boundaries(speed, case.zones)
    base = (
        f"The zones are those of {case.zones_named} at {speed:.0f} r/min: "
        f"B/C {case.length(b_c, 'p-p')}, C/D {case.length(c_d, 'p-p')}."
    )
    if not _LEAST_RPM <= speed <= _MOST_RPM:
        base += " They are meant for 1000 to 30 000 r/min: this speed lies outside."
    found = (
        _alarm_level(case, b_c, base, title)
        if limit.level == "alarm"
        else _trip_level(case, b_c, c_d, base, title)
    )
    return (found, *zones_and_clearance(case, c_d))


def _alarm_level(case: Case, b_c: float, base: str, title: str) -> Advice:
    limit, baseline = case.limit, case.baseline
    assert baseline is not None
    assert limit.above is not None
    values = {n: baseline.peak_to_peak[n] for n in limit.probes if n in baseline.peak_to_peak}
    if not values:
        missing = f"No probe of this limit could be read in {baseline.where}."
        return Advice("level", title, "unknown", missing, _ALARM_SOURCE)
    name = max(values, key=lambda n: values[n].mean_um)
    normal = values[name].mean_um
    if values[name].scatter_um > UNSTEADY_SHARE * normal:
        least, most = values[name].least_um, values[name].most_um
        unsteady = (
            f"The speed is steady in {baseline.where}, but the vibration of {name} is not: "
            f"{case.length(least)} to {case.length(most, 'p-p')}. No baseline is taken from it. "
            f"{base}"
        )
        return Advice("level", title, "look", unsteady, _ALARM_SOURCE)
    wanted = alarm_setting(normal, b_c)
    held = normal + ALARM_SHARE * b_c > wanted
    sentence = (
        f"Baseline {case.length(normal, 'p-p')} of {name} ({baseline.where}) + 25 % of the B/C "
        f"boundary {case.length(b_c, 'p-p')} makes {case.length(normal + ALARM_SHARE * b_c)}"
        + (f", held to 1.25 × B/C, {case.length(wanted)}." if held else ".")
        + f" The setting is {case.length(limit.above, 'p-p')}, {_apart(case, limit.above, wanted)}."
        f" {base}"
    )
    return Advice(
        "level", title, "suggestion", sentence, _ALARM_SOURCE, (wanted,), "µm p-p", limit.above
    )


def _trip_level(case: Case, b_c: float, c_d: float, base: str, title: str) -> Advice:
    above = case.limit.above
    assert above is not None
    low, high = trip_bounds(b_c, c_d)
    between = f"Zone C begins at {case.length(low, 'p-p')}; 1.25 × C/D is {case.length(high)}."
    setting = f"The setting, {case.length(above, 'p-p')}, lies"
    finding: AdviceFinding = "in_order"
    if above > high:
        finding, what = "against", f"{setting} above that."
    elif above <= low:  # a value on a boundary belongs to the better zone
        finding = "look"
        what = (
            f"{setting} in zone A or B, where long running is held to be acceptable: it trips "
            f"earlier than the zones ask for, as may be meant."
        )
    else:
        what = f"{setting} in zone {'C' if above <= c_d else 'D'}."
    return Advice(
        "level",
        title,
        finding,
        f"{between} {what} {base}",
        _TRIP_SOURCE,
        (low, high),
        "µm p-p",
        above,
    )


def _apart(case: Case, present: float, wanted: float) -> str:
    if abs(present - wanted) < 0.05:
        return "the same"
    side = "above" if present > wanted else "below"
    return f"{length_text(abs(present - wanted), case.unit)} {side} that"


def _normal_advice(case: Case) -> tuple[Advice, ...]:
    """Is the limit on the right side of what is normal in this capture?"""
    limit, baseline = case.limit, case.baseline
    title = "Against what is normal here"
    source = Source("a limit lies beyond what is normal at operating speed", COMMON_PRACTICE)
    if baseline is None:
        return (Advice("normal", title, "unknown", case.no_baseline, source),)
    if limit.above is None and limit.below is None:
        return ()
    values = {n: v for n, v in baseline.of(limit.measure).items() if n in limit.probes}
    if not values:
        text = f"No probe of this limit could be read in {baseline.where}."
        return (Advice("normal", title, "unknown", text, source),)
    met, nearest = [], []
    for name, value in values.items():
        reach = f"{name}: {case.length(value.least_um)} to {case.length(value.most_um)}"
        for word, bound, extreme, sign in (
            ("above", limit.above, value.most_um, 1.0),
            ("below", limit.below, value.least_um, -1.0),
        ):
            if bound is None:
                continue
            room = sign * (bound - extreme)
            if room <= 0:
                met.append(f"{reach}, {word} {case.length(bound)} is met in normal running")
            nearest.append((room, f"{reach}, {case.length(room)} from {word} {case.length(bound)}"))
    where = f" Taken from {baseline.where}."
    if met:
        sentence = f"{limit.level.capitalize()} within normal running: {'; '.join(met)}.{where}"
        return (Advice("normal", title, "against", sentence, source),)
    sentence = f"Nearest is {min(nearest)[1]}.{where}"
    computed = Source(source.text, f"{COMMON_PRACTICE}; {COMPUTED}")
    return (Advice("normal", title, "in_order", sentence, computed),)
