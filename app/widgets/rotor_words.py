"""What the Lab's rotor does, in plain words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from app.plots.axes import plain_number

from .lab_words import headline

if TYPE_CHECKING:
    from analysis.model.units import LengthUnit
    from analysis.simulate.rotor_model import Mode
    from analysis.simulate.rotor_view import RotorAnswer, RotorMoment, RunAnswer
    from app.plots.lab_view import LabView

_ROUND, _FLAT = 0.9, 0.1


def rotor_finding(view: LabView, moment: RotorMoment, unit: LengthUnit) -> str:
    """What the journal does at the speed looked at."""
    told = headline(view, unit)
    return f"At {moment.speed_rpm:.0f} r/min: {told}"


def rotor_remarks(answer: RotorAnswer, moment: RotorMoment, run: RunAnswer | None) -> list[str]:
    """Critical speeds, stability, and what became of a run."""
    lines = []
    if moment.growth_per_s > 0.0:
        lines.append(
            f"▲ Unstable at this speed: a whirl grows by itself, twofold every "
            f"{1000.0 * math.log(2.0) / moment.growth_per_s:.0f} ms, whatever the unbalance does."
        )
    if not answer.complete:
        lines.append("Looking for critical speeds and for the threshold of stability…")
    else:
        lines.append(" ".join((_criticals(answer), _threshold(answer))))
    if run is not None:
        how = run.stopped or "dashed: the run in time, late and a little lower than held speeds"
        lines.append(f"Run: {how}.")
    return lines


NO_MODES = "Nothing swings by itself: what is pushed creeps back."


def mode_lines(modes: tuple[Mode, ...], speed_rpm: float) -> str:
    """The free vibrations, one a line."""
    lines = [", ".join(mode_words(mode, speed_rpm)) for mode in modes]
    return "\n".join(lines) if lines else NO_MODES


def mode_words(mode: Mode, speed_rpm: float) -> tuple[str, str, str]:
    """Pace, shape and damping of a free vibration; told when it grows by itself."""
    share = mode.share_forward
    if abs(share) >= _ROUND:
        shape = f"{'forward' if share > 0 else 'backward'} circle"
    elif abs(share) <= _FLAT:
        shape = "to and fro on a line"
    else:
        shape = f"{'forward' if share > 0 else 'backward'} ellipse"
    ratio = f" = {mode.frequency_rpm / speed_rpm:.2f}X" if speed_rpm > 0 else ""
    damping = f"damping {plain_number(100.0 * mode.damping_ratio, 1)} %"
    told = f"▲ grows: {damping}" if mode.growth_per_s > 0.0 else f"{damping} of critical"
    return f"{mode.frequency_rpm:.0f} per min{ratio}", shape, told


def _criticals(answer: RotorAnswer) -> str:
    found = []
    for name, criticals in answer.criticals.items():
        for each in criticals:
            factor = each.amplification_factor
            words = f"{each.speed_rpm:.0f} r/min" + (f" (AF {factor:.1f})" if factor else "")
            found.append(f"{name} {words}")
    return f"Critical speeds: {', '.join(found)}." if found else "No critical speed in this run."


def _threshold(answer: RotorAnswer) -> str:
    if answer.threshold_rpm is None:
        return "Stable at every speed up to 30 000 r/min."
    if answer.threshold_rpm == 0.0:
        return "▲ Unstable from standstill on: there is no run."
    return f"▲ Stable up to {answer.threshold_rpm:.0f} r/min, above it whirls by itself."
