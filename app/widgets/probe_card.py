"""One card a probe: what it reads at the moment, in a place that never moves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QSizePolicy, QWidget

from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.wording import angle_text

from . import words
from .range_bar import paint_range_bar

if TYPE_CHECKING:
    from analysis.model.results import ProbeReading
    from analysis.model.setup import Probe, Setup

MARGIN = 11.0
LEAST_LINE, BEST_LINE, MOST_LINE = 15.5, 19.0, 23.0
"""Height of a text line: the cards share what room there is."""
PADDING = 12.0
BAR = 15.0


@dataclass(frozen=True)
class CardTexts:
    """The words on a card, in the display unit."""

    state: str
    gap_v: str
    gap: str
    pp: str
    first_order: str

    def spoken(self, name: str) -> str:
        """For a screen reader."""
        return (
            f"{name}: {self.state}, gap {self.gap_v}, {self.gap}, p-p {self.pp}, "
            f"1X {self.first_order}"
        )


def card_texts(
    reading: ProbeReading | None, unit: LengthUnit, *, recorded: bool = True
) -> CardTexts:
    """What a card says of a reading, or of a probe whose channel the capture does not have."""
    if reading is None:
        return CardTexts("" if recorded else "no channel", *(words.DASH,) * 4)
    pp = words.mean_of(reading.peak_to_peak_um)
    return CardTexts(
        state=words.state(reading),
        gap_v=f"{words.number(words.mean_of(reading.gap_v), 2)} V",
        gap=f"{words.short_length(words.mean_of(reading.gap_um), unit)} {unit.value}",
        pp=f"{words.short_length(pp, unit)} {unit.value}",
        first_order=words.vector(reading.vectors.get(1), unit, short=True),
    )


class ProbeCard(QFrame):
    """A probe's name, angle, state, gap, p-p, 1X and range bar. Painted whole: it changes often."""

    activated = Signal(str)

    def __init__(
        self,
        probe: Probe,
        index: int,
        setup: Setup,
        *,
        recorded: bool = True,
        parent: QWidget | None = None,
    ) -> None:
        """`index` is the probe's place in the setup; `recorded`: the capture has its channel."""
        super().__init__(parent)
        self._probe = probe
        self._index = index
        self._setup = setup
        self._reading: ProbeReading | None = None
        self._unit = LengthUnit.UM
        self._theme = style.Theme.LIGHT
        self._recorded = recorded
        self._texts = card_texts(None, self._unit, recorded=recorded)
        self.setProperty("role", "card")
        self.setProperty("chosen", "false")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        self.setMaximumHeight(self._height(MOST_LINE))
        self.setAccessibleName(f"Probe {probe.name}, {angle_text(probe)}")
        self._describe()

    @property
    def probe(self) -> Probe:
        """The probe this card is of."""
        return self._probe

    @property
    def texts(self) -> CardTexts:
        """What the card says."""
        return self._texts

    def sizeHint(self) -> QSize:
        """Wide enough for the longest line, as high as its lines."""
        return QSize(250, self._height(BEST_LINE))

    def minimumSizeHint(self) -> QSize:
        """The least height that texts are readable in."""
        return QSize(200, self._height(LEAST_LINE))

    def _height(self, line: float) -> int:
        bar = BAR + 3.0 if self._probe.linear_range_um else 0.0
        return round(PADDING + 3.0 * line + bar)

    @property
    def _line(self) -> float:
        bar = BAR + 3.0 if self._probe.linear_range_um else 0.0
        return (self.height() - PADDING - bar) / 3.0

    def set_reading(self, reading: ProbeReading | None) -> None:
        """Show a reading."""
        self._reading = reading
        self._refresh()

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self._unit = unit
        self._refresh()

    def set_theme(self, theme: style.Theme) -> None:
        """Light or dark."""
        self._theme = theme
        self.update()

    def set_chosen(self, chosen: bool) -> None:
        """Mark the card as the one whose p-p the timeline shows."""
        wanted = "true" if chosen else "false"
        if self.property("chosen") != wanted:
            self.setProperty("chosen", wanted)
            self.style().unpolish(self)
            self.style().polish(self)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """A click chooses the probe."""
        if event.button() is Qt.MouseButton.LeftButton and self.rect().contains(
            event.position().toPoint()
        ):
            self.activated.emit(self._probe.name)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter or space chooses the probe."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.activated.emit(self._probe.name)
        else:
            super().keyPressEvent(event)

    def _refresh(self) -> None:
        texts = card_texts(self._reading, self._unit, recorded=self._recorded)
        if texts != self._texts:
            self._texts = texts
            self._describe()
        self.update()

    def _describe(self) -> None:
        self.setAccessibleDescription(self._texts.spoken(self._probe.name))
        self.setToolTip(self._tip())

    def _tip(self) -> str:
        unit = self._unit
        lines = [
            f"{self._probe.name}, channel {self._probe.channel}, {angle_text(self._probe)}",
            f"gap {self._texts.gap_v} = {self._texts.gap} from probe tip to shaft",
            f"p-p {self._texts.pp} unfiltered, mean over the turns at the moment",
            f"1X {self._texts.first_order}, {unit.value} p-p ∠ phase lag",
        ]
        if self._probe.linear_range_um:
            low, high = self._probe.linear_range_um
            lines.append(
                f"bar: linear range {words.short_length(low, unit)} to "
                f"{words.short_length(high, unit)} {unit.value} of gap; block: excursion; "
                "dashed: alarm, solid: trip"
            )
        else:
            lines.append("the setup gives no linear range for this probe")
        return "\n".join((*lines, "Click: its p-p on the timeline, its plane on the page"))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Frame by the style sheet, then the texts and the bar."""
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_heading(painter)
        self._paint_values(painter)
        if self._probe.linear_range_um:
            top = PADDING / 2.0 + 3.0 * self._line + 1.0
            box = QRectF(MARGIN, top, self.width() - 2 * MARGIN, BAR)
            paint_range_bar(
                painter, box, self._probe, self._index, self._reading, self._setup, self._theme
            )

    def _paint_heading(self, painter: QPainter) -> None:
        colours = style.palette(self._theme)
        height = self._line
        row = QRectF(MARGIN, PADDING / 2.0, self.width() - 2 * MARGIN, height)
        swatch = QRectF(MARGIN, row.center().y() - 4.5, 9.0, 9.0)
        painter.fillRect(swatch, style.probe_colour(self._index, self._theme))
        bold = style.font("title")
        painter.setFont(bold)
        left = MARGIN + 15.0
        state_width = QFontMetricsF(bold).horizontalAdvance(self._texts.state)
        condition = self._reading.condition if self._reading is not None else "unknown"
        painter.setPen(style.condition_ink(condition, self._theme))
        painter.drawText(row, _RIGHT, self._texts.state)
        room = row.right() - left - state_width - 8.0
        name = QFontMetricsF(bold).elidedText(
            self._probe.name, Qt.TextElideMode.ElideRight, max(room, 0.0)
        )
        painter.setPen(QColor(colours.ink))
        painter.drawText(QRectF(left, row.top(), room, height), _LEFT, name)
        used = QFontMetricsF(bold).horizontalAdvance(name) + 6.0
        plain = style.font("body")
        painter.setFont(plain)
        painter.setPen(QColor(colours.muted))
        place = QFontMetricsF(plain).elidedText(
            angle_text(self._probe), Qt.TextElideMode.ElideRight, max(room - used, 0.0)
        )
        painter.drawText(
            QRectF(left + used, row.top(), max(room - used, 0.0), height), _LEFT, place
        )

    def _paint_values(self, painter: QPainter) -> None:
        colours = style.palette(self._theme)
        painter.setFont(style.font("body"))
        texts = self._texts
        label_width = 30.0
        half = self.width() * 0.47
        height = self._line
        rows = (("gap", texts.gap_v, "", texts.gap), ("p-p", texts.pp, "1X", texts.first_order))
        for number, (label, value, second_label, second) in enumerate(rows):
            top = PADDING / 2.0 + (number + 1) * height
            painter.setPen(QColor(colours.muted))
            painter.drawText(QRectF(MARGIN, top, label_width, height), _LEFT, label)
            painter.setPen(QColor(colours.ink))
            painter.drawText(
                QRectF(MARGIN + label_width, top, half - MARGIN - label_width, height), _LEFT, value
            )
            right = QRectF(half, top, self.width() - MARGIN - half, height)
            painter.drawText(right, _RIGHT, second)
            if second_label:
                width = painter.fontMetrics().horizontalAdvance(second)
                painter.setPen(QColor(colours.muted))
                painter.drawText(right.adjusted(0, 0, -width - 7.0, 0), _RIGHT, second_label)


_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
