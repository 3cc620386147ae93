"""Spring formulas against handbooks' worked examples, to the digits printed.

Sources: Shigley, Mechanical Engineering Design, 10th ed.; Machinery's Handbook, 31st
ed.; Bhandari, Design of Machine Elements; Bhavikatti, Strength of Materials; Jindal,
Machine Design. "From memory" stands where the answer was not read in print.
"""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vision.inspection.figures import sure, unsure
from vision.inspection.load import (
    Coil,
    LoadPoint,
    coil_bind_clearance,
    force_at_height,
    implied_free_height,
    least_gaps_mm,
    rate_from_geometry,
    rate_from_loads,
    rate_n_per_mm,
    solid_height,
)
from vision.inspection.strain import (
    bergstrasser,
    natural_frequency_hz,
    shear_stress_mpa,
)

MM_PER_IN = 25.4
N_PER_LBF = 4.4482216152605
MPA_PER_PSI = 0.006894757293168361
G_BHANDARI = 81370.0


def straight(modulus: float, wire: float, mean: float, active: float) -> float:
    """Rate of a cylindrical spring."""
    return rate_n_per_mm(modulus, wire, (mean, mean), active)


def wahl(index: float) -> float:
    """Wahl's factor (4C - 1)/(4C - 4) + 0.615/C, which these books take."""
    return (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index


def point(
    height_mm: float, force_n: float, u_mm: float = 0.0, u_n: float = 0.0
) -> LoadPoint:
    """A load read with expanded uncertainties."""
    return LoadPoint(
        height=unsure(height_mm, u_mm, "mm"), force=unsure(force_n, u_n, "N")
    )


def test_shigley_example_10_1_music_wire_spring() -> None:
    """E1: C 10.8, K_B 1.124, k 4.13 lbf/in, y 1.56 in, Ls 0.500 in, L0 2.06 in."""
    index = 0.400 / 0.037
    rate = straight(11.85e6, 0.037, 0.400, 10.5)
    # Ssy 0.45 Sut = 146 kpsi (from memory); printed F is 6.46 from rounded figures.
    force = 145.89e3 / bergstrasser(index) / shear_stress_mpa(1.0, 0.037, 0.400)
    solid = solid_height(sure(0.037, "mm"), sure(12.5, "coils"), ground=False).value

    assert round(index, 1) == 10.8
    assert round(bergstrasser(index), 3) == 1.124
    assert round(rate, 2) == 4.13
    assert force == pytest.approx(6.46, rel=0.002)
    assert round(force / rate, 2) == 1.56
    assert round(solid + 1e-9, 3) == 0.500
    assert round(solid + force / rate, 2) == 2.06
    assert round((solid + force / rate - 3 * 0.037) / 10.5, 3) == 0.186  # from memory


def test_shigley_example_10_4_rate_stress_and_frequency() -> None:
    """E2: K_B 1.287, tau_a 29.7, tau_m 39.6 kpsi, k 48.1 lbf/in, 281 Hz (memory)."""
    wire, mean, active = 0.092, 0.5625 - 0.092, 21.0
    factor = bergstrasser(mean / wire)
    amplitude = factor * shear_stress_mpa(15.0, wire, mean) / 1000.0
    steady = factor * shear_stress_mpa(20.0, wire, mean) / 1000.0
    frequency = natural_frequency_hz(
        wire * MM_PER_IN,
        mean * MM_PER_IN,
        active,
        11.75e6 * MPA_PER_PSI,
        0.284 * 0.45359237 / (MM_PER_IN / 100.0) ** 3,
    )

    # The printed K_B 1.287 follows from the printed, rounded C 5.11.
    assert round(bergstrasser(5.11), 3) == 1.287
    assert round(amplitude, 1) == 29.7
    assert round(steady, 1) == 39.6
    assert round(straight(11.75e6, wire, mean, active), 1) == 48.1
    # 281.45 with g = 386 in/s2, as the book rounds it; 281.59 with the standard g.
    assert frequency == pytest.approx(281.45, rel=0.0006)


def test_shigley_problem_10_3_plain_ground_spring() -> None:
    """E3: k 1.314 N/mm, Fs 167.9 N, L0 162.8 mm (from memory; 162.72 recomputed)."""
    wire, mean = 2.5, 31.0 - 2.5
    rate = straight(81_000.0, wire, mean, 13.0)
    allowed = 0.45 * 2211.0 / wire**0.145
    force = allowed / (bergstrasser(mean / wire) * shear_stress_mpa(1.0, wire, mean))
    solid = solid_height(sure(wire, "mm"), sure(14.0, "coils"), ground=True).value

    assert round(rate, 3) == 1.314
    assert round(force, 1) == 167.9
    assert round(solid + force / rate, 2) == 162.72


def test_handbook_spring_design_7_13_1() -> None:
    """E4: C 6.76, R 89 lb/in, K 1.221, P 356 lb at 4 in from rounded R, solid 3.75."""
    rate = straight(11.5e6, 0.250, 1.69, 13.0)
    solid = solid_height(sure(0.250, "mm"), sure(15.0, "coils"), ground=True).value

    assert round(1.69 / 0.250, 2) == 6.76
    assert int(rate) == 89
    assert int(rate) * 4.0 == pytest.approx(356.0)
    assert round(wahl(1.69 / 0.250), 3) == 1.221
    assert solid == 3.75


def test_bhandari_10_4_valve_spring() -> None:
    """E5: d 4, D 24, N 6.278549 -> 7, Nt 9, free length 48.821433 mm."""
    wanted = rate_from_loads(point(35.0, 150.0), point(30.0, 300.0)).value
    active = straight(G_BHANDARI, 4.0, 24.0, 1.0) / wanted
    rate = straight(G_BHANDARI, 4.0, 24.0, 7.0)
    deflection = 300.0 / rate
    free = solid_height(sure(4.0, "mm"), sure(9.0, "coils"), ground=True).value + (
        1.15 * deflection
    )

    assert round(active, 6) == 6.278549
    assert round(deflection, 3) == 11.149
    assert round(free, 6) == 48.821433
    assert round(rate, 3) == 26.908
    assert round(wahl(6.0), 4) == 1.2525
    assert round(wahl(6.0) * shear_stress_mpa(300.0, 4.0, 24.0), 1) == 358.8


def test_bhandari_10_15_valve_spring() -> None:
    """E6: d 4, D 32, Nt 10; N 7.946 -> 8 and K 1.18402 recomputed."""
    assert round(0.03 * pi / 4.0 * 32.0**2, 2) == 24.13
    assert round(straight(G_BHANDARI, 4.0, 32.0, 1.0) / 10.0, 3) == 7.946
    assert round(wahl(8.0), 5) == 1.18402


def test_bhandari_10_7_eight_springs() -> None:
    """E7: d 5, D 40, N 4.966431 -> 5, Nt 7, length 56.101389, rate 19.865723 N/mm."""
    rate = straight(G_BHANDARI, 5.0, 40.0, 5.0)
    solid = solid_height(sure(5.0, "mm"), sure(7.0, "coils"), ground=True).value

    assert round(straight(G_BHANDARI, 5.0, 40.0, 1.0) / 20.0, 6) == 4.966431
    assert round(rate, 6) == 19.865723
    assert round(solid + (300.0 / rate) + 6.0, 6) == 56.101389


def test_bhandari_10_19_nested_pair_of_unequal_lengths() -> None:
    """E8: 1000 N shared as 706.021471 and 293.978529 N over 24.988839, 9.988839 mm."""
    outer, inner = (
        straight(G_BHANDARI, 6.0, 36.0, 10.0),
        straight(G_BHANDARI, 5.0, 30.0, 8.0),
    )
    # The outer one is 115 mm long, the inner 100 mm: both stand at equal length.
    height_mm = (outer * 115.0 + inner * 100.0 - 1000.0) / (outer + inner)
    forces = [
        force_at_height(point(free_mm, 0.0), height_mm, sure(rate, "N/mm")).value
        for rate, free_mm in ((outer, 115.0), (inner, 100.0))
    ]

    assert round(outer, 6) == 28.253472
    assert round(inner, 6) == 29.430700
    assert round(115.0 - height_mm, 6) == 24.988839
    assert round(100.0 - height_mm, 6) == 9.988839
    assert [round(force, 6) for force in forces] == [706.021471, 293.978529]
    assert sum(forces) == pytest.approx(1000.0, abs=1e-9)
    assert round(wahl(6.0) * shear_stress_mpa(forces[0], 6.0, 36.0), 6) == 375.305136
    assert round(wahl(6.0) * shear_stress_mpa(forces[1], 5.0, 30.0), 6) == 225.032219


def test_bhavikatti_close_coiled_spring() -> None:
    """E9: tau 99.47 N/mm2, deflection 73.24 mm, stiffness 6.14 N/mm."""
    rate = straight(80_000.0, 12.0, 150.0, 10.0)

    assert round(shear_stress_mpa(450.0, 12.0, 150.0), 2) == 99.47
    assert round(450.0 / rate, 2) == 73.24
    assert round(rate, 2) == 6.14


def test_jindal_8_7_music_wire_spring() -> None:
    """E10: tau_ys 992.7 MPa, W 33.8 N, k 0.496 N/mm, solid (Nt - 1) d 15.24 mm."""
    wire, mean = 1.016, 12.6 - 1.016
    strength = 0.45 * 2211.0 / wire**0.145
    # The book takes direct shear alone: Ks = 1 + 0.5 / C.
    direct = 1.0 + 0.5 * wire / mean
    force = strength / (direct * shear_stress_mpa(1.0, wire, mean))

    assert round(strength, 1) == 992.7
    assert round(force, 1) == 33.8
    assert round(straight(81_000.0, wire, mean, 14.0), 3) == 0.496
    # The book counts Nt - 1 = 15 coils: a ground spring with 15 coils.
    assert solid_height(
        sure(wire, "mm"), sure(15.0, "coils"), ground=True
    ).value == pytest.approx(15.24)


def test_cone_with_equal_ends_is_a_cylinder() -> None:
    """26.951058 N/mm by both formulas (recomputed: G 81500, d 4, D 24, n 7)."""
    cylinder = 81_500.0 * 4.0**4 / (8.0 * 24.0**3 * 7.0)

    assert round(straight(81_500.0, 4.0, 24.0, 7.0), 6) == 26.951058
    assert round(cylinder, 6) == 26.951058


def test_cone_formula_by_radii() -> None:
    """R = G d^4 / (16 n (r0 + r1)(r0^2 + r1^2)), as another text writes it."""
    by_radii = 78_500.0 * 4.2**4 / (16.0 * 4.5 * (11.0 + 14.0) * (11.0**2 + 14.0**2))

    assert rate_n_per_mm(78_500.0, 4.2, (22.0, 28.0), 4.5) == pytest.approx(by_radii)


def test_catalogue_spring_confirms_rate_and_least_gaps() -> None:
    """Catalogue, d 0.5, D 5.5: R 1.093 N/mm, Ln 3.24, Ln,dyn 3.49 mm (EN 13906-1)."""
    gaps = least_gaps_mm(0.5, 5.5, 3.5)

    assert round(straight(81_500.0, 0.5, 5.5, 3.5), 3) == 1.093
    assert round(2.75 + gaps, 2) == 3.24
    assert round(2.75 + 1.5 * gaps, 2) == 3.49


def test_surge_of_steel_by_the_short_formula() -> None:
    """Steel: f = 363 d / (n D^2) in m and Hz (recomputed 362.6 to 362.7)."""
    frequency = natural_frequency_hz(4.0, 24.0, 7.0, 81_500.0)

    assert frequency == pytest.approx(362.65 * 0.004 / (7.0 * 0.024**2), rel=3e-4)


@pytest.mark.parametrize(
    ("closed", "opened", "rate", "free"),
    [
        ((40.52, 304.0), (29.74, 912.0), 56.4, 45.9),
        ((45.75, 340.0), (33.55, 980.0), 52.5, 52.2),
        ((58.0, 590.0), (45.0, 1150.0), 43.1, 71.7),
        ((54.0, 243.0), (41.0, 447.0), 15.7, 69.5),
        ((34.0, 270.0), (23.8, 528.0), 25.3, 44.7),
        ((41.0, 14.8 * 9.80665), (28.6, 25.0 * 9.80665), 8.07, 59.0),
        ((44.0, 25.5 * 9.80665), (31.6, 52.3 * 9.80665), 21.2, 55.8),
    ],
    ids=["18", "17", "20", "21", "24", "1", "2"],
)
def test_rate_and_implied_height_of_service_lines(
    closed: tuple[float, float], opened: tuple[float, float], rate: float, free: float
) -> None:
    """Public service lines (common practice), recomputed to three digits."""
    found = rate_from_loads(point(*closed), point(*opened))

    assert found.value == pytest.approx(rate, rel=2e-3)
    assert implied_free_height(point(*closed), found).value == pytest.approx(
        free, abs=0.06
    )


@pytest.mark.parametrize(
    ("closed", "opened"),
    [((38.9, 290.0), (38.4, 310.0)), ((38.9, 290.0), (30.1, 280.0))],
    ids=["same height", "falling"],
)
def test_no_rate_from_loads_that_give_none(
    closed: tuple[float, float], opened: tuple[float, float]
) -> None:
    """Half a millimetre of travel, or a falling load, gives no rate."""
    assert rate_from_loads(point(*closed), point(*opened)) is None


def test_no_rate_without_active_coils() -> None:
    """Two coils are both dead ends."""
    coil = Coil(
        wire=sure(4.0, "mm"),
        bottom=sure(31.0, "mm"),
        top=sure(31.0, "mm"),
        total_coils=sure(2.0, "coils"),
        shear_modulus=sure(79_500.0, "MPa"),
    )

    assert rate_from_geometry(coil) is None


lengths = st.floats(min_value=3.0, max_value=5.0)


@given(wire=lengths, bottom=st.floats(25.0, 35.0), top=st.floats(20.0, 30.0))
def test_geometric_rate_carries_each_influence(
    wire: float, bottom: float, top: float
) -> None:
    """Each sensitivity agrees with a difference quotient of the formula."""
    inputs = {"wire": wire, "bottom": bottom, "top": top, "coils": 6.5, "g": 79_500.0}
    parts = {name: 1e-4 * value for name, value in inputs.items()}

    def formula(values: dict[str, float]) -> float:
        d = values["wire"]
        means = (values["bottom"] - d, values["top"] - d)
        return rate_n_per_mm(values["g"], d, means, values["coils"] - 2.0)

    rate = rate_from_geometry(
        Coil(
            wire=unsure(wire, 2 * parts["wire"], "mm", "wire"),
            bottom=unsure(bottom, 2 * parts["bottom"], "mm", "bottom"),
            top=unsure(top, 2 * parts["top"], "mm", "top"),
            total_coils=unsure(6.5, 2 * parts["coils"], "coils", "coils"),
            shear_modulus=unsure(79_500.0, 2 * parts["g"], "MPa", "g"),
        )
    )

    assert rate.value == pytest.approx(formula(inputs))
    for influence in rate.influences:
        name = influence.source
        up = formula({**inputs, name: inputs[name] + parts[name]})
        down = formula({**inputs, name: inputs[name] - parts[name]})
        assert influence.u == pytest.approx((up - down) / 2.0, rel=1e-4)


def test_force_is_brought_to_the_asked_height_by_the_rate() -> None:
    """276.5 N at 39.4 mm, 30 N/mm: 0.5 mm lower it is 291.5 N; U carries all three."""
    rate = unsure(30.0, 1.0, "N/mm")

    force = force_at_height(point(39.4, 276.5, 0.1, 4.0), 38.9, rate)

    assert force.value == pytest.approx(291.5)
    assert force.expanded == pytest.approx((4.0**2 + 3.0**2 + 0.5**2) ** 0.5)


def test_uncertainty_of_a_rate_from_two_loads() -> None:
    """U by hand: sqrt(2) (U_F / 10) and sqrt(2) R U_L / 10 in quadrature."""
    rate = rate_from_loads(point(40.0, 300.0, 0.1, 4.0), point(30.0, 600.0, 0.1, 4.0))

    assert rate.value == pytest.approx(30.0)
    assert rate.expanded == pytest.approx((2 * 0.4**2 + 2 * 0.3**2) ** 0.5)


def test_coil_bind_clearance_is_open_less_solid() -> None:
    """45 mm open against 40 mm solid leaves 5 mm (a maker's margin)."""
    clearance = coil_bind_clearance(unsure(45.0, 0.2), unsure(40.0, 0.15))

    assert clearance.value == 5.0
    assert clearance.expanded == pytest.approx(0.25)
