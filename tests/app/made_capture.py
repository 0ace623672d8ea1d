"""A small capture whose truth is known: made here, without a recipe."""

from __future__ import annotations

import numpy as np

from analysis.model.capture import ArraySource, Capture, Channel

RATE_HZ = 5000.0
LENGTH_S = 6.0
RPM = 1500.0
PP_UM = {"DE-X": 80.0, "DE-Y": 60.0, "NDE-X": 40.0, "NDE-Y": 30.0}
GAP_UM = {"DE-X": 1250.0, "DE-Y": 1200.0, "NDE-X": 1300.0, "NDE-Y": 1150.0}
SCALE_V_PER_UM = 0.2 / 25.4  # 200 mV/mil
SWELL_AT_S = 4.0

SETUP = (
    """\
version = 1

[machine]
title = "Brine pump P-204"
rotation = "ccw"

[phase_reference]
channel = "REF"
threshold_v = -9.0
"""
    + "".join(
        f"""
[[probe]]
name = "{name}"
angle_deg = {45.0 if name.endswith("X") else -45.0}
scale_factor_mv_per_mil = 200
linear_range_um = [250, 2280]
rest_gap_um = {gap + 50.0}
fault_v = [-22.0, -0.5]
"""
        for name, gap in GAP_UM.items()
    )
    + """
[[plane]]
name = "Drive end"
probes = ["DE-X", "DE-Y"]
clearance_um = 240

[[plane]]
name = "Non-drive end"
probes = ["NDE-X", "NDE-Y"]

[[limit]]
probes = ["DE-X"]
measure = "peak_to_peak"
level = "alarm"
above = 95

[[limit]]
probes = ["DE-X"]
measure = "peak_to_peak"
level = "trip"
above = 140
"""
)


def made_capture(
    *, setup: str | None = SETUP, length_s: float = LENGTH_S, reference: bool = True
) -> Capture:
    """Sines of known p-p about known gaps; at 4 s a swell of 60 % for a fifth of a second."""
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    turns = t * RPM / 60.0
    swell = 1.0 + 0.6 * np.exp(-(((t - SWELL_AT_S) / 0.2) ** 2))
    channels = {}
    for number, (name, pp) in enumerate(PP_UM.items()):
        lag = np.deg2rad(30.0 + 90.0 * number)
        moved = pp / 2.0 * swell * np.cos(2.0 * np.pi * turns - lag)
        volts = -(GAP_UM[name] - moved) * SCALE_V_PER_UM
        channels[name] = Channel(name, RATE_HZ, ArraySource(volts.astype(np.float32)))
    if reference:
        # A notch whose falling edge passes the threshold of -9 V exactly at each whole turn.
        phase = (turns + 0.5) % 1.0 - 0.5
        pulse = np.where(phase < 0.05, np.clip(-9.0 - 400.0 * phase, -14.0, -7.0), -7.0)
        channels["REF"] = Channel("REF", RATE_HZ, ArraySource(pulse.astype(np.float32)))
    return Capture("steady.h5", channels, title="Steady stretch", setup_toml=setup)
