"""What the pictures of the Position page share: how margins, shares and states are written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPen

from analysis.model.units import LengthUnit

from .axes import plain_number
from .fonts import Role, font, text_size
from .layers import Rule, crisp
from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.position_results import Finding, RangeUse, Severity

    from .canvas import Canvas

SEVERITY_RANKS: Final[dict[Severity, int]] = {"severe": 0, "warning": 1, "note": 2, "in_order": 3}

SEVERITY_STATES: Final[dict[Severity, str]] = {
    "severe": "trip",
    "warning": "alarm",
    "note": "unknown",
    "in_order": "normal",
}
"""The colour of a severity; it is no state of a limit, and is never called one."""

SEVERITY_SHAPES: Final[dict[Severity, str]] = {
    "severe": "◆",
    "warning": "▲",
    "note": "–",
    "in_order": "–",
}

TOPIC_WORDS: Final = {
    "fault": "circuit fault",
    "clipping": "cut",
    "outside": "outside",
    "hidden": "reads low",
    "margin": "at the edge",
    "forecast": "little room",
    "cut_before_limit": "cut before limit",
    "slope": "slope off",
    "clearance": "clearance",
    "rest": "rest assumed",
    "thrust": "disagrees",
    "loop": "loop",
}
"""What is wrong, in a word or two."""

_RANGE_TOPICS = ("fault", "clipping", "outside", "hidden", "margin", "forecast", "slope")


@dataclass(frozen=True)
class RangeState:
    """Shape, word and severity of a probe on its linear range."""

    severity: Severity
    word: str

    @property
    def text(self) -> str:
        """As it is written."""
        return f"{SEVERITY_SHAPES[self.severity]} {self.word}"


IN_RANGE: Final = RangeState("in_order", "inside")


def range_state(use: RangeUse | None, findings: Iterable[Finding], name: str) -> RangeState:
    """What the worst finding about a probe's range says of it in a word."""
    mine = [
        each
        for each in findings
        if each.subject == name and each.topic in _RANGE_TOPICS and each.severity != "in_order"
    ]
    loud = [each for each in mine if each.severity != "note"]
    if loud:
        # Of equal ones the word that says most about the place comes first.
        worst = min(loud, key=lambda f: (SEVERITY_RANKS[f.severity], _word_rank(f.topic)))
        return RangeState(worst.severity, TOPIC_WORDS[worst.topic])
    if use is None:
        return RangeState("note", "not known")
    if use.margin_um is None:
        return RangeState("note", "no range given")
    return IN_RANGE


def _word_rank(topic: str) -> int:
    order = ("fault", "outside", "clipping", "hidden", "margin", "forecast", "slope")
    return order.index(topic)


def share_text(share: float | None) -> str:
    """A share of the range in per cent, a decimal below ten."""
    if share is None:
        return "–"
    percent = 100.0 * share
    return f"{plain_number(percent, 1 if abs(percent) < 9.95 else 0)} %"


def margin_text(margin_um: float | None, share: float | None, unit: LengthUnit) -> str:
    """A margin with its share of the range: `35 µm 1.7 %`."""
    if margin_um is None:
        return "–"
    return f"{length_text(margin_um, unit)} {share_text(share)}"


def factor_text(mv_per_um: float, unit: LengthUnit) -> str:
    """A scale factor in the reader's unit: `7.874 mV/µm`, `200.0 mV/mil`."""
    decimals = 3 if unit is LengthUnit.UM else 1
    return f"{plain_number(mv_per_um / unit.per_um, decimals)} mV/{unit.value}"


def seconds_text(seconds: float) -> str:
    """A length of time, fit to read: `0.012 s`, `3.2 s`, `48 s`."""
    if seconds < 0.0995:
        return f"{plain_number(1000.0 * seconds, 0)} ms"
    return f"{plain_number(seconds, 2 if seconds < 0.995 else 1 if seconds < 99.5 else 0)} s"


def use_text(use: RangeUse | None, unit: LengthUnit) -> str:
    """A probe's gap over some turns, whole, in one line."""
    if use is None:
        return "no reading"
    words = [
        f"mean {length_text(use.mean_um, unit)}",
        f"{length_text(use.min_um, unit)} to {length_text(use.max_um, unit)}",
        f"near end {margin_text(use.near_margin_um, use.near_share, unit)}",
        f"far end {margin_text(use.far_margin_um, use.far_share, unit)}",
    ]
    if use.near_margin_um is None:
        words[2:] = ["no linear range in the setup"]
    if use.outside_turns:
        words.append(f"outside {seconds_text(use.outside_s)}, {use.outside_turns} turns")
    return " · ".join(words)


def cut_to(text: str, room: float, role: Role = "small") -> str:
    """The text, with an ellipsis where it is longer than the room, pixels."""
    if text_size(text, role)[0] <= room:
        return text
    return QFontMetricsF(font(role)).elidedText(text, Qt.TextElideMode.ElideRight, room)


def wrapped(text: str, room: float) -> str:
    """The text in lines no longer than the room, pixels, where words allow it."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if text_size(longer, "small")[0] > room and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = longer
    return "\n".join(lines)


def whole_degrees(angle: float) -> str:
    """Whole degrees, 0 up to but not 360."""
    return f"{round(angle) % 360}"


def upright_grid(canvas: Canvas, rect: QRectF, pen: QPen) -> tuple[Rule, ...]:
    """Grid lines at the ticks of the bottom axis alone."""
    places = (crisp(canvas.to_pixels(x, 0.0).x()) for x in canvas.bottom.grid_positions())
    return tuple(Rule(QLineF(x, rect.top(), x, rect.bottom()), pen) for x in places)
