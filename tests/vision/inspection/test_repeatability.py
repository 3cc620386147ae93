"""Gauge study against AIAG's worked example.

AIAG, Measurement Systems Analysis, 4th ed., III-B: 3 operators, 10 parts, 3 trials,
with the results as printed there.
"""

import pytest

from calib.errors import SpecError
from vision.inspection.repeatability import (
    say_study,
    study_by_variance,
    variance_table,
)
from vision.records.compared import GaugeStudy

TRIALS = {
    "A": (
        (0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36),
        (0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25),
        (0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31),
    ),
    "B": (
        (0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68),
        (0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62),
        (0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50),
    ),
    "C": (
        (0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49),
        (-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77),
        (-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16),
    ),
}
READINGS = [list(zip(*trials, strict=True)) for trials in TRIALS.values()]


@pytest.mark.parametrize(
    ("source", "squares", "freedom"),
    [
        ("part", 88.362, 9),
        ("operator", 3.167, 2),
        ("interaction", 0.359, 18),
        ("error", 2.759, 60),
    ],
)
def test_published_variance_table(source: str, squares: float, freedom: int) -> None:
    """Printed sums of squares and degrees of freedom."""
    found = variance_table(READINGS)[source]

    assert (round(found[0], 3), found[1]) == (squares, freedom)


def test_published_ratios_of_the_variance_table() -> None:
    """Printed F: part 492.29, operator 79.41, interaction 0.434."""
    table = {source: ss / df for source, (ss, df) in variance_table(READINGS).items()}

    assert round(table["part"] / table["interaction"], 2) == 492.29
    assert round(table["operator"] / table["interaction"], 2) == 79.41
    assert round(table["interaction"] / table["error"], 3) == 0.434


def test_published_variance_components() -> None:
    """Printed, interaction pooled: .0400, .0515, .0914, part 1.086, total 1.1774."""
    study = study_by_variance(READINGS)

    assert round(study.repeatability**2, 4) == 0.0400
    assert round(study.reproducibility**2, 4) == 0.0515
    assert round(study.gauge**2, 4) == 0.0914
    assert round(study.part_variation**2, 3) == 1.086
    assert study.total**2 == pytest.approx(1.1774, abs=5e-4)
    assert round(study.gauge_percent, 1) == 27.9


def test_one_operator_has_no_reproducibility() -> None:
    """Repeated pictures of one set-up: repeatability and parts only."""
    study = study_by_variance(READINGS[:1])

    assert study.reproducibility == 0.0
    assert study.repeatability > 0.0


def test_sure_interaction_is_kept() -> None:
    """Two set-ups that read two springs the other way round: interaction stays."""
    crossed = [
        [(10.0, 10.01), (12.0, 12.01)],
        [(12.0, 12.01), (10.0, 10.01)],
    ]

    study = study_by_variance(crossed)

    assert study.repeatability == pytest.approx(0.01 / 2**0.5)
    assert study.reproducibility > 1.0


def test_repeats_without_scatter_do_not_crash() -> None:
    """Identical repeats have no repeatability error and tell nothing of categories."""
    still = [[(1.0, 1.0), (2.0, 2.0)], [(1.0, 1.0), (2.0, 2.0)]]

    assert study_by_variance(still).repeatability == 0.0
    assert study_by_variance(still).gauge == 0.0


@pytest.mark.parametrize(
    "readings",
    [
        [[(1.0, 1.1)]],
        [[(1.0,), (2.0,)]],
        [[(1.0, 1.1), (2.0,)]],
        [[(1.0, 1.1), (2.0, 2.1)], [(1.0, 1.1)]],
        [],
    ],
    ids=["one part", "one trial", "uneven trials", "uneven parts", "nothing"],
)
def test_refuses_an_uneven_or_too_small_study(
    readings: list[list[tuple[float, ...]]],
) -> None:
    """Every set-up reads every spring equally often, at least twice."""
    with pytest.raises(SpecError, match="all equally often"):
        study_by_variance(readings)


@pytest.mark.parametrize(
    ("gauge", "word"),
    [(0.05, "good"), (0.2, "usable with care"), (0.5, "too coarse")],
)
def test_says_what_the_gauge_is_good_for(gauge: float, word: str) -> None:
    """AIAG: below 10 % good, to 30 % with care, above not."""
    study = GaugeStudy(
        unit="mm",
        repeatability=gauge,
        reproducibility=0.0,
        part_variation=1.0,
    )

    assert word in say_study(study)
