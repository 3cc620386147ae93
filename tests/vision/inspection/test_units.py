"""Values with units as people write them."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.errors import SpecError
from vision.inspection.units import Dimension, Where, read_given

WHERE = Where(file="SPEC.toml", key="[section] key")


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("48.2 mm", Dimension.LENGTH, 48.2),
        ("48.2mm", Dimension.LENGTH, 48.2),
        ("4.82 cm", Dimension.LENGTH, 48.2),
        ("1.90 in", Dimension.LENGTH, 48.26),
        ('1.9"', Dimension.LENGTH, 48.26),
        (".060 in", Dimension.LENGTH, 1.524),
        ("60 thou", Dimension.LENGTH, 1.524),
        ("1/16 in", Dimension.LENGTH, 1.5875),
        ("1 29/32 in.", Dimension.LENGTH, 48.41875),
        ("290 N", Dimension.FORCE, 290.0),
        ("29 daN", Dimension.FORCE, 290.0),
        ("25.5 kgf", Dimension.FORCE, 250.069575),
        ("100 lbf", Dimension.FORCE, 444.82216152605),
        ("2 deg", Dimension.ANGLE, 2.0),
        ("2°", Dimension.ANGLE, 2.0),
        ("90 arcmin", Dimension.ANGLE, 1.5),
        ("30 N/mm", Dimension.RATE, 30.0),
        ("300 lbf/in", Dimension.RATE, 52.538050),
        ("79.5 GPa", Dimension.STRESS, 79_500.0),
        ("79500 N/mm²", Dimension.STRESS, 79_500.0),
        ("± 10 %", Dimension.SHARE, 10.0),
        ("+-1.5 kgf", Dimension.FORCE, 14.709975),
        ("+/-1.5 N", Dimension.FORCE, 1.5),
    ],
)
def test_reads_values_into_the_base_unit(
    text: str, dimension: Dimension, value: float
) -> None:
    """1 in = 25.4 mm, 1 lbf = 4.4482216152605 N, 1 kgf = 9.80665 N, all exact."""
    given = read_given(text, (dimension,), WHERE)

    assert given.dimension is dimension
    assert given.value == pytest.approx(value, abs=1e-6)


def test_keeps_the_second_figure_beside_the_first() -> None:
    """'35.55 mm (1.32 in)': the first counts, with one unit of its last digit."""
    given = read_given("35.55 mm (1.32 in)", (Dimension.LENGTH,), WHERE)

    assert (given.value, given.beside.value) == (35.55, 33.528)
    assert given.digit == pytest.approx(0.01)
    assert given.beside.digit == pytest.approx(0.254)
    assert given.text == "35.55 mm (1.32 in)"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("48.2 furlong", '"furlong" is not a unit known here'),
        ("48.2 mm**2", '"mm**2" is not a unit'),
        ("48.2 mm (", "is not a value with a unit"),
        ("1/0 in", "is not a unit"),
        ("1e3 mm", '"e3 mm" is not a unit'),
        ("٣ mm", "is not a number with a unit"),
        ("48.2", "has no unit"),
        ("mm", "is not a number with a unit"),
        ("48 mm (1.9)", "has no unit"),
        ("99999999999 mm", "is not"),
    ],
)
def test_refuses_what_is_no_value(text: str, words: str) -> None:
    """The message quotes the text and shows how to write it."""
    with pytest.raises(SpecError) as refusal:
        read_given(text, (Dimension.LENGTH,), WHERE)

    assert words in str(refusal.value)
    assert '"48.2 mm"' in str(refusal.value)


SIGNS = st.text(alphabet="0123456789.,/+-±% ()mMinNkgflbdeg°²\"'\n", max_size=20)


@given(text=st.one_of(SIGNS, st.text(max_size=20)))
def test_any_text_gives_a_value_or_one_sentence(text: str) -> None:
    """Whatever stands there: a finite value, or a SpecError, never another error."""
    with suppress(SpecError):
        found = read_given(text, tuple(Dimension), WHERE)
        assert 0.0 <= found.value < 1e12
