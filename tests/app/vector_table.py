"""A table of 1X vectors of one probe against speed, as a file."""

from __future__ import annotations

from pathlib import Path

import numpy as np


def write_vector_table(path: Path, speed_rpm: np.ndarray, vectors: np.ndarray) -> Path:
    """Write vectors `A exp(-jφ)`, µm p-p, of the probe BRG; shapes (n,)."""
    rows = [
        f"{n:.3f},{abs(v):.4f},{np.degrees(-np.angle(v)) % 360:.3f}"
        for n, v in zip(speed_rpm, vectors, strict=True)
    ]
    path.write_text("\n".join(["speed_rpm,BRG.1x_um_pp,BRG.1x_deg", *rows]))
    return path
