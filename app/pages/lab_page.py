"""The Lab page: what makes an orbit look like that?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import chain
from typing import TYPE_CHECKING

from PySide6.QtGui import QGuiApplication, QHideEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from analysis.simulate.lab_recipe import recipe_of
from app.dialogs.lab_keep import keep, read_back
from app.session.lab_clock import LabClock
from app.session.lab_model import LabModel
from app.widgets.lab_controls import LabControls
from app.widgets.lab_guide import LabGuide
from app.widgets.lab_save_button import LabSaveButton
from app.widgets.tab_card import TabCard
from app.widgets.theming import theme_of
from app.widgets.wardrobe import HOLDS
from app.widgets.whole_page import WholePage
from app.work.step import Step

from .lab_bench import LabBench

if TYPE_CHECKING:
    from app.plots.plot import Plot
    from app.session.session import Session

GAP = 10
LEFT_WIDTH = 344
BUILD_MS = 3

_LEAVES = (
    ("guide", "Start", "Four steps: forward, backward, 1X, phase lag"),
    ("compose", "Compose", "Everything that an orbit can be made of"),
    ("gallery", "Gallery", "Named shapes, what makes them and what else looks the same"),
    ("tasks", "Tasks", "Short exercises with an answer that is checked"),
    ("rotor", "Rotor", "A simple rotor run through its speeds"),
)


class LabPage(WholePage):
    """A guided start, controls, gallery, tasks and a rotor beside the pictures of one state.

    Works without a capture, and changes none.
    """

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.model, self.clock = LabModel(), LabClock()
        self._made: dict[str, QWidget] = {}
        self._rooms = {key: _Room() for key, _, _ in _LEAVES}
        self.leaves = TabCard(
            "Part of the Lab",
            [(key, title, tip, self._rooms[key]) for key, title, tip in _LEAVES],
        )
        self.save = LabSaveButton()
        self.bench = LabBench(self.model, self.clock, self._hidden)
        self._right = QStackedWidget()
        self._right.addWidget(self.bench)
        self._lay_out()
        self._steps: Iterator[None] = self._building()
        self._builder = Step(self, BUILD_MS, self._build)
        self._builder.start()
        self.leaves.turned.connect(self._turned)
        self.save.wanted.connect(self._keep)
        self.save.load_wanted.connect(self._read_back)
        session.unit.changed.connect(self._set_unit)
        session.theme.changed.connect(self._dress)

    # What the window asks of a page --------------------------------------------------------------

    def plots(self) -> tuple[Plot, ...]:
        """Every picture in sight."""
        shown = self._right.currentWidget()
        return shown.plots()

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        self._right.currentWidget().fit()

    def copy_readings(self) -> None:
        """Put the finding on the clipboard."""
        QGuiApplication.clipboard().setText(self._right.currentWidget().copied())

    def is_ready(self) -> bool:
        """Whether all that was asked for has been made, and is drawn."""
        shown = self._right.currentWidget()
        return not self._builder.is_waiting() and shown.is_settled()

    # Leaves --------------------------------------------------------------------------------------

    def leaf(self, key: str) -> QWidget:
        """A leaf; made when it is first looked at."""
        if key not in self._made:
            makers: dict[str, Callable[[], QWidget]] = {
                "guide": self._make_guide,
                "compose": lambda: LabControls(self.model),
                "gallery": self._make_gallery,
                "tasks": self._make_tasks,
                "rotor": self._make_rotor,
            }
            made = self._made[key] = makers[key]()
            self._rooms[key].fill(made)
            self._tell(made)
            _polish(made)
            if hasattr(made, "building"):
                # Before what nobody has asked for.
                self._steps = chain(made.building(), self._steps)
                self._builder.start(BUILD_MS)
        return self._made[key]

    def show_leaf(self, key: str) -> None:
        """Bring a leaf to the front."""
        self.leaves.show_leaf(key)
        self._turned(key)

    def _make_guide(self) -> QWidget:
        guide = LabGuide(self.model)
        guide.finished.connect(lambda: self.show_leaf("gallery"))
        return guide

    def _make_gallery(self) -> QWidget:
        from app.widgets.lab_gallery import LabGallery

        return LabGallery(self.model, theme_of(self._session.theme))

    def _make_tasks(self) -> QWidget:
        from app.widgets.lab_tasks import LabTasks

        tasks = LabTasks(self.model)
        tasks.shown.connect(self.bench.refresh)
        tasks.check_wanted.connect(self._check)
        return tasks

    def _make_rotor(self) -> QWidget:
        from .lab_rotor import LabRotor

        rotor = LabRotor(self._session, self.clock)
        self._right.addWidget(rotor.bench)
        return rotor

    def _turned(self, key: str) -> None:
        leaf = self.leaf(key)
        self._right.setCurrentWidget(leaf.bench if key == "rotor" else self.bench)
        if key in ("guide", "tasks"):
            leaf.start()
        self.bench.refresh()

    def _hidden(self) -> frozenset[str]:
        tasks = self._made.get("tasks")
        return tasks.hidden() if tasks is not None and self.leaves.leaf == "tasks" else frozenset()

    # Making, following ---------------------------------------------------------------------------

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.setSpacing(GAP)
        left.addWidget(self.leaves, 1)
        left.addWidget(self.save)
        self.leaves.setFixedWidth(LEFT_WIDTH)
        self.save.setFixedWidth(LEFT_WIDTH)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addLayout(left)
        row.addWidget(self._right, 1)

    def _building(self) -> Iterator[None]:
        """A picture or a leaf a turn of the event loop."""
        self._tell(self.bench)
        self.bench.set_theme(theme_of(self._session.theme))
        _polish(self)
        yield
        guide = self.leaf("guide")
        yield
        guide.start()
        yield
        for _ in self.bench.building():
            _polish(self.bench)
            yield
        self.model.drawn_anew.connect(self._look)
        self._look()
        yield
        for key in ("compose", "gallery", "tasks"):
            self.leaf(key)
            yield

    def _build(self) -> None:
        if next(self._steps, self) is not self:
            self._builder.start()

    def _look(self, _fit: bool = False) -> None:
        if self.bench.view is not None:
            self.leaf("guide").look(self.bench.view)

    def _keep(self, kind: str) -> None:
        if self.leaves.leaf == "rotor":
            self.leaf("rotor").keep(kind)
            return
        task = self.leaf("tasks").recipe() if self.leaves.leaf == "tasks" else None
        keep(self, self._session, kind, task or recipe_of(self.model.state))

    def _read_back(self) -> None:
        read_back(self, self._session, self.model)

    def _check(self, task: object, answer: object) -> None:
        """Replaying captures takes a second or so."""
        from analysis.simulate.tasks import check_answer
        from app.work.runner import Callbacks

        tasks = self.leaf("tasks")
        self._session.runner.run(
            "lab task",
            lambda _progress: check_answer(task, answer),
            Callbacks(result=lambda verdict: tasks.show_verdict(task, verdict)),
            title="Checking the answer",
        )

    def _tell(self, widget: QWidget) -> None:
        if hasattr(widget, "set_unit"):
            widget.set_unit(self._session.unit.unit)

    def _set_unit(self, unit: object) -> None:
        if not self.isVisible():
            return  # when it is shown: a turn of the event loop has the other pages to see to
        for widget in (self.bench, *self._made.values()):
            if hasattr(widget, "set_unit"):
                widget.set_unit(unit)

    def _dress(self) -> None:
        if not self.isVisible():
            return
        theme = theme_of(self._session.theme)
        for widget in (self.bench, *self._made.values()):
            if hasattr(widget, "set_theme"):
                widget.set_theme(theme)

    def showEvent(self, event: QShowEvent) -> None:
        """The shaft turns while somebody looks."""
        super().showEvent(event)
        self._set_unit(self._session.unit.unit)
        self._dress()
        self.clock.set_watched(True)
        self.bench.refresh()
        self._look()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self.clock.set_watched(False)


def _polish(widget: QWidget) -> None:
    """Dress it for the window now: to be shown for the first time is work enough for a turn."""
    for each in (widget, *widget.findChildren(QWidget)):
        each.ensurePolished()


class _Room(QWidget):
    """Where a leaf will be."""

    def __init__(self) -> None:
        super().__init__()
        self.setProperty(HOLDS, True)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)

    def fill(self, leaf: QWidget) -> None:
        """Put the leaf in."""
        self._column.addWidget(leaf)
