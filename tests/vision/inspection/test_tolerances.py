"""Tolerances of new springs against a catalogue's and the tables' printed figures."""

from math import atan, degrees

import pytest

from vision.inspection.tolerances import (
    JIS_SQUARENESS_SHARE,
    PARALLELISM_SHARE,
    SQUARENESS_SHARE,
    Design,
    diameter_tolerance_mm,
    force_tolerance_n,
    handbook_length_tolerance_mm,
    handbook_squareness_deg,
    jis_length_tolerance_mm,
    length_tolerance_mm,
)

CATALOGUE = Design(wire_mm=0.5, mean_mm=5.5, active=3.5, rate_n_per_mm=1.093)


def test_catalogue_spring_after_en_15800_grade_2() -> None:
    """Catalogue page: L0 +/-0.52 mm, Fn +/-0.63 N, Fn,dyn +/-0.62 N."""
    assert round(length_tolerance_mm(CATALOGUE, 2), 2) == 0.52
    assert round(force_tolerance_n(CATALOGUE, 3.671, 2), 2) == 0.63
    assert round(force_tolerance_n(CATALOGUE, 3.401, 2), 2) == 0.62


def test_grades_scale_by_their_factor() -> None:
    """Q is 0.63, 1 and 1.6 (EN 15800, from memory)."""
    middle = length_tolerance_mm(CATALOGUE, 2)

    assert length_tolerance_mm(CATALOGUE, 1) == pytest.approx(0.63 * middle)
    assert length_tolerance_mm(CATALOGUE, 3) == pytest.approx(1.6 * middle)


def test_jis_squareness_in_degrees() -> None:
    """JIS B 2707 prints 1.15, 2.9 and 4.6 deg for 0.02, 0.05 and 0.08 H0."""
    angles = [degrees(atan(share)) for share in JIS_SQUARENESS_SHARE.values()]

    assert [round(angles[0], 2), *(round(angle, 1) for angle in angles[1:])] == [
        1.15,
        2.9,
        4.6,
    ]


def test_squareness_and_parallelism_grade_1() -> None:
    """DIN 2095 grade 1: e1 3 % of L0, e2 1.5 % of De."""
    assert (SQUARENESS_SHARE[1], PARALLELISM_SHARE[1]) == (0.03, 0.015)


@pytest.mark.parametrize(
    ("slenderness", "index", "lean"),
    [
        (0.5, 4, 3.0),
        (0.5, 16, 4.0),
        (1.5, 6, 2.5),
        (2, 8, 2.5),
        (3, 4, 2.0),
        (12, 16, 2.5),
    ],
)
def test_handbook_squareness_at_printed_places(
    slenderness: float, index: float, lean: float
) -> None:
    """Machinery's Handbook, 31st ed., p. 331, table 10."""
    assert handbook_squareness_deg(slenderness, index) == lean


def test_handbook_squareness_beyond_the_table_keeps_its_edge() -> None:
    """Stubbier or slenderer than the table: the edge value."""
    assert handbook_squareness_deg(0.1, 3.0) == 3.0
    assert handbook_squareness_deg(20.0, 20.0) == 2.5


def test_handbook_free_length_spot_check() -> None:
    """12 coils per inch, index 10: 0.030 in per inch (printed twice)."""
    assert handbook_length_tolerance_mm(25.4, 12.0, 10.0) == pytest.approx(0.030 * 25.4)


def test_handbook_free_length_of_a_short_spring() -> None:
    """Under half an inch the tolerance of half an inch holds (table's own rule)."""
    assert handbook_length_tolerance_mm(6.35, 1.0, 8.0) == pytest.approx(0.021 * 12.7)


@pytest.mark.parametrize(
    ("mean_mm", "index", "grade", "tolerance"),
    [
        (12.0, 6.0, 1, 0.15),
        (20.0, 10.0, 2, 0.45),
        (28.0, 6.0, 2, 0.40),
        (33.0, 16.0, 3, 1.5),
        (45.0, 9.0, 1, 0.40),
        (60.0, 5.0, 3, 1.5),
    ],
)
def test_mean_diameter_tolerance_at_printed_places(
    mean_mm: float, index: float, grade: int, tolerance: float
) -> None:
    """DIN 2095 / EN 15800, mean coil diameter."""
    assert diameter_tolerance_mm(mean_mm, index, grade) == tolerance


def test_mean_diameter_outside_the_table_has_no_tolerance() -> None:
    """Below 10 mm, above 63 mm or beyond index 20 nothing is said."""
    assert diameter_tolerance_mm(9.0, 6.0, 1) is None
    assert diameter_tolerance_mm(64.0, 6.0, 1) is None
    assert diameter_tolerance_mm(30.0, 21.0, 1) is None


@pytest.mark.parametrize(
    ("free_mm", "index", "grade", "tolerance"),
    [
        (48.0, 6.0, 1, 0.48),
        (10.0, 6.0, 1, 0.2),
        (48.0, 6.0, 2, 0.96),
        (48.0, 9.0, 3, 2.64),
    ],
)
def test_jis_free_height(
    free_mm: float, index: float, grade: int, tolerance: float
) -> None:
    """JIS B 2707: 1, 2, 4 % up to index 8; 1.5, 3, 5.5 % above; with a least value."""
    assert jis_length_tolerance_mm(free_mm, index, grade) == pytest.approx(tolerance)
