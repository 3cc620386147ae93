"""The invented records are fit for the tests that stand on them."""

from dataclasses import replace

import numpy as np
import pytest

from tests.factories import make_inspection, make_photo
from vision.records.judged import Outcome
from vision.records.measured import SpringMeasurement, Unmeasured


def test_every_outcome_and_an_unmeasured_spring_occur() -> None:
    """Eight springs show all that output and archive must cope with."""
    inspection = make_inspection()

    assert {verdict.outcome for verdict in inspection.verdicts} == set(Outcome)
    kinds = {type(spring) for spring in inspection.row.springs}
    assert kinds == {SpringMeasurement, Unmeasured}


@pytest.mark.parametrize("count", [1, 2, 3, 13])
def test_a_row_of_any_length_can_be_made(count: int) -> None:
    """Short and long rows are whole, too."""
    inspection = make_inspection(count)

    assert len(inspection.row.springs) == len(inspection.verdicts) == count


def test_drawings_lie_on_the_painted_springs() -> None:
    """What an overlay draws is where the photo shows a spring."""
    photo = make_photo()
    inspection = make_inspection()

    for spring in inspection.row.springs:
        assert isinstance(spring, (SpringMeasurement, Unmeasured))
        if isinstance(spring, Unmeasured):
            continue
        left, top, right, bottom = map(round, spring.drawings[0].box_px)
        dark = photo.rgb[top:bottom, left:right].max(axis=2) < 110
        beside = photo.rgb[top:bottom, right + 2 : right + 8].max(axis=2) < 110
        assert np.mean(dark) > 0.3
        assert np.mean(beside) < 0.02


def test_the_same_records_come_twice() -> None:
    """Nothing is random: the same call gives the same values."""
    first, second = make_inspection(), make_inspection()

    assert first.verdicts == second.verdicts
    assert replace(first.job) == second.job
    assert first.row.photo_sha256 == second.row.photo_sha256
