"""How much of the light beside a spring is clipped."""

import numpy as np
import pytest

from calib.records import Floats
from vision.outline.close import LUMINANCE, Close, blown_share


def close_of(red: float, green: float, blue: float) -> Close:
    rgb = np.tile(np.array([red, green, blue], np.float32), (6, 9, 1))
    return Close(
        greys=(rgb @ LUMINANCE,),
        rgb=rgb,
        corner_px=np.zeros(2),
        px_per_mm=6.0,
        colour=(0.1, 0.1, 0.1),
    )


POINTS: Floats = np.array([[1.2, 3.4], [8.0, 0.0], [30.0, -4.0]])  # the last is outside


def test_only_clipped_channels_count_by_their_light() -> None:
    """Before magenta paper with red and blue blown next to nothing else gives light."""
    red, _, blue = (float(each) for each in LUMINANCE)
    share = blown_share(close_of(1.0, 0.03, 1.0), POINTS)

    assert share == pytest.approx((red + blue) / (red + blue + 0.03 * 0.7152), abs=1e-4)


@pytest.mark.parametrize(("level", "share"), [(0.9, 0.0), (1.0, 1.0)])
def test_white_is_blown_or_not(level: float, share: float) -> None:
    """White below the highest level shows its true light."""
    assert blown_share(close_of(level, level, level), POINTS) == pytest.approx(share)


def test_no_points_tell_nothing() -> None:
    """Where no edge was found nothing is known to be clipped."""
    assert blown_share(close_of(1.0, 1.0, 1.0), POINTS[:0]) == pytest.approx(0.0)
