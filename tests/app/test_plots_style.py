"""Colours, fonts and the style sheet.

Contrast: WCAG 2.2 (W3C Recommendation, 2023), definitions of contrast ratio and relative luminance,
success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (graphics, 3:1). Colour-blind view: Machado,
Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency",
IEEE TVCG 2009, matrices of severity 1.0. Differences: CIE 1976 L*a*b*, D65. All from memory.
"""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF, QRawFont
from PySide6.QtWidgets import QApplication, QComboBox, QLabel, QPushButton, QVBoxLayout, QWidget

from analysis.model.results import LimitCondition
from app.plots import style
from app.plots.palette import probe_hex

THEMES = list(style.Theme)

DICHROMATS = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
}


def linear(colour: str) -> np.ndarray:
    parts = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    return float(linear(colour) @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    xyz = to_xyz @ rgb / [0.95047, 1.0, 1.08883]
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_formula_itself():
    # WCAG 2.2: black on white is 21:1; #777777 on white is the known 4.48:1 that just fails.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", ["card", "paper", "field"])
@pytest.mark.parametrize("ink", ["ink", "muted", "accent_ink", "alarm_ink", "trip", "fault"])
def test_text_can_be_read(theme, ground, ink):
    colours = style.palette(theme)
    assert contrast(getattr(colours, ink), getattr(colours, ground)) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
def test_text_on_fills_can_be_read(theme):
    colours = style.palette(theme)
    assert contrast(colours.on_accent, colours.accent) >= 4.5
    assert contrast(colours.on_accent, colours.accent_hover) >= 4.5
    assert contrast(colours.ink, colours.selection) >= 4.5
    assert contrast(colours.normal, colours.card) >= 4.5
    assert contrast(colours.unknown, colours.card) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
def test_lines_and_shapes_can_be_seen(theme):
    colours = style.palette(theme)
    for name in ("alarm", "trip", "fault", "normal", "accent", "accent_soft", "axis", "focus"):
        assert contrast(getattr(colours, name), colours.card) >= 3.0, name


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("index", range(7))
def test_probe_colours_stand_out(theme, index):
    assert contrast(probe_hex(index, theme), style.palette(theme).card) >= 3.0


@pytest.mark.parametrize("theme", THEMES)
def test_probe_colours_differ(theme):
    # A just noticeable difference is about 2.3 (Mahy and others, 1994, from memory).
    for one, other in combinations(range(7), 2):
        a, b = (linear(probe_hex(index, theme)) for index in (one, other))
        assert np.linalg.norm(lab(a) - lab(b)) > 8 * 2.3


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("kind", DICHROMATS)
def test_the_first_four_probes_differ_for_dichromats(theme, kind):
    matrix = np.array(DICHROMATS[kind])
    for one, other in combinations(range(4), 2):
        a, b = (np.clip(matrix @ linear(probe_hex(i, theme)), 0, 1) for i in (one, other))
        assert np.linalg.norm(lab(a) - lab(b)) > 6 * 2.3, (one, other)


def test_a_state_has_its_own_shape_and_word():
    conditions = LimitCondition.__args__
    marks = [style.state_mark(condition) for condition in conditions]
    assert len({shape for shape, _ in marks}) == len(conditions)
    assert [word for _, word in marks] == list(conditions)


@pytest.mark.parametrize("theme", THEMES)
def test_every_state_has_its_colour(theme):
    for condition in LimitCondition.__args__:
        assert style.condition_colour(condition, theme).isValid()
        assert style.condition_ink(condition, theme).isValid()


def test_the_shipped_fonts_hold_every_sign(qapp):
    style.load_fonts()
    families = style.font("body").families()
    raw = [QRawFont.fromFont(_font_of(family)) for family in families]
    for sign in "µ∠▲■◆●✗°±−–←→↑↓∓·×↺↻≥≤…?":
        assert any(font.supportsCharacter(ord(sign)) for font in raw), sign
    assert raw[0].familyName() == families[0]


def _font_of(family: str):
    return QFont(family)


@pytest.mark.parametrize("role", ["body", "small", "tiny", "figure"])
@pytest.mark.parametrize("strong", [False, True])
def test_figures_have_one_width(qapp, role, strong):
    style.load_fonts()
    metrics = QFontMetricsF(style.font(role, strong=strong))
    widths = [metrics.horizontalAdvance(digit * 20) / 20 for digit in "0123456789"]
    # Widths are whole 64ths of a pixel before they are added up.
    assert max(widths) - min(widths) < 2 / 64


def test_without_the_tabular_figures_widths_would_differ(qapp):
    style.load_fonts()
    plain = QFont(style.font("body"))
    plain.unsetFeature(QFont.Tag("tnum"))
    metrics = QFontMetricsF(plain)
    assert metrics.horizontalAdvance("1111") < metrics.horizontalAdvance("8888") - 2


def test_figures_keep_their_width_under_the_style_sheet(qapp):
    style.load_fonts()
    style.apply_theme(qapp, style.Theme.LIGHT)
    label = QLabel("1111")
    label.setProperty("role", "title")
    label.ensurePolished()
    metrics = QFontMetricsF(label.font())
    qapp.setStyleSheet("")
    assert metrics.horizontalAdvance("1111") == metrics.horizontalAdvance("8888")


@pytest.mark.parametrize("theme", THEMES)
def test_the_style_sheet_is_whole_and_understood(qapp, theme, qtlog):
    sheet = style.stylesheet(theme)
    assert "$" not in sheet
    assert sheet.count("{") == sheet.count("}")
    window = QWidget()
    layout = QVBoxLayout(window)
    layout.addWidget(QPushButton("x"))
    layout.addWidget(QComboBox())
    style.apply_theme(QApplication.instance(), theme)
    window.ensurePolished()
    window.grab()
    assert not [r for r in qtlog.records if "stylesheet" in r.message.lower()]
    for path in re.findall(r'url\("([^"]+)"\)', sheet):
        assert Path(path).is_file()
    style.apply_palette(qapp, style.Theme.LIGHT)
    qapp.setStyleSheet("")


def test_pens():
    pen = style.line("#123456")
    assert pen.isCosmetic()
    assert pen.widthF() == 1.0
    assert style.rule("#123456", Qt.PenStyle.DashLine).dashPattern()
    assert not style.rule("#123456").isCosmetic()


def test_blending_is_between_the_two():
    made = style.blend("#000000", "#FFFFFF", 0.25)
    assert made.name() == "#bfbfbf"
    assert made.alpha() == 255
