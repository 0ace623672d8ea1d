"""Shapes of the gallery: free motion, of one order or of several."""

from __future__ import annotations

from .gallery_shape import Shape
from .lab_state import LabState, Precession

FREE = (
    Shape(
        key="circle",
        title="Circle",
        state=LabState((Precession(1.0, 60.0, 200.0),), title="Circle"),
        makes="Unbalance, as a rule, on supports that are about as stiff in every direction.",
        waveform="Two sines of one cycle a turn, alike in height, a quarter turn apart.",
        spectrum="One line, at +1X.",
        also="A bowed shaft, or a track under the probes that is eccentric.",
        tells_apart="Speed: unbalance grows with it; a bow or an eccentric track is there at slow "
        "roll already.",
        source="Jeffcott 1919; Friswell et al., Dynamics of Rotating Machines, 2010, chapter 6",
        how_sure="from memory",
    ),
    Shape(
        key="ellipse",
        title="Ellipse",
        state=LabState((Precession(1.0, 60.0, 200.0, 20.0, 90.0),), title="Ellipse"),
        makes="Unbalance, usually, on supports that are stiffer one way than the other: most "
        "machines with plain bearings look like this.",
        waveform="Two sines of unlike height, not quite a quarter turn apart.",
        spectrum="A large line at +1X, a smaller one at -1X.",
        also="A mild radial load; two probes of which one has a wrong scale factor.",
        tells_apart="The shape over speed and load, and a check of the probes' scale factors.",
        source="Friswell et al., Dynamics of Rotating Machines, 2010, chapter 6",
        how_sure="from memory",
    ),
    Shape(
        key="line",
        title="Line",
        state=LabState((Precession(1.0, 50.0, 30.0, 48.0, 60.0),), title="Line"),
        makes="Often a support near its natural frequency in one direction alone, or a strong load "
        "that lets the shaft move only across it.",
        waveform="Two sines in step, or exactly against each other.",
        spectrum="Lines at +1X and -1X of nearly the same height.",
        also="The same signal on both channels by a fault of the wiring.",
        tells_apart="Speed: near a critical speed it turns round and opens again. A line at "
        "exactly 45° between the probes deserves a look at the wiring.",
        source="Friswell et al., Dynamics of Rotating Machines, 2010, chapter 6",
        how_sure="from memory",
    ),
    Shape(
        key="backward",
        title="Backward ellipse of 1X",
        state=LabState((Precession(1.0, 18.0, 200.0, 50.0, 40.0),), title="Backward 1X"),
        makes="It may be a speed between two critical speeds that unlike supports have split: one "
        "direction is past its own, the other is not.",
        waveform="As of an ellipse, with the other probe leading.",
        spectrum="The larger line at -1X.",
        also="Swapped cables of the two probes, or a wrong rotation in the setup.",
        tells_apart="Real backward motion comes and goes within a narrow range of speeds; a "
        "mistake in wiring or setup stays at all of them.",
        source="Friswell et al., Dynamics of Rotating Machines, 2010, chapter 6; Childs 1993",
        how_sure="from memory",
    ),
    Shape(
        key="inner-loop-2x",
        title="One inner loop from 2X",
        state=LabState(
            (Precession(1.0, 40.0, 200.0),),
            asymmetry_um_pp=32.0,
            asymmetry_at_deg=20.0,
            title="1X and forward 2X",
        ),
        makes="A shaft that is stiffer across one plane than across the other, under its weight: "
        "by its making, or possibly by a crack. It often stands out at half a critical speed.",
        waveform="A high and a low hump in each turn.",
        spectrum="Lines at +1X and +2X.",
        also="Misalignment, a coupling fault, whirl at half the speed (where two turns close the "
        "orbit, not one).",
        tells_apart="One mark on the orbit: it closes within a turn. A change of 1X and 2X over "
        "weeks matters more than the shape.",
        source="Childs 1993; Muszynska, Rotordynamics, 2005",
        how_sure="from memory",
    ),
    Shape(
        key="oil-whirl",
        title="Oil whirl",
        state=LabState(
            (Precession(1.0, 52.0, 200.0),),
            whirl=Precession(0.46, 90.0, 0.0, 6.0, 60.0),
            speed_rpm=5200.0,
            title="Oil whirl",
        ),
        makes="Often a lightly loaded plain bearing, in which the oil carries the shaft round at "
        "just under half its speed.",
        waveform="High and low turns take each other's place, and the pattern creeps.",
        spectrum="A large line at just under +0.5X (figures from 0.38 to 0.49 are in print), a "
        "smaller one at +1X.",
        also="A rub at half the speed (exactly 0.5X), flow-driven vibration, a steady vibration "
        "from a machine nearby.",
        tells_apart="Forward, nearly round, with marks that wander; its frequency goes along with "
        "speed.",
        source="Ehrich, Handbook of Rotordynamics; Vance, Zeidan, Murphy 2010; ranges disagree",
        how_sure="from memory",
    ),
    Shape(
        key="oil-whip",
        title="Oil whip",
        state=LabState(
            (Precession(1.0, 14.0, 200.0),),
            whirl=Precession(0.37, 170.0, 0.0, 14.0, 60.0),
            speed_rpm=8400.0,
            title="Oil whip",
        ),
        makes="Whirl that has come upon a natural frequency of the rotor, typically above twice "
        "its first critical speed, and stays there.",
        waveform="Slow, large swings with small ripples of 1X on them.",
        spectrum="One very large forward line below 0.5X.",
        also="Oil whirl; whirl from seals or from internal friction.",
        tells_apart="Raise or lower the speed within what its owner allows: the line of whip keeps "
        "its frequency in Hz, that of whirl keeps its share of the speed.",
        source="Ehrich, Handbook of Rotordynamics; Muszynska, Rotordynamics, 2005",
        how_sure="from memory",
    ),
    Shape(
        key="half-forward",
        title="Half speed, forward",
        state=LabState(
            (Precession(1.0, 45.0, 200.0),),
            whirl=Precession(0.5, 50.0, 30.0),
            title="Forward at half the speed",
        ),
        makes="Exactly half the speed can be a light rub or a looseness that catches every second "
        "turn.",
        waveform="Every second turn is the same, the one between differs.",
        spectrum="A line at exactly +0.5X, often with 1.5X and 2.5X.",
        also="Oil whirl that comes close to half.",
        tells_apart="Two marks that stand still; of whirl they wander.",
        source="Muszynska, Rotordynamics, 2005; loops are geometry",
        how_sure="from memory",
    ),
    Shape(
        key="half-backward",
        title="Half speed, backward",
        state=LabState(
            (Precession(1.0, 45.0, 200.0),),
            whirl=Precession(0.5, 0.0, 0.0, 50.0, 30.0),
            title="Backward at half the speed",
        ),
        makes="Backward motion below 1X may come from dry friction at a seal or guard, which "
        "drives the shaft against its rotation.",
        waveform="Like the forward case: only the two probes together tell them apart.",
        spectrum="A line at -0.5X: a one-sided spectrum cannot show that.",
        also="Swapped cables with a forward whirl (then 1X looks backward, too).",
        tells_apart="Three loops on the outside, where a forward whirl has one on the inside.",
        source="Muszynska, Rotordynamics, 2005; loops are geometry",
        how_sure="from memory",
    ),
    Shape(
        key="third-forward",
        title="A third of the speed, forward",
        state=LabState(
            (Precession(1.0, 42.0, 200.0),),
            whirl=Precession(1.0 / 3.0, 70.0, 30.0),
            title="Forward at a third of the speed",
        ),
        makes="It can be a rub or a looseness that locks to every third turn, mostly above a "
        "multiple of a natural frequency.",
        waveform="The pattern repeats after three turns.",
        spectrum="A line at +1/3X, often with 2/3X.",
        also="A whirl of a seal at about a third of the speed.",
        tells_apart="Two inner loops and three marks; they stand still only if it is exactly a "
        "third.",
        source="Muszynska, Rotordynamics, 2005; loops are geometry",
        how_sure="from memory",
    ),
    Shape(
        key="breathing",
        title="Orbit that breathes",
        state=LabState(
            (Precession(1.0, 50.0, 200.0),),
            whirl=Precession(0.96, 28.0, 0.0),
            title="Two lines close together",
        ),
        makes="Two vibrations close in frequency, often this shaft's and one that a machine of "
        "nearly the same speed brings in.",
        waveform="Beating: the height swells and shrinks over many turns.",
        spectrum="Two lines side by side; a short spectrum shows one of them.",
        also="A load or a speed that hunts.",
        tells_apart="A long spectrum parts them; beating has a steady rhythm.",
        source="common practice",
        how_sure="common practice",
    ),
)
