"""Every key of the window in one table: it is bound from here, and the help shows it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

from app.plots.zoom import STEP_IN

if TYPE_CHECKING:
    from app.session.session import Session


@dataclass(frozen=True)
class Keys:
    """One action: its name, its keys (as Qt writes them), what it does."""

    action: str
    keys: tuple[str, ...]
    words: str


KEYS: tuple[Keys, ...] = (
    Keys("turn_back", ("Left",), "one turn back"),
    Keys("turn_on", ("Right",), "one turn on"),
    Keys("ten_back", ("Shift+Left",), "ten turns back"),
    Keys("ten_on", ("Shift+Right",), "ten turns on"),
    Keys("second_back", ("Ctrl+Left", "Alt+Left"), "one second back"),
    Keys("second_on", ("Ctrl+Right", "Alt+Right"), "one second on"),
    Keys("page_back", ("PgUp",), "a twentieth of the capture back"),
    Keys("page_on", ("PgDown",), "a twentieth of the capture on"),
    Keys("start", ("Home",), "start of the capture"),
    Keys("end", ("End",), "end of the capture"),
    Keys("largest", ("P",), "largest p-p of the timeline's probe"),
    Keys("type_moment", ("G",), "type a moment: 48.3, 48,3 or 1:02.5"),
    Keys("zoom_in", ("+", "="), "timeline: see less, about the moment"),
    Keys("zoom_out", ("-",), "timeline: see more"),
    Keys("see_all", ("0",), "timeline: see the whole capture"),
    Keys("see_span", ("Z",), "timeline: see the span"),
    Keys("shorter", ("Ctrl++", "Ctrl+="), "waveforms: a shorter window"),
    Keys("longer", ("Ctrl+-",), "waveforms: a longer window"),
    Keys("automatic", ("Ctrl+0",), "waveforms: the automatic window"),
    Keys("span_begins", ("B",), "the span begins at the moment"),
    Keys("span_ends", ("E",), "the span ends at the moment"),
    Keys("name_span", ("N",), "name the span"),
    Keys("spans", ("S",), "spans that have a name"),
    Keys("clear_span", ("Esc",), "choose no span"),
    Keys("reset", ("R",), "alarms: a reset at the moment, or off again"),
    Keys("open", ("Ctrl+O",), "open a capture or a setup"),
    Keys("copy", ("Ctrl+C",), "copy the readings, or those selected"),
    Keys("units", ("Ctrl+U",), "µm or mil"),
    Keys("theme", ("Ctrl+T",), "light or dark"),
    Keys("fit", ("F",), "fit every picture to what it shows"),
    Keys("about_page", ("F1",), "what the page in sight shows, and how to read it"),
    Keys("help", ("?",), "these keys"),
    Keys("quit", ("Ctrl+Q",), "leave"),
)


def moment_actions(session: Session) -> dict[str, Callable[[], None]]:
    """The actions that move the moment."""
    moment = session.moment
    return {
        "turn_back": lambda: session.step_turns(-1),
        "turn_on": lambda: session.step_turns(1),
        "ten_back": lambda: session.step_turns(-10),
        "ten_on": lambda: session.step_turns(10),
        "second_back": lambda: session.step_seconds(-1.0),
        "second_on": lambda: session.step_seconds(1.0),
        "page_back": lambda: session.step_seconds(-moment.limits.length_s / 20.0),
        "page_on": lambda: session.step_seconds(moment.limits.length_s / 20.0),
        "start": lambda: moment.set(moment.limits.start_s),
        "end": lambda: moment.set(moment.limits.end_s),
        "zoom_in": lambda: session.zoom_timeline(STEP_IN),
        "zoom_out": lambda: session.zoom_timeline(1.0 / STEP_IN),
        "see_all": session.zoom.show_all,
        "see_span": session.see_span,
        "shorter": lambda: session.waveform_zoom.by(STEP_IN),
        "longer": lambda: session.waveform_zoom.by(1.0 / STEP_IN),
        "automatic": session.waveform_zoom.reset,
        "span_begins": lambda: session.bound_span(start=True),
        "span_ends": lambda: session.bound_span(start=False),
        "clear_span": lambda: session.span.set(None),
        "reset": session.toggle_reset,
        "units": session.unit.toggle,
        "theme": lambda: session.theme.set("light" if session.theme.dark else "dark"),
    }


def bind(widget: QWidget, actions: Mapping[str, Callable[[], None]]) -> None:
    """Bind every key of the table for this window; text fields keep their own keys."""
    for entry in KEYS:
        for text in entry.keys:
            shortcut = QShortcut(QKeySequence(text), widget)
            shortcut.activated.connect(actions[entry.action])
