"""The Lab page, used as its reader would: the start, the sliders, the gallery."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from analysis.model.units import LengthUnit
from analysis.simulate.gallery import SHAPES
from analysis.simulate.lab_state import Precession
from app.session.lab_fields import line_of
from app.widgets.lab_guide_steps import STEPS

from .conftest import settled
from .lab_reader import drawn, type_into
from .plot_contract import words_of


class TestWithoutACapture:
    def test_it_is_reached_from_the_start(self, window, page):
        assert window.session.capture.capture is None
        assert page.isVisible()
        assert window.header.pages.value() == "lab"
        assert all(not plot.is_empty() for plot in page.plots())
        assert "1X runs forward in a circle" in page.bench.finding.text()

    def test_cards_and_timeline_of_a_capture_are_not_around_it(self, qtbot, opened):
        assert opened.timeline.isVisible()
        opened.show_page("lab")
        assert not opened.timeline.isVisible()
        assert not opened.probes.isVisible()
        opened.show_page("moment")
        assert opened.timeline.isVisible()
        assert opened.probes.isVisible()

    def test_a_capture_that_is_opened_is_shown_where_it_can_be_seen(
        self, qtbot, window, page, capture_path
    ):
        window.session.open(capture_path)
        qtbot.waitUntil(lambda: window.session.reader.result is not None, timeout=20_000)
        assert window.header.pages.value() == "moment"
        assert not page.isVisible()
        qtbot.waitUntil(lambda: settled(window.session), timeout=20_000)

    def test_the_shaft_stands_while_nobody_looks(self, qtbot, window, page):
        page.clock.set_running(True)
        with qtbot.waitSignal(page.clock.moved):
            pass
        window.show_page("moment")
        with qtbot.assertNotEmitted(page.clock.moved, wait=80):
            pass


class TestGuide:
    def test_each_step_is_done_by_what_it_asks_for(self, qtbot, page):
        guide = page.leaf("guide")
        deeds = (
            lambda: guide.rotation.button("cw").click(),
            lambda: type_into(qtbot, guide.slider("1X.backward_um_pp"), "80"),
            lambda: type_into(qtbot, guide.slider("0.5X.forward_um_pp"), "40"),
            lambda: type_into(qtbot, guide.slider("1X.forward_at_deg"), "-45"),
        )
        for place, deed in enumerate(deeds):
            assert guide.step is STEPS[place]
            drawn(qtbot, page)
            assert not guide.is_done()
            assert not guide.said.isVisible()
            deed()
            qtbot.waitUntil(guide.is_done, timeout=2_000)
            assert guide.said.isVisible()
            guide.next.click()
        assert page.leaves.leaf == "gallery"

    def test_what_a_step_says_is_true_of_what_is_seen(self, qtbot, page):
        guide = page.leaf("guide")
        guide.rotation.button("cw").click()
        view = drawn(qtbot, page)
        spectrum = view.result.spectrum
        top = spectrum.frequency[int(np.argmax(spectrum.amplitude_um))]
        assert top == pytest.approx(1.0)  # still at the right of zero
        guide.show_step(2)
        type_into(qtbot, guide.slider("0.5X.forward_um_pp"), "40")
        assert drawn(qtbot, page).result.loops.marks == 2
        guide.show_step(3)
        type_into(qtbot, guide.slider("1X.forward_at_deg"), "-45")
        view = drawn(qtbot, page)
        assert view.lag_deg("LAB-X") == pytest.approx(90.0, abs=0.1)
        assert view.lag_deg("LAB-Y") == pytest.approx(180.0, abs=0.1)

    def test_again_sets_the_step_back(self, qtbot, page):
        guide = page.leaf("guide")
        guide.show_step(1)
        type_into(qtbot, guide.slider("1X.backward_um_pp"), "80")
        qtbot.waitUntil(guide.is_done)
        guide.again.click()
        assert not guide.is_done()
        assert page.model.state == STEPS[1].state


class TestCompose:
    def test_a_slider_and_a_typed_number_move_the_picture(self, qtbot, page):
        page.show_leaf("compose")
        slider = page.leaf("compose").sliders()["1X.backward_um_pp"]
        slider.slider.setValue(25)
        assert line_of(page.model.state, 1.0).backward_um_pp == 25.0
        type_into(qtbot, slider, "33.5")
        assert line_of(page.model.state, 1.0).backward_um_pp == 33.5
        view = drawn(qtbot, page)
        assert 2.0 * abs(view.result.seen_ellipse.backward) == pytest.approx(33.5, abs=0.01)
        assert any("B backward 33.5 µm" in word for word in words_of(page.bench.circles))

    def test_more_than_the_slider_covers_may_be_typed(self, qtbot, page):
        page.show_leaf("compose")
        slider = page.leaf("compose").sliders()["1X.forward_um_pp"]
        type_into(qtbot, slider, "350")
        assert line_of(page.model.state, 1.0).forward_um_pp == 350.0
        assert slider.slider.value() == slider.slider.maximum()

    def test_arrow_keys_belong_to_the_slider_and_not_to_the_moment(self, qtbot, window, page):
        page.show_leaf("compose")
        window.activateWindow()
        slider = page.leaf("compose").sliders()["1X.forward_um_pp"]
        slider.slider.setFocus()
        qtbot.waitUntil(lambda: QApplication.focusWidget() is slider.slider)
        before = slider.value()
        qtbot.keyClick(slider.slider, Qt.Key.Key_Right)
        assert slider.value() == before + 1.0

    def test_another_order_is_chosen_and_marked(self, qtbot, page):
        page.show_leaf("compose")
        controls = page.leaf("compose")
        controls.show_order(0.5)
        controls.sliders()["0.5X.forward_um_pp"].slider.setValue(30)
        assert line_of(page.model.state, 0.5).forward_um_pp == 30.0
        texts = [text for text, _, _ in controls._options]
        assert "0.5X •" in texts
        assert "3X" in texts

    def test_what_cannot_be_is_told_and_not_shown(self, qtbot, page):
        page.show_leaf("compose")
        controls = page.leaf("compose")
        controls.show_leaf("measuring")
        slider = controls.sliders()["probe0.angle_deg"]
        type_into(qtbot, slider, "-40")
        assert "parallel" in controls.refused.text()
        assert controls.refused.isVisible()
        assert slider.value() == 45.0

    def test_mistakes_are_told_in_words(self, qtbot, page):
        page.show_leaf("compose")
        page.model.set(swapped=True)
        drawn(qtbot, page)
        assert "swapped" in page.bench.remarks.text()
        assert "backward" in page.bench.finding.text()

    def test_lengths_are_shown_and_typed_in_mil(self, qtbot, window, page):
        page.show_leaf("compose")
        window.session.unit.set(LengthUnit.MIL)
        slider = page.leaf("compose").sliders()["1X.forward_um_pp"]
        type_into(qtbot, slider, "2")
        assert line_of(page.model.state, 1.0).forward_um_pp == pytest.approx(50.8)
        drawn(qtbot, page)
        assert "mil" in page.bench.finding.text()
        assert "µm" not in page.bench.finding.text()

    def test_the_scale_stays_while_a_slider_moves(self, qtbot, page):
        page.show_leaf("compose")
        drawn(qtbot, page)
        before = page.bench.orbit.canvas.box.viewRange()
        page.model.set(motions=(Precession(1.0, 30.0),))
        drawn(qtbot, page)
        assert page.bench.orbit.canvas.box.viewRange() == before
        page.fit()
        assert page.bench.orbit.canvas.box.viewRange() != before


class TestGallery:
    def test_every_shape_has_a_picture_and_loads(self, qtbot, page):
        page.show_leaf("gallery")
        gallery = page.leaf("gallery")
        qtbot.waitUntil(gallery.is_painted, timeout=10_000)
        items = [gallery.list.item(row) for row in range(gallery.list.count())]
        named = [item for item in items if item.data(Qt.ItemDataRole.UserRole)]
        assert len(named) == len(SHAPES) >= 12
        assert all(not item.icon().isNull() for item in named)
        for shape in SHAPES:
            gallery.choose(shape.key)
            assert page.model.state == shape.state
            for words in (shape.makes.split(",")[0], shape.how_sure, "What else can look"):
                assert words in gallery.text.text() or "&" in gallery.text.text()

    def test_the_keyboard_walks_from_shape_to_shape(self, qtbot, page):
        page.show_leaf("gallery")
        gallery = page.leaf("gallery")
        gallery.choose(SHAPES[0].key)
        qtbot.keyClick(gallery.list, Qt.Key.Key_Down)
        assert page.model.state == SHAPES[1].state


class TestCopyAndTheme:
    def test_the_finding_is_copied(self, qtbot, window, page):
        drawn(qtbot, page)
        page.copy_readings()
        assert "1X runs forward" in QApplication.clipboard().text()

    def test_both_themes(self, qtbot, window, page):
        seen = []
        for theme in ("dark", "light"):
            window.session.theme.set(theme)
            qtbot.waitUntil(lambda: window.is_painted() and page.is_ready())
            seen.append(page.bench.orbit.theme().value)
        assert seen == ["dark", "light"]
