"""Delay, latching, order, votes, circuit faults and multiplier of a limit."""

from __future__ import annotations

from typing import Final

from analysis.model.advice import COMMON_PRACTICE, FROM_MEMORY, Advice, AdviceFinding, Source
from analysis.model.setup import Limit

from .guidance_case import Case
from .lengths import names_text

CUSTOMARY_DELAY_S: Final = (1.0, 3.0)
_API = "API 670, 5th edition (2014)"
_DELAY = Source(
    f"{_API}: a violation lasts 1 to 3 s, 1 s as standard", f"{FROM_MEMORY} (fairly sure)"
)
_LATCHING = Source(f"{_API}: alarm and shutdown latch until they are reset", FROM_MEMORY)
_ORDER = Source("an alarm comes before its trip", COMMON_PRACTICE)
_AXIAL = Source(
    f"{_API}: axial (thrust) position trips by two out of two, a circuit fault counting as one",
    f"{FROM_MEMORY} (fairly sure)",
)
_FAULT = Source(
    f"{_API}: a circuit fault has its own output and must not trip a single radial channel",
    FROM_MEMORY,
)
_MULTIPLIER = Source(
    f"{_API}: a set-point multiplier of 2 or 3 only where specified, and visibly indicated",
    FROM_MEMORY,
)


def delay_advice(case: Case) -> Advice:
    """The customary delay beside the one that is set."""
    delay = case.limit.delay_s
    low, high = CUSTOMARY_DELAY_S
    finding: AdviceFinding = "look"
    if delay < low:
        text = f"{delay:g} s is shorter than customary: a short burst can act."
    elif delay > high:
        text = f"{delay:g} s is longer than customary: it acts late."
    else:
        finding, text = "in_order", f"{delay:g} s lies within the customary 1 to 3 s."
    return Advice("delay", "Delay", finding, text, _DELAY, CUSTOMARY_DELAY_S, "s", delay)


def latching_advice(case: Case) -> Advice:
    """A trip holds until somebody resets it."""
    limit = case.limit
    if limit.latching:
        text = f"The {limit.level} holds until it is reset."
        return Advice("latching", "Latching", "in_order", text, _LATCHING)
    if limit.level == "trip":
        text = (
            "This trip lets go by itself once the condition is gone: the machine may be started "
            "again, or start by itself, before anybody has looked."
        )
        return Advice("latching", "Latching", "against", text, _LATCHING)
    text = "This alarm clears by itself; alarms may be set so, and nothing tells of it afterwards."
    return Advice("latching", "Latching", "look", text, _LATCHING)


def order_advice(case: Case) -> tuple[Advice, ...]:
    """An alarm beyond its trip (or a trip short of its alarm), on each side, per probe."""
    limit, faults, pairs = case.limit, [], 0
    for index, other in enumerate(case.setup.limit):
        shared = [name for name in limit.probes if name in other.probes]
        if other.level == limit.level or other.measure != limit.measure or not shared:
            continue
        alarm, trip = (limit, other) if limit.level == "alarm" else (other, limit)
        for side, sign in (("above", 1.0), ("below", -1.0)):
            a, t = _level(alarm, side), _level(trip, side)
            if a is None or t is None:
                continue
            pairs += 1
            if sign * a >= sign * t:
                what = "at the level of" if a == t else "beyond"
                faults.append(
                    f"{names_text(shared)}: the alarm ({side} {case.length(a)}) lies {what} the "
                    f"trip ({side} {case.length(t)}), limit {index + 1} of the setup"
                )
    if faults:
        text = "; ".join(faults) + ". The alarm cannot warn of the trip."
        return (Advice("order", "Alarm before trip", "against", text, _ORDER),)
    if pairs:
        text = "The alarm comes before the trip on the same probes and side."
        return (Advice("order", "Alarm before trip", "in_order", text, _ORDER),)
    if limit.level == "trip":
        text = "No alarm of the same measure warns of this trip."
        return (Advice("order", "Alarm before trip", "look", text, _ORDER),)
    return ()


def votes_advice(case: Case) -> tuple[Advice, ...]:
    """Thrust trips want two out of two."""
    limit = case.limit
    axial = [probe.name for probe in case.probes if probe.kind == "axial"]
    if limit.level != "trip" or limit.measure != "position" or not axial:
        return ()
    title = "Votes of the thrust position"
    if len(axial) >= 2 and limit.votes == 2:
        text = f"Two of {names_text(axial)} must agree; a circuit fault counts as a vote."
        return (Advice("votes", title, "in_order", text, _AXIAL),)
    have = f"{limit.votes} of {len(limit.probes)}"
    text = f"This thrust trip asks for {have}; two out of two is usual for axial position."
    return (Advice("votes", title, "against" if limit.votes == 1 else "look", text, _AXIAL),)


def circuit_fault_advice(case: Case) -> tuple[Advice, ...]:
    """A circuit fault alone must not trip a radial channel; and it must be told apart at all."""
    limit, title = case.limit, "Circuit faults"
    blind = [probe.name for probe in case.probes if probe.fault_v is None]
    out = []
    if blind:
        text = (
            f"The setup gives no fault_v of {names_text(blind)}: an open or shorted circuit is "
            f"taken for a position there, and may act."
        )
        out.append(Advice("circuit_fault", title, "against", text, _FAULT))
    if limit.level != "trip" or not case.all_radial:
        return tuple(out)
    if limit.votes > 1 and limit.measure != "peak_to_peak":
        text = (
            f"{limit.votes} circuit faults together count as {limit.votes} votes and trip radial "
            f"probes without any vibration."
        )
        out.append(Advice("circuit_fault", title, "look", text, _FAULT))
    elif not blind:
        text = "A circuit fault alone does not trip here: it makes the measure void."
        out.append(Advice("circuit_fault", title, "in_order", text, _FAULT))
    return tuple(out)


def multiplier_advice(case: Case) -> tuple[Advice, ...]:
    """A multiplier is for passing a critical speed, never for normal running."""
    multiplier, title = case.limit.multiplier, "Multiplier"
    if multiplier is None:
        return ()
    low, high = multiplier.rpm
    window = f"{low:g} to {high:g} r/min"
    operating = case.setup.machine.operating_rpm
    if operating is not None and low <= operating[1] and operating[0] <= high:
        text = (
            f"The limit is raised {multiplier.factor:g} times at {window}, which reaches into the "
            f"operating speed, {operating[0]:g} to {operating[1]:g} r/min."
        )
        return (Advice("multiplier", title, "against", text, _MULTIPLIER),)
    if multiplier.factor not in (1.0, 2.0, 3.0):
        text = f"A factor of {multiplier.factor:g} is unusual; 2 or 3 are customary."
        return (Advice("multiplier", title, "look", text, _MULTIPLIER),)
    text = (
        f"Raised {multiplier.factor:g} times at {window}. See that the owner has specified it and "
        f"that it is indicated while it acts."
    )
    return (Advice("multiplier", title, "look", text, _MULTIPLIER),)


def _level(limit: Limit, side: str) -> float | None:
    return limit.above if side == "above" else limit.below
