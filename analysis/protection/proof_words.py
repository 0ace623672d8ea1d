"""The words of a proof test: what to do in each step, and what to read where."""

from __future__ import annotations

from typing import Final

from analysis.model.proof import Applied, ExpectedReading, StepKind
from analysis.model.replay_results import LimitState
from analysis.model.setup import Limit, Setup
from analysis.model.units import LengthUnit

from .contacts import relays_assumed
from .current_output import current_ma, voltage_across
from .event_words import MEASURE_WORDS, region_text
from .lengths import length_text, names_text
from .proof_plan import Group, Outlook, burst_s, hold_s
from .proof_values import applied_of

SET_TOLERANCE_S: Final = 0.35
"""How far a delay may be off: measures are taken every 0.1 s, and a step takes a moment."""
LOOP_TOLERANCE_MA: Final = 0.16
"""1 % of 16 mA, an editable default: API 670 on channel accuracy, from memory."""

STATE_WORDS: Final[dict[LimitState, str]] = {
    "normal": "clear",
    "waiting": "clear",
    "set": "set",
    "held": "held by the latch",
    "void": "void",
}
STATE_CHOICES: Final = ("clear", "set", "held by the latch")
CLOSED: Final = "closed (near 0 Ω)"
OPEN: Final = "open (no continuity)"

PROOF_CAUTIONS: Final = (
    "Only with the authority of the machine's owner, and with the permits that hold on site. "
    "Limits and settings belong to the owner; local codes and licensed practice come first.",
    "These steps bypass nothing by themselves: a step that sets a trip stops a running machine "
    "unless the owner has had the trip bypassed. A bypass needs authorisation, a time limit, "
    "something else that watches the machine meanwhile, a record, and a check that it has been "
    "taken off (IEC 61511-1, clauses on bypasses, from memory: confirm against your copy).",
    "Hands, tools and calibrators off turning shafts; guards stay on. Isolate and lock out before "
    "anything is done at a probe (OSHA 29 CFR 1910.147, from memory; local codes decide).",
    "In hazardous areas: a permit and gas-free test before mains test gear is brought in; barriers "
    "and isolators stay in circuit (IEC 60079-14 and -17, from memory: confirm against your copy).",
    "Runtrue writes the steps and reads captures: it drives nothing and cannot see the relays.",
)


def limit_text(setup: Setup, index: int, unit: LengthUnit) -> str:
    """A limit in words: `trip of DE-X: p-p above 125 µm for 1 s, latching`."""
    limit = setup.limit[index]
    bounds = [
        f"{word} {length_text(value, unit)}"
        for word, value in (("above", limit.above), ("below", limit.below))
        if value is not None
    ]
    if limit.region is not None:
        bounds = [f"outside {region_text(limit.region)}"]
    parts = [f"{MEASURE_WORDS[limit.measure]} {' or '.join(bounds)} for {limit.delay_s:g} s"]
    parts.append("latching" if limit.latching else "not latching")
    if limit.votes > 1:
        parts.append(f"{limit.votes} of {len(limit.probes)} must agree")
    if limit.hysteresis_um > 0:
        parts.append(f"hysteresis {length_text(limit.hysteresis_um, unit)}")
    return f"{limit.level} of {names_text(limit.probes)}: {', '.join(parts)}"


def prepare_text(setup: Setup, indices: tuple[int, ...], unit: LengthUnit) -> str:
    """What comes before the first step."""
    settings = "; ".join(f"limit {i + 1}, {limit_text(setup, i, unit)}" for i in indices)
    text = (
        "See that authority, permits and time limit stand, and what stops when a trip sets. "
        "Write down serial numbers and calibration dates of what is used. Compare the settings in "
        f"the monitor with these: {settings}."
    )
    if relays_assumed(setup):
        text += (
            " The setup names no relays: contacts that close while something acts are assumed "
            "(common practice); the owner's drawings decide."
        )
    if any(setup.limit[i].multiplier is not None for i in indices):
        text += " Multipliers are tried as not in force: see that none acts while you test."
    if any(setup.limit[i].measure in ("1x", "1x_vector") for i in indices):
        text += " 1X needs a phase reference that runs with the vibration applied."
    return text


FINISH_TEXT: Final = (
    "Connect every probe as it was, set the gap and read its volts. Reset. See that nothing is set "
    "or held, that no bypass and no multiplier is left on, and that somebody other than the tester "
    "has seen it. Write down as found and as left, and sign."
)


TITLES: Final[dict[StepKind, str]] = {
    "prepare": "before anything",
    "start": "before",
    "near": "just inside",
    "one_short": "one vote short",
    "burst": "shorter than the delay",
    "beyond": "beyond for the delay",
    "fault_vote": "a circuit fault votes",
    "reset_present": "reset while present",
    "back": "back inside",
    "reset": "reset after",
    "fault": "cable open",
    "restore": "cable closed again",
    "finish": "put everything back",
}


def subject_text(setup: Setup, group: Group, unit: LengthUnit) -> str:
    """What a group tries: `DE-X: p-p trip above 125 µm`."""
    who = names_text(group.probes)
    if group.index is None:
        return f"{who}: circuit fault"
    limit = setup.limit[group.index]
    if limit.region is not None:
        return f"{who}: 1X {limit.level} outside its region"
    value = limit.above if group.side == "above" else limit.below
    level = "" if value is None else length_text(value, unit)
    return f"{who}: {MEASURE_WORDS[limit.measure]} {limit.level} {group.side} {level}"


def do_text(
    setup: Setup, group: Group, outlook: Outlook, applied: tuple[Applied, ...], unit: LengthUnit
) -> str:
    """What to do in a step."""
    return _what_to_do(setup, group, outlook, applied, unit) + _range_text(setup, applied, unit)


def _what_to_do(
    setup: Setup, group: Group, outlook: Outlook, applied: tuple[Applied, ...], unit: LengthUnit
) -> str:
    draft, hold = outlook.draft, hold_s(setup, group.probes)
    limit = None if group.index is None else setup.limit[group.index]
    values = "; ".join(_applied_text(each, limit, unit) for each in applied)
    kept = f"Keep it for at least {hold:g} s."
    if draft.kind == "burst":
        assert limit is not None
        beyond = tuple(
            applied_of(setup.probe_named(name), motion) for name, motion in draft.phases[0].motions
        )
        above = "; ".join(_applied_text(each, limit, unit) for each in beyond)
        return (
            f"For about {burst_s(limit):g} s, less than the delay of {limit.delay_s:g} s: {above}. "
            f"Then at once back to: {values}. {kept}"
        )
    if draft.kind == "one_short":
        fewer = tuple(
            applied_of(setup.probe_named(name), motion) for name, motion in draft.phases[0].motions
        )
        text = "; ".join(_applied_text(each, limit, unit) for each in fewer)
        return f"One vote is missing: {text}. {kept} Then back to: {values}."
    if draft.kind == "reset_present":
        return "Leave everything as it is and press reset."
    if draft.kind == "reset":
        return f"Leave it at: {values}. Press reset."
    if draft.kind == "fault":
        return f"Open the cable of {group.probes[0]} at the driver. {kept}"
    if draft.kind == "restore":
        return f"Close the cable again: {values}. {kept}"
    first = "Reset first. " if draft.reset else ""
    return f"{first}Apply {values}. {kept}"


def _range_text(setup: Setup, applied: tuple[Applied, ...], unit: LengthUnit) -> str:
    """A warning where what is applied leaves a probe's linear range."""
    texts = []
    for each in applied:
        linear = setup.probe_named(each.probe).linear_range_um
        if linear is None or each.open_circuit:
            continue
        half = each.peak_to_peak_um / 2.0
        if each.gap_um - half < linear[0] or each.gap_um + half > linear[1]:
            ends = f"{length_text(linear[0], unit)} to {length_text(linear[1], unit)}"
            texts.append(
                f" This leaves the linear range of {each.probe}, {ends}: what is read may fall "
                f"short, and the limit may not be reached."
            )
    return "".join(texts)


def expected_readings(
    setup: Setup, group: Group, outlook: Outlook, applied: tuple[Applied, ...]
) -> tuple[ExpectedReading, ...]:
    """What to read at the end of a step: limit, relays, loops."""
    readings: list[ExpectedReading] = []
    draft = outlook.draft
    if group.index is not None:
        limit = setup.limit[group.index]
        readings.append(_state_reading(group.index, limit, outlook.state))
        if draft.after_s is not None and draft.event in ("set", "cleared"):
            what = "sets after" if draft.event == "set" else "clears after"
            tolerance = SET_TOLERANCE_S
            text = f"{what} {draft.after_s:.1f} s ± {tolerance:g} s"
            where = f"limit {group.index + 1}, time"
            readings.append(ExpectedReading(where, text, draft.after_s, "s", tolerance))
    if draft.kind in ("fault", "restore"):
        found = "indicated" if draft.kind == "fault" else "not indicated"
        where = f"circuit fault of {group.probes[0]}"
        readings.append(ExpectedReading(where, found, choices=("indicated", "not indicated")))
        if any(each.measure == "peak_to_peak" for each in setup.limits_of(group.probes[0])):
            acting = ("none acts", "one acts")
            readings.append(ExpectedReading("p-p limits", acting[0], choices=acting))
    for name, before, after in outlook.relays:
        text = CLOSED if after else OPEN
        change = "unchanged" if before == after else f"was {'closed' if before else 'open'}"
        where = f"relay {name}, contact ({change})"
        readings.append(ExpectedReading(where, text, choices=(CLOSED, OPEN)))
    for each in applied:
        readings += _loop_readings(setup, group, each)
    return tuple(readings)


def _state_reading(index: int, limit: Limit, state: LimitState) -> ExpectedReading:
    where = f"limit {index + 1}, {limit.level}"
    return ExpectedReading(where, STATE_WORDS[state], choices=STATE_CHOICES)


def _loop_readings(setup: Setup, group: Group, applied: Applied) -> list[ExpectedReading]:
    with_phase = group.index is not None and setup.limit[group.index].measure in ("1x", "1x_vector")
    readings = []
    for output in setup.output:
        if output.probe != applied.probe or (output.measure == "1x" and not with_phase):
            continue
        value = applied.gap_um if output.measure == "position" else applied.peak_to_peak_um
        low, high = output.range_um
        current = current_ma(value, low, high, fault=applied.open_circuit)
        where = f"loop {output.probe} {MEASURE_WORDS[output.measure]}"
        text = f"{current:.2f} mA, {voltage_across(current):.3f} V across 250 Ω"
        readings.append(ExpectedReading(where, text, current, "mA", LOOP_TOLERANCE_MA))
    return readings


def _applied_text(applied: Applied, limit: Limit | None, unit: LengthUnit) -> str:
    if applied.open_circuit:
        return f"{applied.probe} with its cable open at the driver"
    volts = f"{applied.gap_v:.2f}".replace("-", "−")
    gap = f"gap {length_text(applied.gap_um, unit)} ({volts} V d.c.)"
    if limit is None or (limit.measure == "position" and applied.peak_to_peak_um == 0.0):
        return f"{applied.probe} {gap}"
    vibration = (
        f"{length_text(applied.peak_to_peak_um, unit, 'p-p')} "
        f"({applied.peak_to_peak_mv:.0f} mV p-p)"
    )
    lag = "" if applied.lag_deg is None else f" at {applied.lag_deg:.0f}° lag"
    return f"{applied.probe} {vibration}{lag} at {gap}"
