"""Ripple behind the peak of a fast sweep: free vibration that beats with the forced one."""

from __future__ import annotations

import math

from analysis.model.response_results import CriticalSpeed, Doubt, Passage

_SURE = 1.5
"""Free vibration may be taken this much larger than the one that is reckoned with."""

_SHARP = 5.0
"""Factors below this are never too narrow: no sweep through a few hundred turns limits them."""

_UNKNOWN_DAMPING = 0.02
"""Taken where the peak has no amplification factor."""


def could_be_ripple(
    critical: CriticalSpeed,
    prominence_um: float,
    larger: list[CriticalSpeed],
    passage: Passage,
) -> Doubt | None:
    """Whether a smaller peak can be the ripple of a larger one that was passed before it.

    Free vibration dies away with `exp(-ζω t)`, `2ζ = 1/AF`; it can make a ripple of no more than
    twice what is left of it. Where the sweep rate is not known, smaller peaks close behind a
    larger one are doubted in general.

    Args:
        critical: the smaller peak.
        prominence_um: how far it stands above the valleys beside it, µm p-p.
        larger: critical speeds of the same passage found so far, larger ones.
        passage: the passage.
    """
    for main in larger:
        ahead = critical.speed_rpm - main.speed_rpm
        if passage.direction == "down":
            ahead = -ahead
        if passage.direction != "unknown" and ahead <= 0.0:
            continue
        if main.rate is None or passage.direction == "unknown":
            doubt = _without_rate(critical, prominence_um, main)
        else:
            doubt = _with_rate(critical, prominence_um, main, abs(ahead))
        if doubt is not None:
            return doubt
    return None


def too_narrow(critical: CriticalSpeed) -> bool:
    """Whether a peak is narrower than one mode can show at its sweep rate."""
    return (
        critical.sweep is None
        and critical.rate is not None
        and critical.amplification_factor is not None
        and critical.amplification_factor > _SHARP
    )


def _with_rate(
    critical: CriticalSpeed, prominence: float, main: CriticalSpeed, ahead: float
) -> Doubt | None:
    rate = abs(main.rate or 0.0)
    if rate == 0.0:
        return None
    seconds = ahead / rate
    natural = main.speed_rpm * math.pi / 30.0
    damping = 0.5 / main.amplification_factor if main.amplification_factor else _UNKNOWN_DAMPING
    # A swept peak is wider than its damping makes it.
    if main.sweep is not None and math.isfinite(main.sweep.slow_factor):
        damping = 0.5 / main.sweep.slow_factor
    left = main.amplitude_um_pp * math.exp(-damping * natural * seconds)
    if too_narrow(critical):
        return Doubt(
            "ripple",
            f"a rise at {critical.speed_rpm:.0f} r/min behind the peak at {main.speed_rpm:.0f} "
            f"r/min is narrower (factor {critical.amplification_factor:.0f}) than any one mode "
            f"shows when swept at {rate:.0f} r/min a second: free vibration that beats with 1X "
            f"can make it",
        )
    if prominence > 2.0 * _SURE * left:
        return None
    return Doubt(
        "ripple",
        f"a rise at {critical.speed_rpm:.0f} r/min comes {seconds:.2f} s behind the peak at "
        f"{main.speed_rpm:.0f} r/min, swept at {rate:.0f} r/min a second: free vibration that the "
        f"peak leaves behind (up to {left:.1f} µm p-p by then) beats with 1X and can make it",
    )


def _without_rate(critical: CriticalSpeed, prominence: float, main: CriticalSpeed) -> Doubt | None:
    near = abs(critical.speed_rpm - main.speed_rpm) < 0.25 * main.speed_rpm
    if not near or prominence > 0.35 * main.amplitude_um_pp:
        return None
    return Doubt(
        "ripple",
        f"a rise at {critical.speed_rpm:.0f} r/min stands beside the larger peak at "
        f"{main.speed_rpm:.0f} r/min; without times the sweep rate is not known, and the ripple "
        f"of a fast sweep cannot be told from a further critical speed",
    )
