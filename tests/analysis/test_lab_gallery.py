"""The gallery: its words stay hedged, and each state makes the shape that its words claim."""

from __future__ import annotations

import re

import numpy as np
import pytest

from analysis.simulate.gallery import GALLERIES, SHAPES, shape_named
from analysis.simulate.lab import POINTS, LabResult, compose
from analysis.simulate.lab_recipe import recipe_of
from tests.analysis.test_lab import crossings

HEDGE = re.compile(r"\b(often|may|can|possibly|usually|as a rule|typically)\b", re.IGNORECASE)


def shown(key: str) -> LabResult:
    return compose(shape_named(key).state)


def path(result: LabResult, turns: int = 1) -> np.ndarray:
    """The orbit of whole turns, thinned out and turned a little off the axes."""
    whole = (result.seen.x + 1j * result.seen.y)[: turns * POINTS : turns]
    return whole * np.exp(0.0123j)


def line(result: LabResult, order: float) -> float:
    found = result.spectrum
    place = int(np.argmin(np.abs(found.frequency - order)))
    return float(found.amplitude_um[place])


def test_there_are_enough_and_all_are_told_of():
    assert len(SHAPES) >= 12
    assert len({shape.key for shape in SHAPES}) == len(SHAPES)
    assert len(GALLERIES) == 3
    with pytest.raises(KeyError):
        shape_named("no such shape")


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.key)
def test_words_are_whole_hedged_and_sourced(shape):
    for words in (shape.makes, shape.waveform, shape.spectrum, shape.also, shape.tells_apart):
        assert words.endswith(".")
        assert len(words) < 260
    assert HEDGE.search(shape.makes), shape.makes
    assert shape.source
    assert shape.state.title
    assert recipe_of(shape.state).title == shape.state.title


def test_free_shapes():
    circle, ellipse, thin = (shown(key).seen_ellipse for key in ("circle", "ellipse", "line"))
    assert circle.minor_um == pytest.approx(circle.major_um)
    assert 0.3 < ellipse.minor_um / ellipse.major_um < 0.8
    assert thin.minor_um < 0.05 * thin.major_um
    assert shown("backward").seen_ellipse.precession == "backward"
    assert shown("backward").shaft_ellipse.precession == "backward"
    for key, count, side, turns in (
        ("inner-loop-2x", 1, "inner", 1),
        ("half-forward", 1, "inner", 2),
        ("half-backward", 3, "outer", 2),
        ("third-forward", 2, "inner", 3),
    ):
        result = shown(key)
        assert (result.loops.count, result.loops.side) == (count, side)
        assert crossings(path(result, turns)) >= count
    for key in ("oil-whirl", "oil-whip"):
        result = shown(key)
        assert result.loops.marks is None
        ratio = shape_named(key).state.whirl.order
        assert 0.35 < ratio < 0.5
        assert line(result, ratio) > line(result, 1.0)
        assert line(result, -ratio) < 0.2 * line(result, ratio)
    heights = np.abs(compose(shape_named("breathing").state).seen.x)[: 8 * POINTS]
    turns = heights.reshape(8, POINTS).max(axis=1)
    assert turns.max() - turns.min() > 3.0


def test_held_shapes():
    assert shown("flattened").seen_ellipse.minor_um < 0.6 * shown("flattened").seen_ellipse.major_um
    assert line(shown("banana"), 2.0) > 2.0
    assert crossings(path(shown("figure-eight"))) == 1
    # Flat: a stretch of the turn on which the gap stays at its end.
    cut = shown("truncated")
    away = (path(cut) * np.exp(-0.0123j - 1j * np.radians(20.0))).real
    assert np.count_nonzero(away > away.max() - 0.01) > 0.1 * POINTS
    assert sum(line(cut, -order) > 0.3 for order in (2, 3, 4)) >= 2
    rub = shown("rub-bounce")
    assert line(rub, -0.5) > 0.3
    assert line(rub, 2.0) > 1.0


def test_shapes_of_the_chain():
    slow = shown("slow-roll")
    assert slow.shaft_ellipse.major_um == 0.0
    assert slow.seen_ellipse.major_um == pytest.approx(9.0)
    assert slow.seen_ellipse.minor_um == pytest.approx(9.0)
    scratched = shown("scratch")
    deepest = [int(np.argmax(w.trace.y[:POINTS])) for w in scratched.waveforms.values()]
    assert (deepest[1] - deepest[0]) % POINTS == pytest.approx(POINTS / 4, abs=4)
    swapped = shown("swapped")
    assert swapped.seen_ellipse.precession == "backward"
    assert swapped.shaft_ellipse.precession == "forward"
    end = shown("end-of-range")
    assert end.readings["LAB-X"].margin_um < 0.0
    low, right = (abs(end.readings[name].vectors[1]) for name in ("LAB-X", "LAB-Y"))
    assert low < 0.85 * right
    assert abs(end.readings["LAB-X"].vectors[2]) > 1.0
