"""The table of every revolution as columns to be written (contract, section 6)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.model.results import ProbeRevolutions, RevolutionTable

_DECIMALS = {"time_s": 6, "speed_rpm": 4, "um": 4, "deg": 3}
"""Finer than any of it is known; shorter than a float is written in full."""


def revolution_columns(
    table: RevolutionTable, *, quality: bool = False
) -> dict[str, NDArray[np.generic]]:
    """Columns by name, in order, each with one value a revolution.

    `time_s` is the middle of the revolution, `speed_rpm` its mean speed; then for each probe NAME
    `NAME.gap_um`, `NAME.pp_um`, and for each order n `NAME.nx_um_pp`, `NAME.nx_deg` (phase lag,
    0 to 360). What is not known is NaN: phase lags without a phase reference, orders in blocks, all
    of a revolution with a circuit fault.

    Args:
        table: the table.
        quality: add `put_in` (1 where an end of the revolution is a missing pulse that was put in),
            and for each probe `NAME.samples` and `NAME.fault` (1 for a circuit fault, or samples
            that the capture does not have).
    """
    columns: dict[str, NDArray[np.generic]] = {
        "time_s": np.round((table.start_s + table.end_s) / 2.0, _DECIMALS["time_s"]),
        "speed_rpm": np.round(table.speed_rpm, _DECIMALS["speed_rpm"]),
    }
    for name, probe in table.probes.items():
        columns |= _probe_columns(name, probe, phase_known=table.kind == "events")
    if quality:
        columns["put_in"] = table.repaired.astype(np.int64)
        for name, probe in table.probes.items():
            columns[f"{name}.samples"] = probe.samples
            columns[f"{name}.fault"] = probe.fault.astype(np.int64)
    return columns


def _probe_columns(
    name: str, probe: ProbeRevolutions, *, phase_known: bool
) -> dict[str, NDArray[np.generic]]:
    columns: dict[str, NDArray[np.generic]] = {
        f"{name}.gap_um": np.round(probe.gap_um, _DECIMALS["um"]),
        f"{name}.pp_um": np.round(probe.peak_to_peak_um, _DECIMALS["um"]),
    }
    unknown = np.full(len(probe.gap_um), np.nan)
    for order in probe.vectors or (1, 2):
        vectors = probe.vectors.get(order)
        amplitude = unknown if vectors is None else np.abs(vectors)
        lag = unknown
        if vectors is not None and phase_known:
            # Rounding can reach 360 itself.
            lag = np.round(-np.degrees(np.angle(vectors)) % 360.0, _DECIMALS["deg"]) % 360.0
        columns[f"{name}.{order}x_um_pp"] = np.round(amplitude, _DECIMALS["um"])
        columns[f"{name}.{order}x_deg"] = lag
    return columns
