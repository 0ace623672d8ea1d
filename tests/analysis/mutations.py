"""Seeded mutations of small valid files, for showing that no damaged input does harm."""

from __future__ import annotations

import random
from pathlib import Path

import h5py
import numpy as np

from tests.analysis.good_files import GOOD_CSV, GOOD_SETUP, good_hdf5

_WORDS = (b"nan", b"inf", b"1e999", b"-", b",", b";", b"\t", b"\n", b"\r", b'"', b"#", b"=", b"\0",
          b"[", b"]]", b"{", b"'''", b"\xff\xfe", b"\xe9", b" ", b"time_s", b"0" * 400)  # fmt: skip
_NUMBERS = (0, 1, 0x7F, 0xFF, 0x7FFFFFFF, 0xFFFFFFFF, 2**63 - 1, 2**64 - 1, 10**12)


def mutated(raw: bytes, rng: random.Random) -> bytes:
    """One to eight small changes: bits, bytes, numbers, cuts, doublings, words."""
    data = bytearray(raw)
    for _ in range(rng.choice((1, 1, 1, 2, 3, 8))):
        if not data:
            break
        at = rng.randrange(len(data))
        what = rng.randrange(7)
        if what == 0:
            data[at] ^= 1 << rng.randrange(8)
        elif what == 1:
            data[at] = rng.randrange(256)
        elif what == 2:
            width = rng.choice((2, 4, 8))
            number = rng.choice(_NUMBERS) % 256**width
            data[at : at + width] = number.to_bytes(width, "little")
        elif what == 3:
            del data[at : at + rng.choice((1, 4, 64, len(data)))]
        elif what == 4:
            data[at:at] = data[at : at + rng.choice((1, 8, 200))]
        elif what == 5:
            data[at:at] = rng.choice(_WORDS)
        else:
            other = rng.randrange(len(data))
            data[at : at + 8] = data[other : other + 8]
    return bytes(data)


def seeds(folder: Path) -> dict[str, bytes]:
    """Small valid files of every format and shape, by name."""
    made = {"plain.csv": GOOD_CSV.encode(), "good.toml": GOOD_SETUP.encode()}
    made["semi.csv"] = (
        b'# sample_rate_hz = 100\n# setup = "version = 1\\n"\nA;B\n1,5;2,5\n;3\n4;5,5\n'
    )
    good_hdf5(folder / "plain.h5", 20)
    with h5py.File(folder / "packed.h5", "w") as file:
        file.attrs["runtrue_capture"] = 1
        file.attrs["setup"] = GOOD_SETUP
        dataset = file.create_dataset(
            "channels/A",
            data=np.arange(200, dtype="f4"),
            chunks=(64,),
            compression="gzip",
            shuffle=True,
            fletcher32=True,
        )
        dataset.attrs["sample_rate_hz"] = 100.0
    with h5py.File(folder / "latest.h5", "w", libver="latest") as file:
        file.attrs["runtrue_capture"] = 1
        for name in "ABCDEFGHIJ":
            dataset = file.create_dataset(
                f"channels/{name}", data=np.arange(20.0), maxshape=(None,), chunks=(8,)
            )
            dataset.attrs["sample_rate_hz"] = 100.0
    for name in ("plain.h5", "packed.h5", "latest.h5"):
        made[name] = (folder / name).read_bytes()
    return made
