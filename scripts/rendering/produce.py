"""Scene in, its files in a folder out."""

import time
from pathlib import Path

from scripts.rendering.compose import expose_scene
from scripts.rendering.develop import develop
from scripts.rendering.files import (
    write_limits,
    write_picture,
    write_reference,
    write_truth,
)
from scripts.rendering.records import Scene


def produce(scene: Scene, folder: Path) -> float:
    """Render one scene and write picture, truth and input files; return seconds."""
    start = time.perf_counter()
    folder.mkdir(parents=True, exist_ok=True)
    light, truths = expose_scene(scene)
    upright = develop(light, scene.development, scene.stage)
    write_truth(folder / f"{scene.name}.truth.json", scene, truths)
    if scene.target is not None:
        write_reference(folder / f"{scene.name}.reference.toml", scene.target)
    if scene.springs:
        write_limits(folder / f"{scene.name}.spec.toml", scene.limits)
    if scene.inner_limits is not None:
        write_limits(folder / f"{scene.name}.inner.spec.toml", scene.inner_limits)
    write_picture(folder / f"{scene.name}.jpg", upright, scene)
    return time.perf_counter() - start
