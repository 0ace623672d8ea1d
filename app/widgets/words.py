"""Numbers as they are written in the window. Display units are applied here and nowhere else."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from app.plots.style import state_mark

if TYPE_CHECKING:
    from analysis.model.results import ProbeReading, Reading, SpeedReading, VectorReading
    from analysis.model.units import LengthUnit

DASH = "–"
"""What stands for a value that cannot be known."""

CAUTION = "For review only. Not a protection system; alarm settings belong to the machine owner."

_CLOCK = re.compile(r"^(?:(\d+):)?(\d+):(\d+(?:[.,]\d*)?)$")


def number(value: float | None, decimals: int) -> str:
    """A number with a true minus sign; a dash when it is not known."""
    if value is None or not math.isfinite(value):
        return DASH
    text = f"{value:.{decimals}f}"
    if text.startswith("-"):
        text = text[1:] if float(text) == 0.0 else "−" + text[1:]
    return text


def length(um: float | None, unit: LengthUnit, decimals: int | None = None) -> str:
    """A length in the display unit, without the unit's name."""
    return number(
        None if um is None else um * unit.per_um, unit.decimals if decimals is None else decimals
    )


def short_length(um: float | None, unit: LengthUnit) -> str:
    """A length for a card: no more decimals than four figures need."""
    if um is None or not math.isfinite(um):
        return DASH
    size = abs(um * unit.per_um)
    decimals = unit.decimals if size < 100 else unit.decimals - 1
    return length(um, unit, max(decimals, 0))


def plus_minus(scatter: float | None, decimals: int, factor: float = 1.0) -> str:
    """A scatter with its sign, a figure longer where it is small; empty when it is not known."""
    if scatter is None or not math.isfinite(scatter):
        return ""
    shown = scatter * factor
    if 0.0 < shown < 0.5 * 10.0**-decimals:
        decimals = min(decimals + 1, -math.floor(math.log10(shown)))
    return f"±{shown:.{decimals}f}"


def vector(reading: VectorReading | None, unit: LengthUnit, *, short: bool = False) -> str:
    """Amplitude p-p and lag, as in `104.2 ∠ 120.4°`; without a phase reference no lag."""
    if reading is None:
        return DASH
    amplitude = reading.amplitude.value
    text = short_length(amplitude, unit) if short else length(amplitude, unit)
    if reading.phase_lag_deg is None:
        return text
    return f"{text} ∠ {lag(reading.phase_lag_deg.value, 0 if short else 1)}"


def lag(degrees: float, decimals: int = 1) -> str:
    """A phase lag, 0° up to but not 360°, also after rounding."""
    rounded = round(degrees, decimals)
    return f"{number(0.0 if rounded >= 360.0 else rounded, decimals)}°"


def vector_scatter(reading: VectorReading | None, unit: LengthUnit) -> str:
    """The scatter of a vector's amplitude and lag."""
    if reading is None:
        return ""
    parts = [plus_minus(reading.amplitude.scatter, unit.decimals, unit.per_um)]
    if reading.phase_lag_deg is not None and reading.phase_lag_deg.scatter is not None:
        parts.append(f"{plus_minus(reading.phase_lag_deg.scatter, 1)}°")
    return " ∠ ".join(part for part in parts if part)


def state(reading: ProbeReading) -> str:
    """Shape and word of the instant condition; a probe without limits is not judged."""
    if reading.condition == "unknown" and not reading.limits:
        return "no limits"
    return " ".join(state_mark(reading.condition))


def speed(reading: SpeedReading | None) -> str:
    """The mean speed, `3180 r/min`; a dash when it is not known."""
    if reading is None or reading.mean_rpm is None:
        return f"{DASH} r/min"
    return f"{number(reading.mean_rpm, 0 if reading.mean_rpm >= 100 else 1)} r/min"


def seconds(time_s: float, decimals: int = 2) -> str:
    """A capture time: `48.30 s`."""
    return f"{number(time_s, decimals)} s"


def duration(time_s: float) -> str:
    """A length of time, three figures when it is short."""
    return f"{time_s:.1f} s" if time_s >= 10.0 else f"{time_s:.3g} s"


def parse_time(text: str) -> float | None:
    """Seconds from what a reader types: `48.3`, `48,3`, `48.3 s`, `1:02.5`, `1:00:02`.

    `None` when it is none of these.
    """
    text = text.strip().removesuffix("s").strip().replace("−", "-")
    clock = _CLOCK.match(text)
    if clock:
        hours, minutes, rest = clock.groups()
        part = float(rest.replace(",", "."))
        if part >= 60.0 or (hours is not None and int(minutes) >= 60):
            return None
        return int(hours or 0) * 3600.0 + int(minutes) * 60.0 + part
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def mean_of(reading: Reading | None) -> float | None:
    """The value of a reading that may be absent."""
    return None if reading is None else reading.value
