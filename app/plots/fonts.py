"""The one family of the program, shipped with it, with figures of equal width."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from typing import Final, Literal

from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF, QGuiApplication

FAMILIES: Final = ("Inter", "Runtrue Symbols")
"""Text, then the signs that it lacks (∠ ∓ and others)."""

_FILES: Final = ("Inter-Regular.otf", "Inter-SemiBold.otf", "RuntrueSymbols.ttf")

# Device-independent pixels: the same on every screen, whatever its claimed dots an inch.
_PIXELS: Final = {"body": 13, "title": 13, "small": 12, "tiny": 11, "figure": 15}

Role = Literal["body", "title", "small", "tiny", "figure"]

_loaded = False


def load_fonts() -> None:
    """Load the shipped fonts and make them the application's. Needs a `QGuiApplication`.

    Raises:
        RuntimeError: when a font file is missing or unreadable (a damaged installation).
    """
    global _loaded
    if not _loaded:
        for name in _FILES:
            data = (files("resources") / "fonts" / name).read_bytes()
            if QFontDatabase.addApplicationFontFromData(data) < 0:
                raise RuntimeError(f"the font {name} of the installation cannot be read")
        _loaded = True
        text_size.cache_clear()
    QGuiApplication.setFont(font("body"))


@lru_cache(maxsize=32)
def font(role: Role = "body", *, strong: bool = False) -> QFont:
    """The font of a role, with tabular figures; `strong` or a title is semi-bold.

    The object is shared: copy it before changing it.
    """
    made = QFont()
    made.setFamilies(list(FAMILIES))
    made.setPixelSize(_PIXELS[role])
    made.setFeature(QFont.Tag("tnum"), 1)
    made.setWeight(QFont.Weight.DemiBold if strong or role == "title" else QFont.Weight.Normal)
    return made


@lru_cache(maxsize=2048)
def text_size(text: str, role: Role = "body", *, strong: bool = False) -> tuple[float, float]:
    """Width of the longest line and height of all lines of a text, pixels."""
    metrics = QFontMetricsF(font(role, strong=strong))
    lines = text.split("\n")
    return max(map(metrics.horizontalAdvance, lines)), metrics.height() * len(lines)


def pixel_size(role: Role) -> int:
    """Size of a role in device-independent pixels."""
    return _PIXELS[role]
