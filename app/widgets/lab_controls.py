"""The Lab's controls: motion, shape, measuring and machine, each number with a slider."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from analysis.model.units import LengthUnit
from analysis.simulate.lab_state import ORDERS, LabState
from app.session import lab_fields as fields

from .choice_box import ChoiceBox
from .lab_slider import LabSlider, SliderScale
from .segmented import Segmented
from .wardrobe import HOLDS

if TYPE_CHECKING:
    from app.session.lab_fields import LabField
    from app.session.lab_model import LabModel

_LOWEST = {"deg": -360.0, "rpm": 60.0, "order": 0.01}


class FieldSlider(LabSlider):
    """A slider that is tied to one number of the Lab's state."""

    def __init__(self, model: LabModel, field: LabField, of: str = "") -> None:
        """`of` goes before the name when it is read out, as in "1X forward"."""
        scale = SliderScale(
            field.kind,
            field.least,
            field.most,
            field.step,
            max(_LOWEST.get(field.kind, 0.0), 0.01 if "width" in field.key else -1e9),
            field.furthest,
        )
        super().__init__(field.name, f"{of} {field.name}".strip(), scale, field.tip)
        self._model = model
        self.field_of = field
        self.changed.connect(lambda value: model.set_field(self.field_of, value))
        model.changed.connect(self._follow)
        self.refresh()

    def set_field(self, field: LabField, of: str) -> None:
        """Be tied to another number of the same kind."""
        self.field_of = field
        self.field.setAccessibleName(f"{of} {field.name}")
        self.slider.setAccessibleName(f"{of} {field.name}, slider")
        self.refresh()

    def refresh(self) -> None:
        """Show what the state says."""
        value = self.field_of.get(self._model.state)
        if value != self.value():
            self.set_value(value)

    def showEvent(self, event: QShowEvent) -> None:
        """What changed while nobody saw it."""
        self.refresh()
        super().showEvent(event)

    def _follow(self) -> None:
        # A drag changes the state many times a frame, and most sliders are on other leaves.
        if self.isVisible():
            self.refresh()


class _Group(QWidget):
    """A heading, sliders, and what else belongs to it."""

    def __init__(self, title: str, note: str = "") -> None:
        super().__init__()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(1)
        self._head = QHBoxLayout()
        self._head.setSpacing(6)
        heading = QLabel(title)
        heading.setProperty("role", "title")
        self._head.addWidget(heading)
        if note:
            words = QLabel(note)
            words.setProperty("role", "subtitle")
            self._head.addWidget(words)
        self._head.addStretch(1)
        self._column.addLayout(self._head)
        self.sliders: list[FieldSlider] = []

    def add_head(self, widget: QWidget) -> None:
        """A small tool beside the heading."""
        self._head.addWidget(widget)

    def add_sliders(self, model: LabModel, of: str, wanted: Sequence[LabField]) -> None:
        """Sliders of these numbers."""
        for field in wanted:
            slider = FieldSlider(model, field, of)
            self.sliders.append(slider)
            self._column.addWidget(slider)

    def add(self, widget: QWidget) -> None:
        """Something else below."""
        self._column.addWidget(widget)


class _Switch(QCheckBox):
    """A part of the state that is there or not, or a yes or no of it."""

    def __init__(self, model: LabModel, text: str, name: str, on: Any, off: Any, tip: str) -> None:
        super().__init__(text)
        self._model, self._name = model, name
        self._on, self._off = on, off
        self.setToolTip(tip)
        self.clicked.connect(self._click)
        model.changed.connect(self._refresh)
        self._refresh()

    def _refresh(self) -> None:
        value = getattr(self._model.state, self._name)
        if value != self._off:
            self._on = value
        self.setChecked(value != self._off)

    def _click(self, checked: bool) -> None:
        self._model.set(**{self._name: self._on if checked else self._off})


class LabControls(QWidget):
    """Every number of the Lab's state, in four groups of which one is in sight."""

    def __init__(self, model: LabModel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty(HOLDS, True)
        self._model = model
        self._unit = LengthUnit.UM
        self._order = 2.0
        self._options: list[tuple[str, float, str]] = []
        self._groups: list[_Group] = []
        self._leaves: dict[str, QScrollArea] = {}
        self.leaves = Segmented(
            "Controls",
            [
                ("Motion", "motion", "What moves: forward and backward circles of the orders"),
                (
                    "Shape",
                    "shape",
                    "What bends the orbit: preload, rub, a shaft of two stiffnesses",
                ),
                ("Measuring", "measuring", "What the probes add: runout, noise, range, cables"),
                ("Machine", "machine", "Rotation, speed, clearance"),
            ],
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 4, 6, 4)
        column.setSpacing(6)
        column.addWidget(self.leaves)
        for key in ("motion", "shape", "measuring", "machine"):
            self._leaves[key] = self._leaf()
            column.addWidget(self._leaves[key], 1)
        self.refused = QLabel()
        self.refused.setProperty("role", "alarm")
        self.refused.setWordWrap(True)
        self.refused.hide()
        column.addWidget(self.refused)
        model.refused.connect(self._refuse)
        self.leaves.chosen.connect(self.show_leaf)
        self.show_leaf("motion")

    def building(self) -> Iterator[None]:
        """Make one group a step: forty sliders at once would be felt."""
        for key, groups in (
            ("motion", self._motion()),
            ("shape", self._shape()),
            ("measuring", self._measuring()),
            ("machine", self._machine()),
        ):
            column = self._leaves[key].widget().layout()
            for group in groups:
                self._groups.append(group)
                # Above the stretch that keeps them at the top.
                column.insertWidget(column.count() - 1, group)
                for slider in group.sliders:
                    slider.set_unit(self._unit)
                yield

    def sliders(self) -> dict[str, FieldSlider]:
        """Every slider by the key of its number."""
        return {each.field_of.key: each for group in self._groups for each in group.sliders}

    def show_leaf(self, key: str) -> None:
        """Bring one of the four to the front."""
        self.leaves.set_value(key)
        for name, leaf in self._leaves.items():
            leaf.setVisible(name == key)

    def show_order(self, order: float) -> None:
        """Let the second group of the motion be of this order."""
        self._order = order
        self.orders.set_value(order)
        for slider, field in zip(self._other.sliders, fields.order_fields(order), strict=True):
            slider.set_field(field, f"{order:g}X")

    def set_unit(self, unit: LengthUnit) -> None:
        """Show lengths in this unit."""
        self._unit = unit
        for group in self._groups:
            for slider in group.sliders:
                slider.set_unit(unit)

    @staticmethod
    def _leaf() -> QScrollArea:
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(9)
        column.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inner)
        inner.setAutoFillBackground(False)
        area.viewport().setAutoFillBackground(False)
        return area

    def _motion(self) -> Iterator[_Group]:
        first = _Group("1X", "once per turn")
        first.add_sliders(self._model, "1X", fields.order_fields(1.0))
        yield first
        self._other = other = _Group("Another order")
        self.orders = ChoiceBox("Order", [], "Which order, in times per turn; • moves already")
        other.add_head(self.orders)
        other.add_sliders(self._model, "2X", fields.order_fields(2.0))
        self.orders.chosen.connect(self.show_order)
        self._model.changed.connect(self._name_orders)
        self._name_orders()
        yield other
        whirl = _Group("Whirl", "at any part of running speed")
        whirl.add_sliders(self._model, "whirl", fields.whirl_fields())
        yield whirl

    def _name_orders(self) -> None:
        moving = {line.order for line in self._model.state.motions if not line.is_still}
        options = [
            (f"{order:g}X{' •' if order in moving else ''}", order, f"Set the motion of {order:g}X")
            for order in ORDERS
            if order != 1.0
        ]
        if self._options != options:
            self._options = options
            self.orders.set_options(options)
            self.orders.set_value(self._order)

    def _shape(self) -> Iterator[_Group]:
        preload = _Group("Preload", "flattens and bends")
        preload.add_sliders(self._model, "preload", fields.PRELOAD_FIELDS)
        yield preload
        rub = _Group("Rub", "a wall on one side")
        rub.add_head(
            _Switch(
                self._model,
                "on",
                "stop",
                fields.STOP_FIELDS[0].put(LabState(), 20.0).stop,
                None,
                "A wall that the shaft strikes: a picture of a rub",
            )
        )
        rub.add_sliders(self._model, "rub", fields.STOP_FIELDS)
        yield rub
        asymmetry = _Group("Asymmetric shaft", "twice per turn")
        asymmetry.add_sliders(self._model, "asymmetric shaft", fields.ASYMMETRY_FIELDS)
        yield asymmetry

    def _measuring(self) -> Iterator[_Group]:
        surface = _Group("Surface and noise")
        surface.add_sliders(self._model, "surface", fields.SURFACE_FIELDS)
        yield surface
        for place, title in enumerate(("First probe", "Second probe")):
            probe = _Group(title, self._model.state.probes[place].name)
            probe.add_sliders(self._model, title, fields.probe_fields(place))
            yield probe
        mistakes = _Group("Mistakes")
        mistakes.add(
            _Switch(
                self._model,
                "cables of the two probes swapped",
                "swapped",
                True,
                False,
                "Each channel carries the other probe's signal",
            )
        )
        mistakes.add(
            _Switch(
                self._model,
                "rotation set wrong",
                "rotation_wrong",
                True,
                False,
                "The setup says the opposite of how the shaft turns",
            )
        )
        yield mistakes

    def _machine(self) -> Iterator[_Group]:
        machine = _Group("Machine", "seen from the driver end")
        self.rotation = Segmented(
            "Rotation",
            [
                ("↺ counter-clockwise", "ccw", "The shaft turns counter-clockwise"),
                ("↻ clockwise", "cw", "The shaft turns clockwise"),
            ],
            "page",
        )
        self.rotation.chosen.connect(lambda value: self._model.set(rotation=value))
        self._model.changed.connect(lambda: self.rotation.set_value(self._model.state.rotation))
        self.rotation.set_value(self._model.state.rotation)
        machine.add(self.rotation)
        machine.add_sliders(self._model, "", (fields.SPEED_FIELD, fields.CLEARANCE_FIELD))
        yield machine

    def _refuse(self, sentence: str) -> None:
        self.refused.setText(f"▲ {sentence}")
        self.refused.setVisible(bool(sentence))
