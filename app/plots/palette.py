"""Colours of the two themes. A state is shape and word first; colour only helps.

Contrast is that of WCAG 2.2: text at least 4.5:1 (1.4.3), lines and shapes that carry meaning
at least 3:1 (1.4.11), against the ground they stand on; `tests/app/test_plots_style.py` checks it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Final


class Theme(Enum):
    """The two themes."""

    LIGHT = "light"
    DARK = "dark"


@dataclass(frozen=True)
class Palette:
    """Colours as `#rrggbb`. Names that end in `_ink` are for text, the others for shapes, lines."""

    paper: str
    card: str
    field: str
    hairline: str
    border: str
    ink: str
    muted: str
    faint: str
    grid: str
    axis: str
    accent: str
    accent_hover: str
    accent_ink: str
    accent_soft: str
    on_accent: str
    selection: str
    normal: str
    alarm: str
    alarm_ink: str
    trip: str
    fault: str
    unknown: str
    in_range: str
    out_of_range: str
    focus: str


_LIGHT: Final = Palette(
    paper="#F5F4F0",
    card="#FFFFFF",
    field="#FFFFFF",
    hairline="#DEDBD3",
    border="#BDBAB1",
    ink="#1B2426",
    muted="#5E686B",
    faint="#8D9496",
    grid="#ECEBE6",
    axis="#8D9496",
    accent="#2F5D62",
    accent_hover="#24494D",
    accent_ink="#2F5D62",
    accent_soft="#6A959A",
    on_accent="#FFFFFF",
    selection="#D5E4E5",
    normal="#2E7444",
    alarm="#B57F00",
    alarm_ink="#8A5E00",
    trip="#B3261E",
    fault="#6A5293",
    unknown="#5E686B",
    in_range="#7FA98B",
    out_of_range="#D9D6CE",
    focus="#2F7F88",
)

_DARK: Final = Palette(
    paper="#17191C",
    card="#1F2326",
    field="#181B1E",
    hairline="#33383C",
    border="#4C5357",
    ink="#E7EAEA",
    muted="#A0A8AA",
    faint="#737B7E",
    grid="#2A2F32",
    axis="#737B7E",
    accent="#84B3B8",
    accent_hover="#9CC6CA",
    accent_ink="#84B3B8",
    accent_soft="#567C81",
    on_accent="#12272A",
    selection="#33494C",
    normal="#7CC08F",
    alarm="#E3B341",
    alarm_ink="#E3B341",
    trip="#F2766B",
    fault="#BBA2E8",
    unknown="#A0A8AA",
    in_range="#4F7D5C",
    out_of_range="#3A4044",
    focus="#84B3B8",
)

# Okabe and Ito, "Color Universal Design" (2008), in the order blue, vermilion, bluish green,
# reddish purple, sky blue, orange, black; lightness moved until each stands at 3:1 or more on the
# theme's card and no two come close, for dichromats too.
_PROBES: Final = {
    Theme.LIGHT: ("#0068AE", "#B84A0A", "#00845F", "#A8447F", "#3A9BD1", "#BC8200", "#4D5356"),
    Theme.DARK: ("#56B4E9", "#EC8146", "#2FBF94", "#DE86B8", "#A9DDF8", "#F4CB5C", "#C9CDCE"),
}


def palette(theme: Theme) -> Palette:
    """The colours of a theme."""
    return _LIGHT if theme is Theme.LIGHT else _DARK


def probe_hex(index: int, theme: Theme) -> str:
    """Colour of the probe at place `index` of the setup, `#rrggbb`; after seven they come again."""
    colours = _PROBES[theme]
    return colours[index % len(colours)]
