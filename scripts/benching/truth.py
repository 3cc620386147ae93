"""A truth file in, what it says of camera, target and springs out."""

import json
from pathlib import Path
from typing import Any

import numpy as np

from scripts.benching.records import Floats, TrueCamera, TrueScene, TrueSpring

HEIGHT_KEYS = {"try-square": "blade_mm", "square-card": "side_mm"}


def read_truth(path: Path) -> TrueScene:
    """Read the truth that the renderer wrote beside a picture."""
    facts = json.loads(path.read_text(encoding="utf-8"))
    camera = _camera(facts["camera"])
    target = facts["target"]
    corners = list(target["corners_mm"].values()) if target else []
    return TrueScene(
        name=f"{path.parent.name}/{path.name.removesuffix('.truth.json')}",
        staging=facts["tags"]["staging"],
        camera=camera,
        springs=tuple(_spring(each) for each in facts["springs"]),
        target_height_mm=target and target["stated"][HEIGHT_KEYS[target["kind"]]],
        target_px=seen(camera, np.array(corners, dtype=float).reshape(-1, 3)),
    )


def _camera(facts: dict[str, Any]) -> TrueCamera:
    matrix = np.array(facts["K"])
    return TrueCamera(
        size_px=(facts["width_px"], facts["height_px"]),
        focal_px=facts["f_px"],
        centre_px=matrix[:2, 2],
        k1=facts["k1"],
        k2=facts["k2"],
        rotation=np.array(facts["R"]),
        shift_mm=np.array(facts["t_mm"]),
    )


def _spring(facts: dict[str, Any]) -> TrueSpring:
    diameters = [facts[f"De_{place}_mm"] for place in ("bottom", "middle", "top")]
    return TrueSpring(
        number=facts["number"],
        x_mm=facts["x_mm"],
        y_mm=facts["y_mm"],
        free_height_mm=facts["L0_mm"],
        lean_deg=facts["lean_deg"],
        lean_x_deg=facts["lean_x_deg"],
        squareness_mm=facts["e1_mm"],
        squareness_x_mm=abs(facts["e1_x_mm"]),
        outside_mm=max(diameters),
        bottom_mm=diameters[0],
        top_mm=diameters[2],
        wire_mm=facts["d_mm"],
        coils=facts["nt"],
    )


def seen(camera: TrueCamera, points_mm: Floats) -> Floats:
    """Project points (n, 3) of the truth file's frame to px (n, 2)."""
    ahead = points_mm @ camera.rotation.T + camera.shift_mm
    flat = ahead[:, :2] / ahead[:, 2:]
    square = (flat**2).sum(axis=1, keepdims=True)
    bent = flat * (1 + camera.k1 * square + camera.k2 * square**2)
    return np.asarray(camera.focal_px * bent + camera.centre_px)


def middles_px(scene: TrueScene) -> Floats:
    """Where the middles of the springs' axes are seen (n, 2)."""
    points = [[each.x_mm, each.y_mm, each.free_height_mm / 2] for each in scene.springs]
    return seen(scene.camera, np.array(points, dtype=float).reshape(-1, 3))


def half_widths_px(scene: TrueScene) -> Floats:
    """Half the springs' widths in the picture (n,)."""
    beside = [
        [each.x_mm + each.outside_mm / 2, each.y_mm, each.free_height_mm / 2]
        for each in scene.springs
    ]
    points = np.array(beside, dtype=float).reshape(-1, 3)
    return np.asarray(seen(scene.camera, points)[:, 0] - middles_px(scene)[:, 0])
