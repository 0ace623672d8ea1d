"""Shapes of the gallery: what probes, track and setup add to the shaft's motion."""

from __future__ import annotations

from .gallery_shape import Shape
from .lab_state import LabProbe, LabState, Precession, SurfaceMark

CHAIN = (
    Shape(
        key="slow-roll",
        title="Slow roll",
        state=LabState(
            (),
            surface=SurfaceMark(um_pp=9.0, at_deg=120.0),
            speed_rpm=400.0,
            noise_um_rms=0.2,
            title="Slow roll",
        ),
        makes="Usually runout: a track that is not quite round or central, or uneven in its "
        "electrical properties. The shaft hardly moves at such a speed.",
        waveform="A small sine that stays the same at any slow speed.",
        spectrum="A line at +1X for an eccentric track.",
        also="A bowed shaft.",
        tells_apart="A bow may fade as the shaft warms through; runout does not. Either is taken "
        "off 1X as a vector, never as a number.",
        source="common practice",
        how_sure="common practice",
    ),
    Shape(
        key="scratch",
        title="Scratch",
        state=LabState(
            (Precession(1.0, 40.0, 200.0),),
            surface=SurfaceMark(scratch_depth_um=30.0, scratch_at_deg=80.0, scratch_width_deg=14.0),
            title="Scratch",
        ),
        makes="Usually a scratch, a dent or a spot of another material on the track.",
        waveform="A thin spike a turn, on one probe and then on the other, by the angle between "
        "them.",
        spectrum="A long row of orders, all low.",
        also="A rub; a bad contact in a cable.",
        tells_apart="The spikes point away from the shaft (the gap grows), stay at slow roll, and "
        "come on both probes a quarter turn apart.",
        source="common practice",
        how_sure="common practice",
    ),
    Shape(
        key="swapped",
        title="Swapped cables",
        state=LabState(
            (Precession(1.0, 60.0, 200.0, 20.0, 90.0),), swapped=True, title="Swapped cables"
        ),
        makes="The cables of the two probes have, it may be, changed places: the orbit is seen "
        "in a mirror.",
        waveform="The other probe leads.",
        spectrum="The larger line at -1X.",
        also="Real backward precession between split critical speeds; a wrong rotation in the "
        "setup.",
        tells_apart="It is backward at every speed. The centreline moves the wrong way with it, "
        "which a wrong rotation does not do.",
        source="geometry",
        how_sure="computed",
    ),
    Shape(
        key="end-of-range",
        title="Probe at the end of its range",
        state=LabState(
            (Precession(1.0, 190.0, 200.0),),
            probes=(LabProbe("LAB-X", 45.0, 2310.0), LabProbe("LAB-Y", -45.0)),
            title="End of the linear range",
        ),
        makes="A probe set too far from the shaft, or a shaft that has moved away: beyond its "
        "linear range a probe usually gives less for each µm.",
        waveform="One probe's sine is lower, and flatter on the far side.",
        spectrum="+1X and -1X, and a 2X that is not there.",
        also="A shaft that moves less in that direction; a wrong scale factor.",
        tells_apart="The gap voltage against the probe's linear range, before anything else.",
        source="common practice",
        how_sure="common practice",
    ),
)
