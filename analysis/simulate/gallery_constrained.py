"""Shapes of the gallery: a shaft that is held, pressed or touches."""

from __future__ import annotations

from .gallery_shape import Shape
from .lab_state import LabState, Precession
from .recipe_parts import Preload, Stop

CONSTRAINED = (
    Shape(
        key="flattened",
        title="Flattened by a load",
        state=LabState(
            (Precession(1.0, 70.0, 200.0),),
            preload=Preload(at_deg=-75.0, flatten=0.6),
            title="Flattened",
        ),
        makes="Often a steady radial load, such as weight, a gear's force or misalignment, that "
        "makes the bearing stiffer along it.",
        waveform="One sine clearly lower than the other.",
        spectrum="+1X and -1X closer in height than usual.",
        also="Supports that are softer one way by design.",
        tells_apart="Where the shaft sits: a load shows in the centreline, and changes with "
        "temperature and duty.",
        source="Ehrich; Eisenmann & Eisenmann 1998; Childs 1993",
        how_sure="from memory",
    ),
    Shape(
        key="banana",
        title="Banana",
        state=LabState(
            (Precession(1.0, 60.0, 200.0, 25.0, 190.0),),
            preload=Preload(at_deg=-75.0, flatten=0.45, bend_per_mm=14.0),
            title="Banana",
        ),
        makes="A stronger load, it may be of misalignment: the shaft follows the curve of the "
        "bearing's wall.",
        waveform="One probe shows one hump a turn, the other begins to show two.",
        spectrum="1X with a growing 2X, forward and backward.",
        also="A cracked or asymmetric shaft with 2X; a light rub.",
        tells_apart="Position in the clearance, alignment readings cold and hot, and how 2X goes "
        "along with load.",
        source="Ehrich; Eisenmann & Eisenmann 1998; Childs 1993",
        how_sure="from memory",
    ),
    Shape(
        key="figure-eight",
        title="Figure eight",
        state=LabState(
            (Precession(1.0, 40.0, 0.0, 40.0, 0.0), Precession(2.0, 15.0, 0.0, 15.0, 180.0)),
            title="Figure eight",
        ),
        makes="Possibly a load so strong that the motion across it has one cycle a turn and the "
        "motion along it two.",
        waveform="One cycle a turn across the load, two along it.",
        spectrum="1X and 2X, each with a forward and a backward line of like height.",
        also="2X of a cracked or asymmetric shaft.",
        tells_apart="One part of the eight runs forward, the other backward; compare with "
        "alignment, and with 2X in run-ups.",
        source="Ehrich; Eisenmann & Eisenmann 1998 (the link to a cause is the least sure of all)",
        how_sure="from memory",
    ),
    Shape(
        key="truncated",
        title="Cut off on one side",
        state=LabState(
            (Precession(1.0, 70.0, 200.0, 10.0, 20.0),),
            stop=Stop(at_deg=20.0, distance_um=18.0),
            title="Cut off by a stop",
        ),
        makes="It may be a rub against something that does not give: the shaft cannot move further "
        "to that side.",
        waveform="The probe near the contact is cut flat on one side.",
        spectrum="Many orders of 1X, falling off slowly, on both sides.",
        also="A probe at the end of its range, an amplifier that clips: then one probe's signal "
        "alone is flat.",
        tells_apart="A flat that lies across both probes' directions is the shaft's; one across a "
        "single probe is the chain's. Look at the gap voltages.",
        source="Ehrich; Muszynska, Rotordynamics, 2005",
        how_sure="from memory",
    ),
    Shape(
        key="rub-bounce",
        title="Rub with a bounce",
        state=LabState(
            (Precession(1.0, 70.0, 200.0, 10.0, 20.0),),
            whirl=Precession(0.5, 18.0, 0.0),
            stop=Stop(at_deg=20.0, distance_um=20.0, rebound=0.9, drag=0.6),
            title="Rub with a bounce",
        ),
        makes="It can be a rub that throws the shaft back: contact every turn or every second "
        "turn, with friction against the rotation.",
        waveform="Dents where the highest points should be, often not the same in each turn.",
        spectrum="Orders of 1X and of 0.5X; backward lines.",
        also="Looseness; a scratch, which dents one probe after the other at fixed angles.",
        tells_apart="A rub changes with speed, load and time; a scratch is there at slow roll.",
        source="Ehrich; Muszynska, Rotordynamics, 2005",
        how_sure="from memory",
    ),
)
