"""What holds of a capture's facts whatever format they came from: bounds, dates, the version."""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path

from .wording import file_error, one_line

SCHEMA_VERSION = 1

# Wide enough for any recorder, narrow enough that sample times stay numbers to reckon with.
_RATE_HZ = (1e-6, 1e9)
_LARGEST_START_S = 1e11
_LARGEST_SCALE = 1e6


def check_version(path: Path, version: int) -> None:
    """Refuse a schema version that is not the one this program knows.

    Raises:
        InputError: newer, or no version at all.
    """
    if version > SCHEMA_VERSION:
        raise file_error(
            path,
            f"runtrue_capture = {one_line(version, 30)} is newer than this program, which reads "
            f"{SCHEMA_VERSION}",
            "update the program",
        )
    if version != SCHEMA_VERSION:
        raise file_error(
            path,
            f"runtrue_capture = {one_line(version, 30)} is no version of the capture format",
            f"set it to {SCHEMA_VERSION}",
        )


def check_rate(path: Path, where: str, rate_hz: float) -> float:
    """The sampling rate, Hz, when it can be one.

    Raises:
        InputError: NaN, zero, negative, or beyond 1 µHz to 1 GHz.
    """
    if not _RATE_HZ[0] <= rate_hz <= _RATE_HZ[1]:
        raise file_error(
            path,
            f"{where}sample_rate_hz is {rate_hz:g}",
            "write the sampling rate in samples a second, a number above zero",
        )
    return rate_hz


def check_start(path: Path, where: str, start_s: float) -> float:
    """The time of the first sample, s, when it can be one.

    Raises:
        InputError: not finite, or beyond ±1e11 s.
    """
    if not abs(start_s) <= _LARGEST_START_S:
        raise file_error(
            path, f"{where}start_s is {start_s:g}", "write the time of the first sample in seconds"
        )
    return start_s


def check_scale(path: Path, where: str, volts_per_count: float, volts_offset: float) -> None:
    """Refuse a conversion to volts that cannot be one.

    Raises:
        InputError: a scale of zero, or numbers that are not finite or beyond a million.
    """
    if not 0.0 < abs(volts_per_count) <= _LARGEST_SCALE:
        raise file_error(
            path,
            f"{where}volts_per_count is {volts_per_count:g}",
            "write the volts of one count, a number that is not zero (1 for samples in volts)",
        )
    if not abs(volts_offset) <= _LARGEST_SCALE:
        raise file_error(
            path, f"{where}volts_offset is {volts_offset:g}", "write the volts at count 0"
        )


def started_at_warning(started_at: str) -> str | None:
    """A sentence when `started_at` is not an ISO 8601 date and time with offset, else `None`."""
    if not started_at:
        return None
    try:
        offset = datetime.fromisoformat(started_at).utcoffset()
    except ValueError:
        offset = None
    if offset is not None:
        return None
    return (
        f"started_at '{one_line(started_at, 60)}' is no date and time with offset "
        f"(such as 2026-03-02T08:15:00+01:00): it is shown as it is"
    )


def nice_rate(rate_hz: float, samples: int) -> float:
    """A rate found from times, freed of rounding noise: 10000.000000000002 becomes 10000.

    It is only rounded when the last sample moves by less than a hundredth of a sample interval.
    """
    rounded = float(f"{rate_hz:.9g}")
    if math.isclose(rounded, rate_hz, rel_tol=min(1e-6, 0.01 / max(1, samples)), abs_tol=0.0):
        return rounded
    return rate_hz
