"""When a rotor begins to whirl by itself, in closed form.

Sources: Muszynska, *Rotordynamics*, 2005 (**from memory**): fluid that goes round at λ times the
shaft's speed carries a symmetric rotor into whirl from Ω = sqrt(K/M)/λ on, at sqrt(K/M), the
natural frequency with shaft and supports in series. Cross-coupled stiffness q on a disc with
damping c: unstable from q = c ω on (Friswell et al. 2010, chapter 7; Childs 1993, both **from
memory**). Values **computed**.
"""

from __future__ import annotations

import math

import pytest

from analysis.simulate.rotor_model import RPM, Rotor, modes, stability_threshold


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
@pytest.mark.parametrize("fluid_ratio", [0.35, 0.42, 0.48])
def test_whirl_begins_at_the_natural_frequency_over_the_fluids_ratio(fluid_ratio, rotation):
    shaft, supports, mass = 9e6, 16e6, 60.0
    rotor = Rotor(
        mass_kg=mass,
        shaft_n_per_m=shaft,
        disc_ns_per_m=0.0,
        support_n_per_m=(supports, supports),
        support_ns_per_m=(25e3, 25e3),
        fluid_ratio=fluid_ratio,
        rotation=rotation,
    )
    natural = math.sqrt(shaft * supports / (shaft + supports) / mass) / RPM
    threshold = stability_threshold(rotor)
    assert threshold == pytest.approx(natural / fluid_ratio, rel=1e-6)
    whirl = max(modes(rotor, threshold), key=lambda mode: mode.growth_per_s)
    assert whirl.frequency_rpm == pytest.approx(natural, rel=1e-6)
    assert whirl.share_forward == pytest.approx(1.0, abs=1e-6)
    assert abs(whirl.growth_per_s) < 1e-3
    # Damping on the disc, which does not go round, puts it off.
    damped = Rotor(**{**vars(rotor), "disc_ns_per_m": 400.0})
    assert stability_threshold(damped) > 1.02 * threshold


def test_cross_coupling_beats_damping_at_its_product_with_frequency():
    mass, supports, damping = 60.0, 6e6, 3e3
    product = damping * math.sqrt(supports / mass)
    for share, stable in ((0.99, True), (1.01, False)):
        rotor = Rotor(
            mass_kg=mass,
            shaft_n_per_m=1e13,
            disc_ns_per_m=0.0,
            support_n_per_m=(supports, supports),
            support_ns_per_m=(damping, damping),
            cross_n_per_m=share * product,
        )
        assert stability_threshold(rotor, looks=20) == (None if stable else 0.0)


def test_anisotropic_supports_put_the_threshold_up():
    # Stiffness that differs in x and y makes the whirl a narrow ellipse, which cross-coupling feeds
    # less: common practice.
    def rotor(kx: float, ky: float) -> Rotor:
        return Rotor(
            shaft_n_per_m=9e6,
            disc_ns_per_m=0.0,
            support_n_per_m=(kx, ky),
            support_ns_per_m=(25e3, 25e3),
            fluid_ratio=0.45,
        )

    assert stability_threshold(rotor(13e6, 20e6)) > stability_threshold(rotor(16e6, 16e6))
