"""A capture of any length, written in blocks: five int16 channels, one of them the reference."""

from __future__ import annotations

from pathlib import Path

import h5py
import numpy as np

from .made_capture import PP_UM, SCALE_V_PER_UM, SETUP

RATE_HZ = 25_600.0
VOLTS_PER_COUNT = 1e-3
_BLOCK_S = 20
_LOW_HZ, _HIGH_HZ = 10.0, 80.0


def write_long_capture(path: Path, length_s: int, running_s: int | None = None) -> int:
    """Write a run-up and coast-down of 600 to 4800 r/min, over and over; returns the file's size.

    256 kB a second. Contiguous and without compression, as recorders of long captures write. After
    `running_s` the recorder goes on without a signal: all zero, which takes no room on most disks.
    """
    count = round(length_s * RATE_HZ)
    running = count if running_s is None else min(round(running_s * RATE_HZ), count)
    noise = np.random.default_rng(4).normal(0.0, 2.0, (len(PP_UM), round(_BLOCK_S * RATE_HZ)))
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        file.attrs["title"] = "Brine pump P-204, long"
        file.attrs["setup"] = SETUP
        sets = {}
        for name in (*PP_UM, "REF"):
            sets[name] = file.create_dataset(
                f"channels/{name}", (count,), np.int16, dcpl=_room_without_zeros()
            )
            sets[name].attrs["sample_rate_hz"] = RATE_HZ
            sets[name].attrs["volts_per_count"] = VOLTS_PER_COUNT
        for start in range(0, running, round(_BLOCK_S * RATE_HZ)):
            stop = min(start + round(_BLOCK_S * RATE_HZ), running)
            for name, values in _block(start, stop, noise).items():
                sets[name][start:stop] = values
    return path.stat().st_size


def _room_without_zeros() -> h5py.h5p.PropDCID:
    """Room in the file from the start, which the file system may leave empty."""
    wanted = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
    wanted.set_alloc_time(h5py.h5d.ALLOC_TIME_EARLY)
    wanted.set_fill_time(h5py.h5d.FILL_TIME_NEVER)
    return wanted


def _block(start: int, stop: int, noise: np.ndarray) -> dict[str, np.ndarray]:
    t = np.arange(start, stop) / RATE_HZ
    # Speed swings as a cosine with a period of 120 s; its integral is the angle.
    middle, swing, slow = (_HIGH_HZ + _LOW_HZ) / 2, (_HIGH_HZ - _LOW_HZ) / 2, 2 * np.pi / 120.0
    turns = middle * t - swing * np.sin(slow * t) / slow
    made = {}
    for number, (name, pp) in enumerate(PP_UM.items()):
        moved = pp / 2 * np.cos(2 * np.pi * turns - 0.5 - number * np.pi / 2)
        volts = -(1250.0 - moved) * SCALE_V_PER_UM
        made[name] = np.round(volts / VOLTS_PER_COUNT + noise[number, : len(t)]).astype(np.int16)
    phase = (turns + 0.5) % 1.0 - 0.5
    pulse = np.where(phase < 0.05, np.clip(-9.0 - 400.0 * phase, -14.0, -7.0), -7.0)
    made["REF"] = np.round(pulse / VOLTS_PER_COUNT).astype(np.int16)
    return made
