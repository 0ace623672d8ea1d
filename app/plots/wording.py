"""How numbers and directions are written in the pictures and beside them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from analysis.model.units import LengthUnit

from .axes import plain_number

if TYPE_CHECKING:
    from analysis.model.response_results import Runout
    from analysis.model.setup import Probe


def length_number(um: float, unit: LengthUnit) -> str:
    """A length without its unit: 0.1 µm below 100 µm, else whole µm; 0.01 mil."""
    value = um * unit.per_um
    if unit is LengthUnit.MIL:
        return plain_number(value, unit.decimals)
    return plain_number(value, 0 if abs(value) >= 99.95 else unit.decimals)


def length_text(um: float, unit: LengthUnit) -> str:
    """A length with its unit, such as `1250 µm` or `49.21 mil`."""
    return f"{length_number(um, unit)} {unit.value}"


def setting_text(um: float, unit: LengthUnit) -> str:
    """A setting, written without needless decimals: `125 µm`, `4.92 mil`."""
    if unit is LengthUnit.UM and abs(um - round(um)) < 1e-6:
        return f"{plain_number(um, 0)} {unit.value}"
    return f"{plain_number(um * unit.per_um, unit.decimals)} {unit.value}"


def angle_text(probe: Probe) -> str:
    """Where a probe sits: `45° left`, `top`, `axial`; seen from the driver end."""
    if probe.kind == "axial":
        return "axial"
    if probe.angle_deg is None:
        return "angle not given"
    angle = (probe.angle_deg + 180.0) % 360.0 - 180.0
    if abs(angle) < 1e-9:
        return "top"
    if abs(abs(angle) - 180.0) < 1e-9:
        return "bottom"
    return f"{abs(angle):g}° {'right' if angle > 0 else 'left'}"


def runout_text(waves: Mapping[str, Runout], unit: LengthUnit) -> str:
    """What is taken off an orbit, with its value; empty for nothing."""
    if not waves:
        return ""
    from analysis.rotor.response.runout import order_vector
    from analysis.rotor.vectors import amplitude_and_lag

    words = []
    for name, wave in waves.items():
        amplitude, lag = amplitude_and_lag(order_vector(wave, 1))
        words.append(f"{name} {length_number(amplitude, unit)} ∠ {round(lag) % 360}°")
    speeds = {round(w.speed_rpm) for w in waves.values() if w.speed_rpm is not None}
    at = f" at {min(speeds)} r/min" if len(speeds) == 1 else ""
    kept = ", as kept in the setup" if any(w.source == "kept" for w in waves.values()) else ""
    return (
        f"runout taken off: 1X {', '.join(words)} {unit.value} p-p{at}{kept}, with its other "
        f"orders; readings and spectrum are as measured"
    )
