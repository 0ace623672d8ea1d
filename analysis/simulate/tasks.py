"""Short exercises of the Lab: a question, what is shown, and a check of the answer.

Each is made of a seed, so that every try differs and can be made again. Answers are checked against
the truth of the state; a wrong one is told what it would have been right for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.rotor.vectors import amplitude_and_lag

from .alarm_task import alarm_recipes, alarm_verdict
from .lab import compose
from .lab_recipe import recipe_of
from .lab_state import LabState, Precession, SurfaceMark
from .recipe import Recipe
from .task_parts import Answer, Ask, TaskKind, Verdict, lag_between, lag_words, number_of

KINDS: dict[TaskKind, str] = {
    "phase_lag": "Read a phase lag",
    "precession": "Forward or backward?",
    "swapped": "Find the swapped probes",
    "slow_roll": "Take off the slow roll",
    "alarm": "Set an alarm",
}
"""The kinds of task, with their titles, easiest first."""

_LAG_WITHIN_DEG = 6.0
_AMPLITUDE_WITHIN = 0.04
_UM_WITHIN = 1.0


@dataclass(frozen=True)
class Task:
    """A task: `states` are what it shows, in order; `asks` the fields of its answer.

    `hint` may be shown on request.
    """

    kind: TaskKind
    seed: int
    title: str
    question: str
    hint: str
    states: tuple[LabState, ...]
    asks: tuple[Ask, ...]

    @property
    def recipes(self) -> tuple[Recipe, ...]:
        """What it shows as recipes, to be opened as captures on the other pages."""
        if self.kind == "alarm":
            return alarm_recipes(self.seed, self.states[0])
        return tuple(recipe_of(state) for state in self.states)


def make_task(kind: TaskKind, seed: int) -> Task:
    """The task of a kind and a seed; the same seed makes the same task."""
    # A stream of its own for each kind.
    random = np.random.default_rng([seed, list(KINDS).index(kind)])
    makers = {
        "phase_lag": _phase_lag,
        "precession": _precession,
        "swapped": _swapped,
        "slow_roll": _slow_roll,
        "alarm": _alarm,
    }
    return makers[kind](random, seed)


def check_answer(task: Task, answer: Answer) -> Verdict:
    """Whether an answer (field name to value) is right, and why.

    Never raises for what a person can type: a missing or odd value is a wrong answer that says so.
    """
    for ask in task.asks:
        if ask.choices and answer.get(ask.name) not in ask.choices:
            return Verdict(False, f"Choose one of: {', '.join(ask.choices)}.")
        if not ask.choices and number_of(answer, ask.name) is None:
            return Verdict(False, f"{ask.label} needs a number.")
    checks = {
        "phase_lag": _check_phase_lag,
        "precession": _check_precession,
        "swapped": _check_swapped,
        "slow_roll": _check_slow_roll,
        "alarm": _check_alarm,
    }
    return checks[task.kind](task, answer)


def _first_order(random: np.random.Generator, forward_um: float, backward_um: float) -> Precession:
    at, back_at = (float(angle) for angle in random.uniform(0.0, 360.0, 2))
    return Precession(1.0, forward_um, at, backward_um, back_at)


def _some_shaft(random: np.random.Generator, seed: int, title: str) -> LabState:
    forward = float(random.uniform(45.0, 75.0))
    return LabState(
        motions=(_first_order(random, forward, forward * float(random.uniform(0.1, 0.4))),),
        rotation="cw" if random.random() < 0.5 else "ccw",
        speed_rpm=float(round(random.uniform(1500.0, 5000.0))),
        noise_um_rms=0.3,
        seed=seed,
        title=title,
    )


# ---- read a phase lag --------------------------------------------------------------------------


def _phase_lag(random: np.random.Generator, seed: int) -> Task:
    state = _some_shaft(random, seed, "Task: phase lag")
    small = Precession(2.0, float(random.uniform(2.0, 6.0)), float(random.uniform(0.0, 360.0)))
    state = replace(state, motions=(*state.motions, small))
    name = state.probes[0].name
    return Task(
        "phase_lag",
        seed,
        KINDS["phase_lag"],
        f"What is the phase lag of 1X at {name}?",
        "From a once-per-turn mark go on in time to the next positive peak of the 1X: the shaft at "
        "its nearest to the probe. That share of a turn, times 360.",
        (state,),
        (Ask("lag_deg", f"Lag of 1X at {name}", "°"),),
    )


def _check_phase_lag(task: Task, answer: Answer) -> Verdict:
    reading = compose(task.states[0]).readings[task.states[0].probes[0].name]
    _, lag = amplitude_and_lag(reading.vectors[1])
    given = number_of(answer, "lag_deg")
    assert given is not None  # check_answer saw to it
    right = lag_between(given, lag) <= _LAG_WITHIN_DEG
    return Verdict(right, lag_words(given, lag, _LAG_WITHIN_DEG))


# ---- forward or backward -----------------------------------------------------------------------


def _precession(random: np.random.Generator, seed: int) -> Task:
    state = _some_shaft(random, seed, "Task: precession")
    if random.random() < 0.5:
        line = state.motions[0]
        turned = Precession(1.0, line.backward_um_pp, line.forward_at_deg, line.forward_um_pp)
        state = replace(state, motions=(turned,))
    turns = "counter-clockwise" if state.rotation == "ccw" else "clockwise"
    return Task(
        "precession",
        seed,
        KINDS["precession"],
        f"The shaft turns {turns}, seen from the driver end. Does its 1X orbit run forward or "
        f"backward?",
        "Follow the orbit from a mark on: the way it goes round against the way the shaft turns. "
        "Or see which of +1X and -1X is the higher one.",
        (state,),
        (Ask("precession", "The orbit runs", choices=("forward", "backward")),),
    )


def _check_precession(task: Task, answer: Answer) -> Verdict:
    ellipse = compose(task.states[0]).shaft_ellipse
    forward, backward = 2.0 * abs(ellipse.forward), 2.0 * abs(ellipse.backward)
    told = f"the forward circle is {forward:.1f} µm p-p, the backward one {backward:.1f} µm p-p"
    if answer["precession"] == ellipse.precession:
        return Verdict(True, f"Right: {told}.")
    return Verdict(False, f"It runs {ellipse.precession}: {told}.")


# ---- find the swapped probes -------------------------------------------------------------------

_PLANES = ("A", "B", "C")


def _swapped(random: np.random.Generator, seed: int) -> Task:
    wrong = int(random.integers(len(_PLANES)))
    first = _some_shaft(random, seed, "Task: plane A")
    states = []
    for place, plane in enumerate(_PLANES):
        forward = float(random.uniform(35.0, 75.0))
        backward = forward * float(random.uniform(0.15, 0.5))
        states.append(
            replace(
                first,
                motions=(_first_order(random, forward, backward),),
                swapped=place == wrong,
                seed=seed + place,
                title=f"Task: plane {plane}",
            )
        )
    return Task(
        "swapped",
        seed,
        KINDS["swapped"],
        "Three planes of one shaft far from its critical speeds, where nothing but unbalance moves "
        "it, so that it must run forward in all of them. In which one have the cables of the two "
        "probes changed places?",
        "Swapped cables show the orbit in a mirror.",
        tuple(states),
        (Ask("plane", "Swapped in plane", choices=_PLANES),),
    )


def _check_swapped(task: Task, answer: Answer) -> Verdict:
    seen = [compose(state).seen_ellipse.precession for state in task.states]
    wrong = _PLANES[[state.swapped for state in task.states].index(True)]
    runs = ", ".join(f"{p} {way}" for p, way in zip(_PLANES, seen, strict=True))
    right = answer["plane"] == wrong
    return Verdict(right, f"{'Right: it' if right else 'It'} is plane {wrong}; 1X runs: {runs}.")


# ---- take off the slow roll --------------------------------------------------------------------


def _slow_roll(random: np.random.Generator, seed: int) -> Task:
    running = _some_shaft(random, seed, "Task: at speed")
    surface = SurfaceMark(float(random.uniform(14.0, 26.0)), float(random.uniform(0.0, 360.0)))
    running = replace(running, surface=surface)
    slow = replace(running, motions=(), speed_rpm=400.0, title="Task: slow roll", seed=seed + 1)
    name = running.probes[0].name
    return Task(
        "slow_roll",
        seed,
        KINDS["slow_roll"],
        f"The first picture is slow roll, the second the same shaft at {running.speed_rpm:.0f} "
        f"r/min. What is 1X at {name} with the slow roll taken off?",
        "Subtract the vectors, not their lengths: A cos and A sin of the lag, each by itself.",
        (slow, running),
        (Ask("um_pp", "1X without slow roll", "µm p-p"), Ask("lag_deg", "Its phase lag", "°")),
    )


def _check_slow_roll(task: Task, answer: Answer) -> Verdict:
    slow, running = (
        compose(state).readings[state.probes[0].name].vectors[1] for state in task.states
    )
    amplitude, lag = amplitude_and_lag(running - slow)
    given, given_lag = number_of(answer, "um_pp"), number_of(answer, "lag_deg")
    assert given is not None  # check_answer saw to both
    assert given_lag is not None

    def near(value: float) -> bool:
        return abs(given - value) <= max(_UM_WITHIN, _AMPLITUDE_WITHIN * value)

    if near(amplitude) and lag_between(given_lag, lag) <= _LAG_WITHIN_DEG:
        return Verdict(True, f"Right: {amplitude:.1f} µm p-p at {lag:.0f}°.")
    told = f"It is {amplitude:.1f} µm p-p at {lag:.0f}°"
    if near(amplitude):
        return Verdict(False, f"The amplitude is right. {lag_words(given_lag, lag, 0.0)}")
    for value, why in (
        (abs(running), "that is what was measured, with the slow roll still in it"),
        (abs(running) - abs(slow), "lengths were subtracted, where vectors must be"),
        (abs(running + slow), "the slow roll was added"),
    ):
        if near(value):
            return Verdict(False, f"{told}: {why}.")
    return Verdict(False, f"{told}.")


# ---- set an alarm ------------------------------------------------------------------------------


def _alarm(random: np.random.Generator, seed: int) -> Task:
    state = replace(_some_shaft(random, seed, "Task: alarm"), noise_um_rms=0.2, speed_rpm=1800.0)
    name = state.probes[0].name
    return Task(
        "alarm",
        seed,
        KINDS["alarm"],
        f"Two captures of one probe, {name}. In the first a bump passes, which must not set the "
        f"alarm. In the second the vibration rises and stays, which must set it. Choose the level "
        f"and the delay of a p-p alarm. The pictures here show the steady motion before; what "
        f"comes then is on the Alarms page: open either capture on the other pages.",
        "A level above the bump needs no delay; a delay longer than the bump needs no high level. "
        "One of the two may not be possible. How an alarm of a real machine is set is for its "
        "owner and maker to say.",
        (state,),
        (Ask("above_um", "Alarm above", "µm p-p"), Ask("delay_s", "Delay", "s")),
    )


def _check_alarm(task: Task, answer: Answer) -> Verdict:
    return alarm_verdict(task.recipes, task.states[0].probes[0].name, answer)
