"""What a setup with curves on trial would change, in lines to be read before it is written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.calibration.words import length_text

if TYPE_CHECKING:
    from app.session.session import Session


def curve_lines(session: Session) -> list[str]:
    """One line a probe that reads by a curve on trial; none while there is none."""
    before, now = session.curves.setup_before, session.capture.setup
    if before is None or now is None:
        return []
    out = []
    for name in session.curves.names:
        old, new = before.probe_named(name), now.probe_named(name)
        rows = sorted(new.calibration or ())
        was = (
            f"a curve of {len(old.calibration)} rows"
            if old.calibration is not None
            else f"a line of {old.scale_factor_v_per_um * 1000.0:.3f} mV/µm"
        )
        ends = [length_text(gap, session.unit.unit) for gap, _ in (rows[0], rows[-1])]
        out.append(f"{name}: {was}  →  a curve of {len(rows)} rows from {ends[0]} to {ends[1]}")
    return out
