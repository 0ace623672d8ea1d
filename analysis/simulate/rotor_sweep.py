"""A rotor run through its speeds in time, and as a recipe for the other pages."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.results import Complexes, Floats

from .lab_recipe import PLANE, recipe_of
from .lab_state import LabState, Precession
from .recipe import Recipe
from .rotor_model import RPM, UM, Rotor, Station, fastest_growth, steady_response, system_matrix

_PIECES = 50
_TABLE_ROWS = 600


@dataclass(frozen=True)
class Sweep:
    """A run at constant acceleration, down when `to_rpm` is the lower one.

    `points_per_turn` are those of the fastest turn.
    """

    from_rpm: float = 600.0
    to_rpm: float = 5400.0
    seconds: float = 20.0
    points_per_turn: int = 32

    def __post_init__(self) -> None:
        if min(self.from_rpm, self.to_rpm) < 0.0 or max(self.from_rpm, self.to_rpm) > 60_000.0:
            raise ValueError("speeds go from 0 to 60000 r/min")
        if not 0.1 <= self.seconds <= 600.0 or not 8 <= self.points_per_turn <= 256:
            raise ValueError("a sweep takes 0.1 to 600 s, with 8 to 256 points a turn")

    def speed_rad_s(self, time_s: Floats) -> Floats:
        """Speed at times from the start."""
        out: Floats = RPM * self.from_rpm + self.acceleration * time_s
        return out

    def angle(self, time_s: Floats) -> Floats:
        """Shaft angle from the start, rad."""
        out: Floats = RPM * self.from_rpm * time_s + self.acceleration * time_s**2 / 2.0
        return out

    @property
    def acceleration(self) -> float:
        """Angular acceleration, rad/s²."""
        return RPM * (self.to_rpm - self.from_rpm) / self.seconds


@dataclass(frozen=True, eq=False)
class SweepPath:
    """Motion over a sweep; arrays of shape (n,). Places are `x + jy`, µm, the load's sag included.

    `stopped` says why the path ends early, `None` when it does not.
    """

    time_s: Floats
    speed_rpm: Floats
    turns: Floats
    disc: Complexes
    journal: Complexes
    stopped: str | None


def sweep(
    rotor: Rotor, run: Sweep, *, clearance_um: float = 1000.0, progress: Progress = SILENT
) -> SweepPath:
    """Integrate the rotor over a run, from the steady state at its first speed.

    It ends where the disc is further than `clearance_um` from the middle, since an unstable rotor
    goes there at once, and nothing linear holds there.

    Source of the integrator: LSODA, as in `scipy.integrate.solve_ivp` (relative tolerance 1e-7).

    Raises:
        JobCancelled: when `progress` asks for it.
    """
    from scipy.integrate import solve_ivp

    equations = _Equations(rotor, run)
    state = _steady_start(rotor, run)
    rate = run.points_per_turn * max(run.from_rpm, run.to_rpm, 60.0) / 60.0
    times = np.arange(int(run.seconds * rate) + 1) / rate
    found = [state[:, None]]
    stopped = None
    for piece in np.array_split(np.arange(1, len(times)), _PIECES):
        if len(piece) == 0:
            continue
        progress.report(float(piece[0]) / len(times), "running the rotor")
        begin = times[piece[0] - 1]
        solved = solve_ivp(
            equations,
            (begin, times[piece[-1]]),
            state,
            method="LSODA",
            t_eval=times[piece],
            rtol=1e-7,
            atol=1e-12,
        )
        state = solved.y[:, -1]
        away = np.hypot(solved.y[0], solved.y[1]) / UM
        beyond = np.flatnonzero(~(away <= clearance_um))
        stop = len(away) if len(beyond) == 0 else int(beyond[0])
        found.append(solved.y[:, :stop])
        if len(beyond):
            stopped = f"the disc goes more than {clearance_um:g} µm from the middle"
            break
    states = np.concatenate(found, axis=1)
    times = times[: states.shape[1]]
    progress.report(1.0, "ran the rotor")
    return SweepPath(
        time_s=times,
        speed_rpm=run.speed_rad_s(times) / RPM,
        turns=run.angle(times) / (2.0 * math.pi),
        disc=(states[0] + 1j * states[1]) / UM,
        journal=(states[4] + 1j * states[5]) / UM,
        stopped=stopped,
    )


class _Equations:
    """`z' = A(ω) z + forces(t)`, with what does not change worked out once."""

    def __init__(self, rotor: Rotor, run: Sweep) -> None:
        self._rotor, self._run = rotor, run
        self._still = system_matrix(rotor, 0.0)
        # The matrix goes straight with speed.
        self._with_speed = system_matrix(rotor, 1.0) - self._still
        load_at = math.radians(rotor.load_at_deg)
        self._load = rotor.load_n / rotor.mass_kg * complex(math.cos(load_at), math.sin(load_at))
        self._heavy = _arrow(rotor.eccentricity_um, rotor.eccentricity_at_deg)
        self._bow = rotor.shaft_n_per_m * _arrow(rotor.bow_um, rotor.bow_at_deg)

    def __call__(self, time_s: float, state: Floats) -> Floats:
        rotor, run = self._rotor, self._run
        speed = RPM * run.from_rpm + run.acceleration * time_s
        angle = RPM * run.from_rpm * time_s + run.acceleration * time_s * time_s / 2.0
        turned = complex(math.cos(angle), rotor.sign * math.sin(angle))
        # The mass centre's own acceleration about the shaft centre, felt the other way.
        inertia = self._heavy * (speed * speed - 1j * rotor.sign * run.acceleration)
        disc = (inertia + self._bow / rotor.mass_kg) * turned + self._load
        journal = -self._bow * turned
        cx, cy = rotor.support_ns_per_m
        out: Floats = (self._still + speed * self._with_speed) @ state
        out += (0.0, 0.0, disc.real, disc.imag, journal.real / cx, journal.imag / cy)
        return out


def _arrow(length_um: float, at_deg: float) -> complex:
    angle = math.radians(at_deg)
    return length_um * UM * complex(math.cos(angle), math.sin(angle))


def _steady_start(rotor: Rotor, run: Sweep) -> Floats:
    speeds = np.array([run.from_rpm])
    disc, journal = steady_response(rotor, speeds), steady_response(rotor, speeds, "journal")
    speed = RPM * run.from_rpm
    x, y, mean = disc.x[0], disc.y[0], disc.mean[0]
    velocity = (1j * speed * x).real, (1j * speed * y).real
    journal_at = journal.x[0].real + journal.mean[0].real, journal.y[0].real + journal.mean[0].imag
    return np.array([x.real + mean.real, y.real + mean.imag, *velocity, *journal_at]) * UM


def turn_circles(path: SweepPath, places: Complexes, sign: float) -> tuple[Floats, Complexes]:
    """1X of every whole turn of a sweep, for a Bode or polar picture of the run itself.

    Args:
        path: the sweep.
        places: `path.disc` or `path.journal`.
        sign: +1 for a shaft that turns counter-clockwise.

    Returns:
        Speeds in the middle of the turns, r/min, shape (r,), and forward and backward circles, µm
        zero to peak, shape (2, r).
    """
    starts = np.arange(math.ceil(path.turns[0]), math.floor(path.turns[-1]) + 1)
    points = 128
    grid = (starts[:-1, None] + np.arange(points) / points).ravel()
    even = np.interp(grid, path.turns, places.real) + 1j * np.interp(grid, path.turns, places.imag)
    speeds = np.interp((starts[:-1] + starts[1:]) / 2.0, path.turns, path.speed_rpm)
    turned = np.exp(-2j * np.pi * np.arange(points) / points)
    rows = even.reshape(len(starts) - 1, points)
    counter_clockwise, clockwise = rows @ turned / points, rows @ turned.conj() / points
    pair = (counter_clockwise, clockwise) if sign > 0 else (clockwise, counter_clockwise)
    return speeds, np.array(pair)


def recipe_of_run(rotor: Rotor, run: Sweep, state: LabState | None = None) -> Recipe:
    """A recipe of the run, as probes at the journal see it: response and place at each speed.

    Taken as steady at the speed of each instant, with two seconds of hold at either end. Probes,
    surface and noise are those of `state`.

    Raises:
        ValueError: when the rotor is unstable somewhere in the run: there is no steady state there.
    """
    speeds = np.linspace(min(run.from_rpm, run.to_rpm), max(run.from_rpm, run.to_rpm), _TABLE_ROWS)
    for speed in speeds[:: _TABLE_ROWS // 30]:
        if fastest_growth(rotor, float(speed)) > 0.0:
            raise ValueError(f"the rotor is unstable at {speed:.0f} r/min: end the run below that")
    hold, end = 2.0, run.seconds + 4.0
    base = recipe_of(_as_recorded(rotor, run, state or LabState()), duration_s=end)
    found = steady_response(rotor, speeds, "journal")
    table = np.column_stack(
        [
            speeds,
            *(
                part
                for circle in (found.forward, found.backward)
                for part in (circle.real, circle.imag)
            ),
        ]
    )
    points = (
        (0.0, run.from_rpm),
        (hold, run.from_rpm),
        (end - hold, run.to_rpm),
        (end, run.to_rpm),
    )
    times = np.linspace(hold, end - hold, 200)
    at = np.interp(times, (hold, end - hold), (run.from_rpm, run.to_rpm))
    mean = np.interp(at, speeds, found.mean.real) + 1j * np.interp(at, speeds, found.mean.imag)
    plane = {
        "name": PLANE,
        "response": ({"order": 1.0, "table": tuple(map(tuple, table.tolist()))},),
        "moved_x_um": tuple(zip(times.tolist(), mean.real.tolist(), strict=True)),
        "moved_y_um": tuple(zip(times.tolist(), mean.imag.tolist(), strict=True)),
    }
    content = base.model_dump(exclude={"plane", "speed"})
    speed_part = {"points": points, "start_angle_deg": -180.0}
    return Recipe.model_validate({**content, "plane": (plane,), "speed": speed_part})


def state_at(
    rotor: Rotor, speed_rpm: float, state: LabState | None = None, station: Station = "journal"
) -> LabState:
    """The orbit of the rotor at a constant speed as a state of the Lab, about its mean position.

    Probes, surface and noise are those of `state`.

    Raises:
        ValueError: when the rotor is unstable at that speed.
    """
    if fastest_growth(rotor, speed_rpm) > 0.0:
        raise ValueError(f"the rotor is unstable at {speed_rpm:.0f} r/min: it has no steady orbit")
    found = steady_response(rotor, np.array([speed_rpm]), station)
    forward, backward = complex(found.forward[0]), complex(found.backward[0])
    line = Precession(
        1.0,
        2.0 * abs(forward),
        math.degrees(cmath.phase(forward)),
        2.0 * abs(backward),
        math.degrees(cmath.phase(backward)),
    )
    recorded = _as_recorded(rotor, Sweep(speed_rpm, speed_rpm), state or LabState())
    return replace(recorded, motions=(line,), speed_rpm=speed_rpm)


def _as_recorded(rotor: Rotor, run: Sweep, state: LabState) -> LabState:
    """A state whose recipe has the recording, at the fastest speed, and nothing that moves."""
    return replace(
        state,
        motions=(),
        whirl=None,
        asymmetry_um_pp=0.0,
        preload=None,
        stop=None,
        rotation=rotor.rotation,
        rotation_wrong=False,
        speed_rpm=max(run.from_rpm, run.to_rpm, 60.0),
    )
