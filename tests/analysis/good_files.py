"""Small captures and setups that are in order, and what a broken one is made with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import h5py
import numpy as np

NUMBERS = np.arange(50, dtype=np.int16)


@dataclass(frozen=True)
class BrokenFile:
    """`make` writes the file (or what stands for it) into a folder and returns its path."""

    id: str
    name: str
    says: tuple[str, ...]
    build: Callable[[Path], None]

    def make(self, folder: Path) -> Path:
        path = folder / self.name
        self.build(path)
        return path


def good_hdf5(path: Path, samples: int = 50) -> None:
    """A small capture that is in order, written without the program's own writer."""
    with h5py.File(path, "w") as file:
        file.attrs["runtrue_capture"] = 1
        file.attrs["title"] = "Brine pump P-204"
        for name in ("DE_X", "DE_Y"):
            dataset = file.create_dataset(
                f"channels/{name}", data=np.arange(samples, dtype=np.int16) - 8000
            )
            dataset.attrs["sample_rate_hz"] = 1000.0
            dataset.attrs["volts_per_count"] = 0.001


GOOD_CSV = (
    "# title = Brine pump P-204\n"
    "time_s,DE_X,DE_Y\n"
    "0.000,-9.8,-9.7\n"
    "0.001,-9.9,-9.6\n"
    "0.002,,-9.5\n"
    "0.003,-9.8,nan\n"
)

GOOD_SETUP = """\
version = 1

[machine]
title = "Brine pump P-204"

[[probe]]
name = "DE-X"
channel = "DE_X"
angle_deg = 45.0
scale_factor_mv_per_um = 7.874

[[probe]]
name = "DE-Y"
channel = "DE_Y"
angle_deg = -45.0
scale_factor_mv_per_um = 7.874

[[plane]]
name = "Drive end"
probes = ["DE-X", "DE-Y"]
"""


def of_bytes(content: bytes) -> Callable[[Path], None]:
    def build(path: Path) -> None:
        path.write_bytes(content)

    return build


def of_text(content: str, encoding: str = "utf-8") -> Callable[[Path], None]:
    return of_bytes(content.encode(encoding))


def nothing(path: Path) -> None:
    """The file is not there."""


def folder(path: Path) -> None:
    path.mkdir()
