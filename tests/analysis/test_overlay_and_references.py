"""Reference lines of a response, and two runs laid over each other."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.response_results import Response
from analysis.model.setup import SeverityZones
from analysis.rotor.response.overlay import overlay
from analysis.rotor.response.responses import response_of
from analysis.rotor.response.slow_roll import typed
from analysis.rotor.vectors import vector_from
from analysis.views.references import limit_lines, running_test_line, zone_lines
from analysis.views.run import references_of
from tests.analysis.runs import OPERATING, SLOW, jeffcott, points, turn_times
from tests.analysis.synthetic import setup_of

NATURAL = 2400.0


class TestReferences:
    def test_limits_with_their_multiplier(self) -> None:
        setup = setup_of(
            limit=[
                {
                    "probes": ["X"],
                    "measure": "1x",
                    "level": "alarm",
                    "above": 60.0,
                    "multiplier": {"factor": 2.0, "rpm": [2000.0, 2800.0]},
                },
                {"probes": ["X"], "measure": "position", "level": "trip", "above": 1900.0},
            ]
        )
        (line,) = limit_lines(setup, "X", 400.0, 3600.0)
        assert line.kind == "alarm"
        assert "1X" in line.name
        at = [float(np.interp(n, line.speed_rpm, line.level_um)) for n in (1999.0, 2400.0, 2801.0)]
        assert at == [60.0, 120.0, 60.0]

    def test_zones_are_data_with_an_edition(self) -> None:
        lines = zone_lines(None, 400.0, 3600.0)
        assert [line.name for line in lines] == ["zone A/B", "zone B/C", "zone C/D"]
        assert [float(line.level_um[-1]) for line in lines] == pytest.approx([80.0, 150.0, 220.0])
        assert all("memory" in line.source for line in lines)
        own = SeverityZones(edition="own", a_b=1.0, b_c=2.0, c_d=3.0)
        assert zone_lines(own, 400.0, 3600.0)[0].source == "own"

    def test_running_test_limit_is_editable(self) -> None:
        line = running_test_line(15000.0, 400.0, 15000.0)
        assert line.level_um[0] == pytest.approx(22.72, abs=0.005)
        assert "617" in line.source
        assert running_test_line(15000.0, 400.0, 15000.0, 30.0).level_um[0] == 30.0


class TestOverlay:
    @staticmethod
    def run(change: complex = 0.0, rpm1: float = 5300.0, down: bool = False) -> Response:
        ends = (rpm1, 400.0) if down else (400.0, rpm1)
        times, rpm = turn_times(*ends, 80.0)
        vectors = SLOW + 10.0 * jeffcott(rpm, NATURAL, 0.05) + change
        return response_of("X", points(times, rpm, vectors, noise_um=0.2), typed(1, SLOW))

    def test_difference_is_a_vector(self) -> None:
        change = vector_from(40.0, 200.0)
        found = overlay(self.run(), self.run(change), b_c=9000.0, operating_rpm=OPERATING)
        assert found is not None
        assert np.abs(found.difference - change).max() < 1.0
        assert found.limit_um == pytest.approx(0.25 * 9000.0 / np.sqrt(found.speed_rpm))
        assert found.largest_operating is not None
        speed, size, significant = found.largest_operating
        assert OPERATING[0] <= speed <= OPERATING[1]
        assert size == pytest.approx(40.0, abs=1.0)
        assert significant is True
        assert found.doubts == ()

    def test_a_small_change_is_not_significant(self) -> None:
        found = overlay(self.run(), self.run(5.0 + 0j), b_c=9000.0, operating_rpm=OPERATING)
        assert found is not None
        assert found.largest_operating is not None
        assert found.largest_operating[2] is False
        assert not found.significant.any()

    def test_only_speeds_that_both_have(self) -> None:
        found = overlay(self.run(rpm1=4000.0), self.run())
        assert found is not None
        assert found.speed_rpm[-1] == pytest.approx(4000.0, rel=0.01)
        assert found.largest_operating is None
        assert np.isnan(found.limit_um).all()

    def test_up_against_down_is_doubted(self) -> None:
        found = overlay(self.run(), self.run(down=True))
        assert found is not None
        assert [doubt.flag for doubt in found.doubts] == ["directions-differ"]
        assert overlay(self.run(), self.run(down=True), direction="up") is None


def test_an_agreed_running_test_limit_takes_the_place_of_the_formula() -> None:
    setup = setup_of()
    machine = setup.machine.model_copy(update={"running_test_limit_um": 32.0})
    agreed = setup.model_copy(update={"machine": machine})
    wanted = frozenset({"test"})
    (plain,) = references_of(setup, (), wanted, (400.0, 15000.0), (9000.0, 15000.0))
    # 25.4 sqrt(12000 / 15000): API 617 and RP 684 as read in open-source code.
    assert plain.level_um[0] == pytest.approx(22.72, abs=0.01)
    for operating in ((9000.0, 15000.0), None):
        (line,) = references_of(agreed, (), wanted, (400.0, 15000.0), operating)
        assert line.level_um.tolist() == [32.0, 32.0]
        assert "[machine]" in line.source
    assert references_of(setup, (), wanted, (400.0, 15000.0), None) == ()
