"""What a specification's own figures imply, and what new springs are allowed."""

from dataclasses import replace

import pytest

from tests.vision.inspection.springs import LIMITS
from vision.inspection.drawn import find_design
from vision.inspection.practice import describe_practice
from vision.records.judged import Limit, Load, Requirements

CATALOGUE = Requirements(
    kind="",
    free_height=Limit(unit="mm", nominal=6.6),
    outside_diameter=Limit(unit="mm", nominal=6.0),
    wire_diameter=Limit(unit="mm", nominal=0.5),
    closed=Load(height_mm=3.24, force=Limit(unit="N", nominal=3.671)),
    rate=Limit(unit="N/mm", nominal=1.0934),
    shear_modulus_mpa=81_500.0,
)
"""A catalogue page: d 0.5, De 6, n 3.5, R 1.093 N/mm, L0 6.6, Fn 3.671 N."""


def test_active_coils_follow_from_the_rate() -> None:
    """The catalogue's n is 3.5."""
    design = find_design(CATALOGUE)

    assert design is not None
    assert design.active == pytest.approx(3.5, abs=0.002)
    assert design.mean_mm == 5.5


def test_catalogue_tolerances_come_out_as_printed() -> None:
    """Printed there, grade 2: L0 +-0.52 mm, Fn +-0.63 N; 1.5 Sa is 0.74 mm."""
    text = " ".join(describe_practice(CATALOGUE))

    assert "free height ± 0.52 mm (0.0206 in)" in text
    assert "e2 to 0.18 mm (0.0071 in)" in text
    assert "closed load ± 0.6 N" in text
    assert "leaves moving springs 0.74 mm (0.0291 in)" in text


def test_without_a_material_nothing_is_guessed_of_the_coils() -> None:
    """No modulus: no design, no tolerance of length or load."""
    bare = replace(CATALOGUE, shear_modulus_mpa=None)

    assert find_design(bare) is None
    assert not any("load ±" in note for note in describe_practice(bare))


def test_jis_length_only_where_no_load_is_asked() -> None:
    """JIS B 2707 grade 2 at index above 8: 3 %, at least 0.7 mm; not beside loads."""
    alone = " ".join(describe_practice(replace(CATALOGUE, closed=None)))

    assert "free height ± 0.70 mm (0.0276 in) of grade 2" in alone
    assert "of grade 2" not in " ".join(describe_practice(CATALOGUE))


def test_grade_1_stands_beside_grade_2() -> None:
    """Of 50 mm: 5 %, and by JIS 2 and 5 %."""
    asked = replace(LIMITS, free_height=Limit(unit="mm", nominal=50.0))

    standard, jis = (each for each in describe_practice(asked) if "e1 to" in each)

    assert "e1 to 2.50 mm" in standard
    assert "e1 to 1.00 mm (0.0394 in) of grade 1, 2.50 mm" in jis
