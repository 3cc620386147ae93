"""Random scenes stay inside their picture, apart from each other, and repeat."""

from itertools import pairwise

import numpy as np
import pytest

from scripts.rendering.camera import project
from scripts.rendering.draw import draw_scene, turn_quarter
from scripts.rendering.families import FAMILIES
from scripts.rendering.framing import outline_points
from scripts.rendering.records import Scene
from scripts.rendering.target import span_of

CASES = [(name, index) for name in FAMILIES for index in range(12)]


def draw(name: str, index: int) -> Scene:
    """Draw one scene of a family."""
    return draw_scene(np.random.default_rng([5, index]), FAMILIES[name], index)


@pytest.mark.parametrize(("name", "index"), CASES)
def test_row_lies_inside_the_picture(name: str, index: int) -> None:
    """Springs and target project into the frame."""
    scene = draw(name, index)

    pixels = project(scene.camera, outline_points(scene.springs, scene.target))

    assert (pixels > 0.0).all()
    assert (pixels[:, 0] < scene.camera.width_px - 1).all()
    assert (pixels[:, 1] < scene.camera.height_px - 1).all()


@pytest.mark.parametrize(("name", "index"), CASES)
def test_neighbours_do_not_touch(name: str, index: int) -> None:
    """Springs and target stand at least 6 mm apart along the row."""
    scene = draw(name, index)
    spans = [
        (
            s.x_mm - (s.shape.mean_bottom_mm + s.shape.wire_mm) / 2,
            s.x_mm + (s.shape.mean_bottom_mm + s.shape.wire_mm) / 2,
        )
        for s in scene.springs
    ]
    assert scene.target is not None
    left, right = span_of(scene.target.stated)
    spans.append((scene.target.x_mm + left, scene.target.x_mm + right))

    spans.sort()
    gaps = [after[0] - before[1] for before, after in pairwise(spans)]

    assert min(gaps) > 6.0


@pytest.mark.parametrize("name", list(FAMILIES))
def test_same_seed_draws_the_same_scene(name: str) -> None:
    """A scene depends on its generator alone."""
    assert draw(name, 3) == draw(name, 3)


def test_second_photo_keeps_camera_and_target() -> None:
    """A quarter turn moves springs only, each by about 90 degrees."""
    scene = draw("well", 2)

    second = turn_quarter(np.random.default_rng(1), scene)

    assert second.camera == scene.camera
    assert second.target == scene.target
    turns = [s.turn_deg for s in second.springs]
    np.testing.assert_allclose(turns, 90.0, rtol=0.0, atol=10.0)


def test_well_taken_pictures_keep_the_guide() -> None:
    """Lens within 15 mm of the tops, 600 mm away or more, nearly level."""
    for index in range(20):
        scene = draw("well", index)
        tops = max(s.shape.free_height_mm for s in scene.springs)

        assert abs(scene.camera.z_mm - tops) <= 15.0
        assert -scene.camera.y_mm >= 600.0
        assert abs(scene.camera.pitch_deg) <= 2.0
