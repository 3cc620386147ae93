"""Edges of shaded things against exact synthetic ones: position, blur and u."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.special import ndtr

from calib.edge import EdgeSettings, locate_edges
from calib.records import EdgePoints, Floats, Grey
from calib.shade import common_blur, unshaded

NORMAL = np.array([np.cos(0.3), np.sin(0.3)])
MIDDLE = np.array([170.3, 150.7])
OUTSIDE, INSIDE = 0.8, 0.2
BLUR_PX = 0.9
BOX_VARIANCE_PX2 = 1.0 / 12.0  # of a pixel's own width
REACH_PX = 6.0  # from the edge inward, over which shading runs out
CLEAR_PX = 0.1  # a step is off by more
BENT_PX = 0.03  # what an edge drawn over 9 x 9 points and a free slope leave
LEFT = 0.3  # share that a slope leaves, the shading being a parabola


def shaded_picture(shade: float, noise: float = 0.0, seed: int = 1) -> Grey:
    """Draw an edge whose inside is brighter by ``shade`` beside the edge, less within.

    The shading runs out like a parabola, as over the flank of a cylinder; blurred by
    a fine sum, each pixel a mean over 3 x 3 points.
    """
    y, x = np.mgrid[:300, :340].astype(float)
    inward = np.arange(0.05, REACH_PX, 0.1)
    light = np.zeros(x.shape)
    for right in (-1 / 3, 0.0, 1 / 3):
        for down in (-1 / 3, 0.0, 1 / 3):
            away = (x + right - MIDDLE[0]) * NORMAL[0]
            away += (y + down - MIDDLE[1]) * NORMAL[1]
            away = np.clip(away, -20.0, 20.0)
            light += INSIDE + (OUTSIDE - INSIDE) * ndtr(away / BLUR_PX)
            for place in inward:
                share = 0.1 * shade * (1.0 - place / REACH_PX) ** 2 / BLUR_PX
                light += share * np.exp(-0.5 * ((away + place) / BLUR_PX) ** 2) / 2.5066
    noisy = light / 9.0 + noise * np.random.default_rng(seed).standard_normal(x.shape)
    return noisy.astype(np.float32)


def located(picture: Grey) -> EdgePoints:
    """Locate the edge as an even step, in every row."""
    tangent = np.array([-NORMAL[1], NORMAL[0]])
    along = np.arange(-110, 110) / np.max(np.abs(NORMAL))
    points = MIDDLE + along[:, None] * tangent
    settings = EdgeSettings(rows=3, most_residual=0.35)
    return locate_edges(picture, points, np.tile(NORMAL, (220, 1)), 3.0, settings)


def off_px(edges: EdgePoints) -> Floats:
    """How far out edges were found."""
    off: Floats = (edges.points_px - MIDDLE) @ NORMAL
    return off


@pytest.mark.parametrize("shade", [-0.1, 0.12])
def test_shading_moves_an_even_step_and_not_a_sloping_one(shade: float) -> None:
    """Wire that mirrors the backdrop at its edge, or shows a dark rim there."""
    picture = shaded_picture(shade)
    plain = located(picture)

    found, _ = unshaded(picture, plain, common_blur(picture, plain))

    step_px, sloping_px = np.median(off_px(plain)), np.median(off_px(found))
    assert abs(step_px) > CLEAR_PX
    assert abs(sloping_px) < LEFT * abs(step_px)


@pytest.mark.parametrize("shade", [-0.1, 0.0, 0.12])
def test_the_blur_is_told_whatever_the_shading(shade: float) -> None:
    """A single step's blur is off by a tenth and more, the common one is not."""
    picture = shaded_picture(shade, noise=0.004)

    blur_px = common_blur(picture, located(picture))

    whole_px = np.sqrt(BLUR_PX**2 + BOX_VARIANCE_PX2)
    assert blur_px == pytest.approx(whole_px, rel=0.05)


def test_u_is_the_spread_of_the_edges() -> None:
    """The stated u of a position is what noise makes it scatter."""
    picture = shaded_picture(0.0, noise=0.01)
    edges = located(picture)

    found, rms = unshaded(picture, edges, common_blur(picture, edges))

    assert np.median(found.u_px) == pytest.approx(np.std(off_px(found)), rel=0.25)
    assert np.median(rms) == pytest.approx(0.01, rel=0.1)


def test_without_edges_there_is_no_blur() -> None:
    """No edges tell nothing, and none are made of none."""
    picture = shaded_picture(0.0)
    none = located(picture).chosen(np.zeros(0, dtype=np.int64))

    found, rms = unshaded(picture, none, BLUR_PX)

    assert len(found.u_px) == len(rms) == 0
    with pytest.raises(ValueError, match="no edges"):
        common_blur(picture, none)


@pytest.mark.parametrize("radius_px", [6.0, 12.0, 30.0])
@pytest.mark.parametrize("blur_px", [0.7, 1.2])
def test_bent_edges_lie_inward_by_their_spread(
    radius_px: float, blur_px: float
) -> None:
    """Discs, each pixel a mean over 9 x 9 points, blurred: spread / (2 R) too small."""
    fine, count = 9, 2 * int(radius_px) + 40
    middle = np.array([count / 2 + 0.3, count / 2 - 0.2])
    y, x = (np.mgrid[: count * fine, : count * fine] - (fine - 1) / 2) / fine
    disc = np.hypot(x - middle[0], y - middle[1]) < radius_px
    share = disc.reshape(count, fine, count, fine).mean(axis=(1, 3))
    light = OUTSIDE + (INSIDE - OUTSIDE) * gaussian_filter(share, blur_px)
    angle = np.arange(0.0, 2 * np.pi, 1.0 / radius_px)
    normals = np.column_stack([np.cos(angle), np.sin(angle)])
    settings = EdgeSettings(rows=3, most_residual=0.35)

    found = locate_edges(
        light.astype(np.float32), middle + radius_px * normals, normals, 3.0, settings
    )
    freed, _ = unshaded(light.astype(np.float32), found, common_blur(light, found))

    for edges in (found, freed):
        off = np.linalg.norm(edges.points_px - middle, axis=1) - radius_px
        put_back = edges.spread_px2 / (2 * radius_px)
        assert np.median(off) < -0.5 * np.median(put_back)
        assert np.median(off + put_back) == pytest.approx(0.0, abs=BENT_PX)
