"""What is asked about a moment; by itself, since windows ask before the numbers are loaded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from analysis.model.response_results import Runout
    from analysis.signal.spectrum import Scaling
    from analysis.signal.windows import WindowName


@dataclass(frozen=True)
class SpectrumChoice:
    """Which spectrum is wanted. `turns` is the length that it is taken over.

    `probe` names the probe of a one-sided spectrum; the plane's first when not given.
    """

    two_sided: bool = True
    axis: Literal["orders", "hz"] = "orders"
    window: WindowName = "hann"
    scaling: Scaling = "p-p"
    turns: int = 32
    probe: str | None = None


@dataclass(frozen=True)
class MomentRequest:
    """What the Moment page wants to know.

    Args:
        moment_s: the moment, s of capture time.
        half_turns: revolutions to either side of it that readings and orbit are taken over.
        plane: name of the plane shown; the first one when not given.
        probes: probes whose waveforms are shown; the plane's when not given.
        orders: orders that readings are wanted of.
        orbit_orders: orders that the filtered orbit is built from.
        spectrum: the spectrum.
        columns: pixel columns of the waveforms.
        speed_rpm: speed for a capture without a phase reference.
        waveform_s: length of the waveforms, s; a 1-2-5 length that holds the turns when not given.
        waveform_place: share (0 to 1) of a given length that lies before the moment.
        runout: runout by probe that is taken off waveforms and orbits; readings and spectra stay
            as measured.
    """

    moment_s: float
    half_turns: float = 4.0
    plane: str | None = None
    probes: tuple[str, ...] | None = None
    orders: tuple[int, ...] = (1, 2)
    orbit_orders: tuple[int, ...] = (1,)
    spectrum: SpectrumChoice = field(default_factory=SpectrumChoice)
    columns: int = 800
    speed_rpm: float | None = None
    waveform_s: float | None = None
    waveform_place: float = 0.5
    runout: Mapping[str, Runout] = field(default_factory=dict, hash=False)
