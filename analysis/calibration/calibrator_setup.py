"""What tells a probe on a calibrator from a machine; by itself, since windows ask it at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.setup import Setup


def is_calibrator_setup(setup: Setup) -> bool:
    """Whether a setup is that of a probe on a calibrator or shaker and not of a machine.

    One probe alone, with no shaft to mark and no plane: common practice.
    """
    return len(setup.probe) == 1 and setup.phase_reference is None and not setup.plane
