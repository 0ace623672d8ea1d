"""The strip above the ribbons in which resets are placed and taken off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt

from .layers import Label, Rule, Shape, circle, crisp
from .limit_words import limit_name
from .state_rows import LANE
from .style import brush, colour, font, rule, text_size

if TYPE_CHECKING:
    from analysis.model.replay_results import ReplayResult

    from .canvas import Canvas
    from .palette import Palette

_RADIUS = 4.0
_HINT = "press here to place a reset"
_SAME_S = 1e-6


def freed_by(shown: ReplayResult, in_force: ReplayResult, time_s: float) -> list[str]:
    """The limits that a reset at this time let go of, as shown and with the settings in force."""
    first = _freed(shown, time_s)
    if in_force is shown:
        return first
    return first + [f"{name} (in force)" for name in _freed(in_force, time_s) if name not in first]


def _freed(replay: ReplayResult, time_s: float) -> list[str]:
    return [
        limit_name(replay.setup.limit[event.index])
        for event in replay.events
        if event.event == "reset"
        and event.index is not None
        and abs(event.time_s - time_s) < _SAME_S
    ]


class ResetLane:
    """Lays the resets: filled where they let go of something, hollow where of nothing."""

    def lay(
        self, shown: ReplayResult, in_force: ReplayResult, canvas: Canvas, colours: Palette
    ) -> tuple[list[Rule], list[Shape], list[Label]]:
        """A line down through the ribbons, a knob and the word of each reset."""
        rect = canvas.data_rect()
        rules: list[Rule] = []
        shapes: list[Shape] = []
        labels: list[Label] = []
        middle = rect.top() + LANE / 2.0
        dashed = rule(colours.accent, Qt.PenStyle.DashLine)
        places = [(canvas.to_pixels(time_s, 0.0).x(), time_s) for time_s in shown.resets_s]
        seen = sorted(each for each in places if rect.left() <= each[0] <= rect.right())
        for rank, (at, time_s) in enumerate(seen):
            freed = bool(freed_by(shown, in_force, time_s))
            x = crisp(at)
            rules.append(Rule(QLineF(x, middle + _RADIUS, x, rect.bottom()), dashed))
            fill = brush(colours.accent if freed else colours.card)
            shapes.append(circle(QPointF(x, middle), _RADIUS, rule(colours.accent), fill))
            free = seen[rank + 1][0] - _RADIUS if rank + 1 < len(seen) else rect.right()
            texts = ("reset",) if freed else ("reset, nothing to let go of", "reset")
            for text in texts:
                width, height = text_size(text, "tiny")
                if at + _RADIUS + 4.0 + width + 4.0 <= free:
                    box = QRectF(at + _RADIUS + 4.0, middle - height / 2.0, width, height)
                    labels.append(Label(text, box, colour(colours.accent_ink), font("tiny")))
                    break
        if not places and text_size(_HINT, "tiny")[0] + 12.0 <= rect.width():
            width, height = text_size(_HINT, "tiny")
            box = QRectF(rect.left() + 6.0, middle - height / 2.0, width, height)
            labels.append(Label(_HINT, box, colour(colours.muted), font("tiny")))
        return rules, shapes, labels

    def name(self, canvas: Canvas, colours: Palette) -> Label:
        """The word left of the strip."""
        rect = canvas.data_rect()
        box = QRectF(2.0, rect.top() + LANE / 2.0 - 7.0, rect.left() - 10.0, 14.0)
        right = Qt.AlignmentFlag.AlignRight
        return Label("resets", box, colour(colours.muted), font("tiny"), right)
