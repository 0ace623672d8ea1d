"""The lists of the Alarms page: events, what would change, contacts, guidance, proof test."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QPushButton, QWidget

from analysis.protection.contacts import relays_of
from app.session.notices import notice_of_error
from app.widgets.changes_list import ChangesList, outcome_words
from app.widgets.contacts_panel import ContactsPanel
from app.widgets.events_model import event_rows
from app.widgets.events_table import EventsTable
from app.widgets.guidance_panel import GuidancePanel
from app.widgets.proof_test_panel import ProofTestPanel
from app.widgets.tab_card import TabCard
from app.widgets.theming import theme_of
from app.work.runner import Callbacks, Failure, JobProgress

if TYPE_CHECKING:
    from analysis.model.advice import Advice
    from analysis.model.proof import StepResult
    from app.session.session import Session

NO_EVENTS = "No limit acted in this capture, and no circuit failed."
NO_LIMITS = "This setup has no limits, and no circuit failed in this capture."
CHECK = "proof check"
ROOM_FOR_TITLES = 425
LEAVES = (
    ("events", "Events", "Every change of a limit's state, and why"),
    (
        "changes",
        "What would change",
        "What the settings on trial would have made of this capture",
    ),
    ("contacts", "Contacts", "What a meter on each relay would read at the moment"),
    (
        "guidance",
        "Guidance",
        "What standards and common practice say of this limit, with their sources",
    ),
    (
        "proof",
        "Proof test",
        "Steps that prove the limits in force, to be ticked off on a calibrator",
    ),
)


class AlarmsLists(TabCard):
    """Follows the session's answers while it is in sight, one leaf at a time.

    `outcome_changed(text)`: what the settings on trial would change, in one sentence.
    `record_wanted()`: the proof test as it stands is to be written. `room_wanted(more)`: the leaf
    in sight is to have the room of the picture above it, or no longer.
    """

    outcome_changed = Signal(str)
    room_wanted = Signal(bool)
    record_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self._session = session
        self.events = EventsTable()
        self.changes = ChangesList()
        self.contacts = ContactsPanel()
        self.guidance = GuidancePanel()
        self.proof = ProofTestPanel()
        self.room = QPushButton()
        self.room.setProperty("role", "quiet")
        self.room.setAutoDefault(False)
        self._roomy = {"proof"}
        leaves = {
            "events": self.events,
            "changes": self.changes,
            "contacts": self.contacts,
            "guidance": self.guidance,
            "proof": self.proof,
        }
        super().__init__(
            "Alarms",
            [(key, title, tip, leaves[key]) for key, title, tip in LEAVES],
            tools=(self.room,),
            parent=parent,
        )
        self._tried = False
        self._count: int | None = None
        self._scope = "limit"
        self._steps_for: tuple[object, ...] = ()
        self._connect()

    def _connect(self) -> None:
        session = self._session
        session.alarms.calm.passed.connect(self.write)
        session.trial.chosen_changed.connect(self._show_proof)
        session.unit.changed.connect(lambda _unit: self.write())
        for leaf in (self.events, self.changes, self.proof):
            leaf.moment_wanted.connect(session.moment.set)
        self.guidance.try_wanted.connect(self._try_advice)
        self.proof.scope_wanted.connect(self._choose_scope)
        self.proof.check_wanted.connect(self._check_proof)
        self.proof.record_wanted.connect(self.record_wanted)
        self.turned.connect(lambda _key: self._show_leaf_in_sight())
        self.room.clicked.connect(self._change_room)

    def copy(self) -> None:
        """Put the list in sight on the clipboard: what would change, guidance, else the events."""
        if self.leaf == "changes":
            self.changes.copy()
        elif self.leaf == "guidance":
            self.guidance.copy()
        else:
            self.events.copy()

    def dress(self) -> None:
        """Light or dark."""
        theme = theme_of(self._session.theme)
        for leaf in (self.events, self.contacts, self.proof):
            leaf.set_theme(theme)
        self._show_leaf_in_sight()

    def write(self) -> None:
        """Everything as it was answered last."""
        if not self.isVisible():
            return
        result = self._session.alarms.result
        in_force = result.in_force if result else None
        trial = result.trial if result else None
        changes = result.changes if result else ()
        tried = trial is not None
        self.events.set_unit(self._session.unit.unit)
        self.guidance.set_unit(self._session.unit.unit)
        limits = in_force is not None and bool(in_force.setup.limit)
        self.events.set_empty_text((NO_EVENTS if limits else NO_LIMITS) if result else "")
        self.events.set_rows(event_rows(in_force, trial, changes), on_trial=tried)
        self.changes.set_changes(changes, on_trial=tried)
        self._count = len(changes) if tried else None
        self._title_changes()
        self.outcome_changed.emit(outcome_words(changes) if tried else "")
        self._turn(tried)
        if not self.guidance.rows():
            # Its rows are made now, while nobody waits for them.
            self._show_guidance()
        self._show_leaf_in_sight()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where the titles have no room side by side, the longest is shortened."""
        super().resizeEvent(event)
        self._title_changes()

    def _title_changes(self) -> None:
        words = "What would change" if self.width() >= ROOM_FOR_TITLES else "Changes"
        self.set_title("changes", words if self._count is None else f"{words} ({self._count})")

    def show_moment(self) -> None:
        """The moment has moved."""
        if self.leaf == "contacts":
            self._show_contacts()

    def show_leaf(self, key: str) -> None:
        """Bring a leaf to the front, with the room that it had before."""
        super().show_leaf(key)
        self._show_room()

    def _change_room(self) -> None:
        self._roomy ^= {self.leaf}
        self._show_room()

    def _show_room(self) -> None:
        more = self.leaf in self._roomy
        self.room.setText("↓" if more else "↑")
        self.room.setAccessibleName("Less room" if more else "More room")
        self.room.setToolTip(
            "Show the trip boundary again" if more else "Take the room of the trip boundary, too"
        )
        self.room_wanted.emit(more)

    def _turn(self, tried: bool) -> None:
        """What a trial changes comes to the front with it, and goes with it."""
        if tried != self._tried:
            self._tried = tried
            before, after = ("events", "changes") if tried else ("changes", "events")
            if self.leaf == before:
                self.show_leaf(after)

    def _show_leaf_in_sight(self) -> None:
        show = {
            "contacts": self._show_contacts,
            "guidance": self._show_guidance,
            "proof": self._show_proof,
        }.get(self.leaf)
        if show is not None and self.isVisible():
            show()

    def _show_contacts(self) -> None:
        result, setup = self._session.alarms.result, self._session.trial.in_force
        self.contacts.show_relays(
            relays_of(setup) if setup is not None else (),
            result.in_force if result else None,
            result.trial if result else None,
            self._session.moment.moment_s,
        )

    def _show_guidance(self) -> None:
        result = self._session.alarms.result
        self.guidance.show_advice(result.advice if result else ())

    def _try_advice(self, advice: Advice) -> None:
        """Put a suggested value on trial, on the side that the limit has."""
        trial = self._session.trial
        if trial.chosen is None or not advice.suggested:
            return
        limit, value = trial.limits[trial.chosen], advice.suggested[0]
        if advice.quantity == "s":
            trial.change(trial.chosen, delay_s=value)
        elif limit.above is not None:
            trial.change(trial.chosen, above=value)
        else:
            trial.change(trial.chosen, below=value)

    # Proof test ----------------------------------------------------------------------------------

    def _choose_scope(self, scope: str) -> None:
        self._scope = scope
        self._show_proof()

    def _show_proof(self) -> None:
        """The steps for the settings in force: those on trial are not what is installed."""
        if self.leaf != "proof" or not self.isVisible():
            return
        setup, chosen = self._session.trial.in_force, self._session.trial.chosen
        unit = self._session.unit.unit
        wanted = (setup, chosen, self._scope, unit)
        if wanted == self._steps_for:
            return
        self._steps_for = wanted
        if setup is None or chosen is None:
            self.proof.show_steps(())
            return
        from analysis.protection.proof_test import proof_steps

        if self._scope == "limit":
            steps = proof_steps(setup, [chosen], unit=unit)
        else:
            probe = setup.limit[chosen].probes[0] if self._scope == "probe" else None
            steps = proof_steps(setup, probe=probe, unit=unit)
        self.proof.show_steps(steps)

    def _check_proof(self) -> None:
        result, steps = self._session.alarms.result, self.proof.steps()
        if result is None or not steps:
            return
        replay = result.in_force

        def work(_progress: JobProgress) -> tuple[StepResult, ...]:
            from analysis.protection.proof_check import check_capture

            return check_capture(steps, replay)

        def failed(failure: Failure) -> None:
            what = "The proof test could not be looked for in the capture"
            self._session.notices.show(notice_of_error(CHECK, what, failure.error, failure.trace))

        callbacks = Callbacks(result=self.proof.show_results, error=failed)
        self._session.runner.run(CHECK, work, callbacks, title="Looking for the proof test")
