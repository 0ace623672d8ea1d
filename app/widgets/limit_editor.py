"""The settings of one limit, to be tried: fields for each, what is in force, and the way back."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.limit_words import limit_name

from .choice_box import ChoiceBox
from .elided import ElidedLabel
from .event_words import setting_words
from .number_field import NumberField
from .theming import mark_property

if TYPE_CHECKING:
    from analysis.model.setup import Limit
    from app.session.session import Session

DELAY_STEP_S = 0.5
LEVEL_STEP = {LengthUnit.UM: 1.0, LengthUnit.MIL: 0.05}


class LimitEditor(QFrame):
    """Follows the session's trial; every field changes it at once.

    `write_wanted` when the reader asks for the settings on trial to be written to a setup.
    """

    write_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._options: list[tuple[str, int, str]] = []
        self.setProperty("role", "card")
        self.setAccessibleName("Settings of the limit, on trial")
        self.limits = ChoiceBox("Limit", [], "The limit that is looked at and tried")
        self.limits.setProperty("role", "chooser")
        self.above = NumberField("Level above which it acts", least=-1e5, may_be_none=True)
        self.below = NumberField("Level below which it acts", least=-1e5, may_be_none=True)
        self.delay = NumberField("Delay, s", most=3600.0)
        self.hysteresis = NumberField("Hysteresis", most=1e4)
        self.votes = NumberField("Votes: how many probes must agree", least=1.0)
        self.latching = QCheckBox("latching")
        self.region = tuple(
            NumberField(name, least=least, most=most)
            for name, least, most in (
                ("Least 1X amplitude of the region", 0.0, 1e5),
                ("Largest 1X amplitude of the region", 0.0, 1e5),
                ("Phase lag from which the region goes, degrees", 0.0, 360.0),
                ("Phase lag up to which the region goes, degrees", 0.0, 360.0),
            )
        )
        self.in_force = ElidedLabel()
        self.in_force.setProperty("role", "muted")
        self.outcome = ElidedLabel()
        self.outcome.setProperty("role", "title")
        self.outcome.hide()
        self.back = _button("Drop the trial", "Back to the settings in force, of every limit")
        self.back.setAccessibleName("Back to the settings in force")
        self.write = _button(
            "Write to a setup…",
            "Write the settings on trial to a setup file, after asking; never into the capture",
        )
        self._dress_fields()
        self._lay_out()
        self._order_tabs()
        self._connect()
        self._refresh()

    def set_outcome(self, text: str) -> None:
        """What the settings on trial would change, in one sentence."""
        self.outcome.set_full_text(text)
        self.outcome.setVisible(bool(text))

    def fields(self) -> tuple[QWidget, ...]:
        """Every field, in the order of the settings."""
        plain = (self.below, self.above, self.delay, self.hysteresis, self.votes)
        return (*plain, *self.region, self.latching)

    def _dress_fields(self) -> None:
        self.delay.set_measure(" s", 2, DELAY_STEP_S)
        for end in self.region[2:]:
            end.set_measure("°", 1, 5.0)
        self.delay.setToolTip(
            "How long, s, the condition has to hold without a break before the limit sets"
        )
        self.latching.setToolTip(
            "A latching limit stays set until a reset that comes while its condition is gone"
        )
        self.latching.setAccessibleName("Latching")
        self.votes.setToolTip("How many of the limit's probes must be beyond it; faults count")
        for field, width in (
            (self.below, 92),
            (self.above, 92),
            (self.delay, 74),
            (self.hysteresis, 84),
            (self.votes, 74),
            *((field, 82) for field in self.region[:2]),
            *((field, 64) for field in self.region[2:]),
        ):
            field.setFixedWidth(width)

    def _lay_out(self) -> None:
        self._labels: dict[QWidget, QLabel] = {}
        grid = QGridLayout()
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(1)
        named = (
            (self.limits, "limit"),
            (self.below, "acts at or below"),
            (self.above, "acts at or above"),
            (self.region[0], "inside, from"),
            (self.region[1], "to"),
            (self.region[2], "lag from"),
            (self.region[3], "to"),
            (self.delay, "delay"),
            (self.hysteresis, "hysteresis"),
            (self.votes, "votes"),
            (self.latching, ""),
        )
        for column, (field, words) in enumerate(named):
            label = QLabel(words)
            label.setProperty("role", "footer")
            label.setBuddy(field)
            self._labels[field] = label
            grid.addWidget(label, 0, column)
            grid.addWidget(field, 1, column, Qt.AlignmentFlag.AlignLeft)
        upper = QHBoxLayout()
        upper.setSpacing(8)
        upper.addLayout(grid)
        upper.addStretch(1)
        for button in (self.back, self.write):
            upper.addWidget(button, 0, Qt.AlignmentFlag.AlignBottom)
        lower = QHBoxLayout()
        lower.setSpacing(14)
        lower.addWidget(self.in_force, 42)
        lower.addWidget(self.outcome, 58)
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 4, 10, 5)
        column.setSpacing(3)
        column.addLayout(upper)
        column.addLayout(lower)

    def _order_tabs(self) -> None:
        """Tab goes as the eye does."""
        inner = (self.below, self.above, *self.region, self.delay, self.hysteresis, self.votes)
        row = (self.limits, *inner, self.latching, self.back, self.write)
        for before, after in pairwise(row):
            QWidget.setTabOrder(before, after)

    def _connect(self) -> None:
        session = self._session
        self.limits.chosen.connect(session.trial.choose)
        self.above.changed.connect(lambda value: self._give(above=self._um(value)))
        self.below.changed.connect(lambda value: self._give(below=self._um(value)))
        self.delay.changed.connect(lambda value: self._give(delay_s=value))
        self.hysteresis.changed.connect(lambda value: self._give(hysteresis_um=self._um(value)))
        self.votes.changed.connect(lambda value: self._give(votes=round(value)))
        self.latching.toggled.connect(lambda on: self._give(latching=on))
        for field in self.region:
            field.changed.connect(lambda _value: self._give_region())
        self.back.clicked.connect(lambda: session.trial.back())
        self.write.clicked.connect(self.write_wanted)
        session.trial.changed.connect(self._refresh)
        session.trial.chosen_changed.connect(self._refresh)
        session.unit.changed.connect(lambda _unit: self._refresh())

    def _um(self, shown: float | None) -> float | None:
        return None if shown is None else shown / self._session.unit.unit.per_um

    def _give(self, **changes: object) -> None:
        """Try it; what no limit can have leaves the field with what stands."""
        trial = self._session.trial
        if trial.chosen is None or trial.change(trial.chosen, **changes):
            return
        self._refresh()

    def _give_region(self) -> None:
        low, high, start, end = (field.value() for field in self.region)
        per_um = self._session.unit.unit.per_um
        self._give(region={"amplitude_um": [low / per_um, high / per_um], "lag_deg": [start, end]})

    def _refresh(self) -> None:
        trial, unit = self._session.trial, self._session.unit.unit
        setup, index = trial.in_force, trial.chosen
        tried = trial.tried()
        options = [
            (
                f"{limit_name(limit, most=1)}{', on trial' if place in tried else ''}",
                place,
                f"In force: {setting_words(limit, unit)}",
            )
            for place, limit in enumerate(setup.limit if setup is not None else ())
        ]
        if options != self._options:
            self._options = options
            self.limits.set_options(options)
        there = setup is not None and index is not None and bool(trial.limits)
        for widget in (*self.fields(), self.limits):
            widget.setEnabled(there)
        self.back.setEnabled(bool(tried))
        self.write.setEnabled(bool(tried))
        if not there:
            for field in self.fields():
                field.setVisible(False)
                self._labels[field].setVisible(False)
            self.limits.setText("no limit")
            self.in_force.set_full_text("")
            return
        self.limits.set_value(index)
        limit, in_force = trial.limits[index], setup.limit[index]
        self._show(limit, in_force, unit)
        self.in_force.set_full_text(f"In force: {setting_words(in_force, unit)}")

    def _show(self, limit: Limit, in_force: Limit, unit: LengthUnit) -> None:
        region, known = getattr(limit, "region", None), getattr(in_force, "region", None)
        for field in (self.above, self.below, self.hysteresis, *self.region[:2]):
            field.set_measure(f" {unit.value}", unit.decimals, LEVEL_STEP[unit])
        values: dict[QWidget, tuple[float | None, float | None]] = {
            self.delay: (limit.delay_s, in_force.delay_s),
            self.hysteresis: _shown(limit.hysteresis_um, in_force.hysteresis_um, unit),
            self.votes: (float(limit.votes), float(in_force.votes)),
            self.above: _shown(limit.above, in_force.above, unit),
            self.below: _shown(limit.below, in_force.below, unit),
        }
        if region is not None and known is not None:
            pairs = [*zip(region.amplitude_um, known.amplitude_um, strict=True)]
            pairs += zip(region.lag_deg, known.lag_deg, strict=True)
            for place, (field, pair) in enumerate(zip(self.region, pairs, strict=True)):
                values[field] = _shown(*pair, unit) if place < 2 else pair
        self.votes.set_most(float(len(limit.probes)))
        self.votes.set_measure(f" of {len(limit.probes)}", 0, 1.0)
        for field, (value, stands) in values.items():
            field.set_number(value)
            mark_property(field, "tried", value != stands)
        was = self.latching.blockSignals(True)
        self.latching.setChecked(limit.latching)
        self.latching.blockSignals(was)
        mark_property(self.latching, "tried", limit.latching != in_force.latching)
        self._show_fields(limit, has_region=region is not None)

    def _show_fields(self, limit: Limit, *, has_region: bool) -> None:
        """Only what this limit can have."""
        position = limit.measure == "position"
        wanted = {
            **dict.fromkeys((self.delay, self.hysteresis, self.latching), True),
            self.above: not has_region,
            self.below: not has_region and (position or limit.below is not None),
            self.votes: len(limit.probes) > 1,
            **dict.fromkeys(self.region, has_region),
        }
        for field, visible in wanted.items():
            field.setVisible(visible)
            self._labels[field].setVisible(visible)
        kind = "gap from probe tip to shaft" if position else "p-p"
        unit = self._session.unit.unit.value
        for field, way in ((self.above, "above"), (self.below, "below")):
            field.setToolTip(
                f"The limit acts at or {way} this, {unit} {kind}. Type “none” for no such side"
            )
        self.hysteresis.setToolTip(
            f"How far back, {unit}, the measure has to come before the condition counts as gone"
        )


def _shown(
    um: float | None, in_force_um: float | None, unit: LengthUnit
) -> tuple[float | None, float | None]:
    return (
        None if um is None else um * unit.per_um,
        None if in_force_um is None else in_force_um * unit.per_um,
    )


def _button(text: str, tip: str) -> QPushButton:
    button = QPushButton(text)
    button.setAutoDefault(False)
    button.setToolTip(tip)
    button.setFont(style.font("small"))
    return button
