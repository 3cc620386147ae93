"""The fixed sample sets: an invented engine's springs, invented measurements.

Each set is a folder of ``sample_images`` and differs from the others in light,
backdrop, plate, finish, target, camera or kind of spring.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

from scripts.rendering.records import Scene
from scripts.rendering.sets_harrow import developed
from scripts.rendering.sets_other import (
    beehive_granite,
    dark_backdrop,
    high_rusty,
    pairs_rusty,
)
from scripts.rendering.sets_well import backlit_dark, harrow_row, square_alone

Placed = tuple[str, Scene]


def sample_scenes() -> Iterator[Placed]:
    """Yield every picture of every set as its folder and scene."""
    makers: tuple[Callable[[], list[Scene]], ...] = (
        harrow_row,
        backlit_dark,
        square_alone,
        beehive_granite,
        pairs_rusty,
        high_rusty,
        dark_backdrop,
        spoilt,
    )
    for make in makers:
        for scene in make():
            yield make.__name__, scene


def spoilt() -> list[Scene]:
    """Three small pictures that show what spoils one."""
    row = harrow_row()[0]
    camera = replace(
        row.camera,
        width_px=1600,
        height_px=1200,
        focal_px=row.camera.focal_px * 0.4,
        cx_px=802.0,
        cy_px=598.0,
    )
    row = developed(replace(row, camera=camera), jpeg_quality=88)
    first, second, *rest = row.springs
    touching = replace(second, x_mm=first.x_mm + 29.9, y_mm=first.y_mm)
    return [
        developed(replace(row, name="blurred", note="out of focus"), blur_px=6.0),
        replace(
            row,
            name="touching",
            springs=(first, touching, *rest),
            note="springs 1 and 2 touch",
        ),
        replace(
            row,
            name="cut_off",
            camera=replace(camera, x_mm=-40.0),
            note="the last spring is cut off by the picture's edge",
        ),
    ]
