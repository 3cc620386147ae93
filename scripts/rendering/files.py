"""Picture and truth in, files out: JPEG with EXIF, truth, reference and limits."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from scripts.rendering.camera import centre_of, rotation_of
from scripts.rendering.develop import Pixels, store_turned
from scripts.rendering.records import (
    Camera,
    Limits,
    PlacedSpring,
    PlacedTarget,
    Scene,
    SpringTruth,
    Target,
    TrySquare,
)
from scripts.rendering.target import corner_points

FORMAT = 1
FRAME = (
    "mm; plate z=0, x along the row to the right, z up, y away from the camera; "
    "pixel (0,0) is the centre of the top-left pixel of the upright picture; "
    "camera = R world + t, x right, y down, z ahead; k1, k2 as in "
    "x' = x (1 + k1 r^2 + k2 r^4) with r the undistorted normalised radius"
)


def write_picture(path: Path, upright: Pixels, scene: Scene) -> None:
    """Write the JPEG, its pixels turned as the EXIF orientation says."""
    stored = store_turned(upright, scene.development.orientation)
    Image.fromarray(stored).save(
        path,
        quality=scene.development.jpeg_quality,
        subsampling=2,
        exif=make_exif(scene, stored.shape[1], stored.shape[0]),
    )


def make_exif(scene: Scene, width_px: int, height_px: int) -> Image.Exif:
    """Make the EXIF block that the invented phone writes."""
    facts = scene.exif
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = facts.make, facts.model
    exif[0x0112] = scene.development.orientation
    exif[0x010E] = "rendered picture, not a photograph"
    exif[0x0132] = facts.taken
    detail = exif.get_ifd(0x8769)
    detail[0x829A] = IFDRational(1, round(1 / facts.exposure_s))
    detail[0x829D] = IFDRational(round(facts.f_number * 10), 10)
    detail[0x8827] = facts.iso
    detail[0x9003] = detail[0x9004] = facts.taken
    if facts.focal_mm is not None:
        detail[0x920A] = IFDRational(round(facts.focal_mm * 100), 100)
    if facts.focal_35mm is not None:
        detail[0xA405] = facts.focal_35mm
    detail[0xA002], detail[0xA003] = width_px, height_px
    return exif


def write_truth(path: Path, scene: Scene, truths: list[SpringTruth]) -> None:
    """Write the truth file of one picture."""
    facts = {
        "format": FORMAT,
        "rendered": True,
        "picture": f"{scene.name}.jpg",
        "note": scene.note,
        "frame": FRAME,
        "camera": camera_facts(scene.camera),
        "target": target_facts(scene.target) if scene.target else None,
        "springs": [
            spring_facts(index + 1, placed, truth)
            for index, (placed, truth) in enumerate(
                zip(scene.springs, truths, strict=True)
            )
        ],
        "tags": {
            "staging": scene.staging,
            "light": scene.stage.light,
            "backdrop": scene.stage.backdrop,
            "finish": scene.stage.finish,
            "plate": scene.stage.plate,
            "target": target_name(scene.target),
            "springs": scene.spring_kind,
        },
        "image": image_facts(scene),
    }
    path.write_text(json.dumps(facts, indent=1) + "\n", encoding="utf-8")


def rounded(value: float, places: int = 4) -> float:
    """Round for the file and drop a negative zero."""
    return round(float(value), places) + 0.0


def camera_facts(camera: Camera) -> dict[str, Any]:
    """Return the camera's truth."""
    rotation = rotation_of(camera)
    centre = centre_of(camera)
    return {
        "width_px": camera.width_px,
        "height_px": camera.height_px,
        "f_px": camera.focal_px,
        "K": [
            [camera.focal_px, 0.0, camera.cx_px],
            [0.0, camera.focal_px, camera.cy_px],
            [0.0, 0.0, 1.0],
        ],
        "k1": camera.k1,
        "k2": camera.k2,
        "R": rotation.tolist(),
        "t_mm": (-rotation @ centre).tolist(),
        "centre_mm": centre.tolist(),
        "pitch_deg": camera.pitch_deg,
        "roll_deg": camera.roll_deg,
        "yaw_deg": camera.yaw_deg,
    }


def target_name(placed: PlacedTarget | None) -> str:
    """Return the target's kind in one word."""
    if placed is None:
        return "none"
    return "try-square" if isinstance(placed.actual, TrySquare) else "square-card"


def sizes_of(target: Target) -> dict[str, float]:
    """Return a target's sizes by the names that the reference file uses."""
    if isinstance(target, TrySquare):
        return {
            "blade_mm": rounded(target.blade_mm, 3),
            "stock_mm": rounded(target.stock_mm, 3),
            "blade_width_mm": rounded(target.blade_width_mm, 3),
            "stock_width_mm": rounded(target.stock_width_mm, 3),
        }
    return {
        "side_mm": rounded(target.side_mm, 3),
        "bottom_margin_mm": rounded(target.bottom_margin_mm, 3),
    }


def target_facts(placed: PlacedTarget) -> dict[str, Any]:
    """Return the target's truth: sizes stated and actual, where it stands."""
    facts: dict[str, Any] = {
        "kind": target_name(placed),
        "stated": sizes_of(placed.stated),
        "actual": sizes_of(placed.actual),
        "stated_face_offset_mm": rounded(placed.stated_face_offset_mm),
        "actual_face_offset_mm": rounded(placed.face_offset_mm),
        "x_mm": rounded(placed.x_mm),
        "yaw_deg": rounded(placed.yaw_deg),
        "corners_mm": {
            name: [rounded(v) for v in point]
            for name, point in corner_points(placed).items()
        },
    }
    if isinstance(placed.actual, TrySquare):
        facts["hand"] = placed.actual.hand
        facts["thickness_mm"] = placed.actual.thickness_mm
        facts["stock_projection_mm"] = placed.actual.stock_projection_mm
    return facts


def spring_facts(
    number: int, placed: PlacedSpring, truth: SpringTruth
) -> dict[str, Any]:
    """Return one spring's truth; numbers count from the left."""
    shape = placed.shape
    height = truth.free_height_mm - shape.wire_mm
    lean_mm = math.hypot(truth.lean_x_mm, truth.lean_y_mm)
    return {
        "number": number,
        "L0_mm": rounded(truth.free_height_mm),
        "d_mm": rounded(shape.wire_mm),
        "De_bottom_mm": rounded(truth.outside_bottom_mm),
        "De_middle_mm": rounded(truth.outside_middle_mm),
        "De_top_mm": rounded(truth.outside_top_mm),
        "top_rim_radius_mm": rounded(truth.top_rim_radius_mm),
        "bottom_rim_radius_mm": rounded(truth.bottom_rim_radius_mm),
        "nt": rounded(shape.coils, 3),
        "hand": shape.hand,
        "taper": shape.taper,
        "lean_deg": rounded(math.degrees(math.atan2(lean_mm, height))),
        "lean_x_deg": rounded(math.degrees(math.atan2(truth.lean_x_mm, height))),
        "lean_y_deg": rounded(math.degrees(math.atan2(truth.lean_y_mm, height))),
        "e1_mm": rounded(lean_mm),
        "e1_x_mm": rounded(truth.lean_x_mm),
        "e1_y_mm": rounded(truth.lean_y_mm),
        "e2_mm": rounded(truth.unparallel_mm),
        "burr_mm": shape.burr_mm,
        "x_mm": rounded(placed.x_mm),
        "y_mm": rounded(placed.y_mm),
        "turned_deg": rounded(placed.turn_deg),
    }


def image_facts(scene: Scene) -> dict[str, Any]:
    """Return how the light became a picture."""
    how, facts = scene.development, scene.exif
    return {
        "blur_sigma_px": how.blur_px,
        "read_noise": how.noise,
        "vignetting": how.vignetting,
        "glare": how.glare,
        "s_curve": how.s_curve,
        "sharpening": how.sharpening,
        "jpeg_quality": how.jpeg_quality,
        "orientation": how.orientation,
        "exif_focal_mm": facts.focal_mm,
        "exif_focal_35mm": facts.focal_35mm,
        "true_focal_35mm": rounded(
            scene.camera.focal_px
            * 43.2666
            / float(np.hypot(scene.camera.width_px, scene.camera.height_px))
        ),
    }


def write_reference(path: Path, placed: PlacedTarget) -> None:
    """Write the target's description as its owner would state it."""
    lines = [f'kind = "{target_name(placed)}"']
    lines += [f"{name} = {value}" for name, value in sizes_of(placed.stated).items()]
    lines += [
        "expanded_uncertainty_mm = 0.05",
        f"face_offset_mm = {rounded(placed.stated_face_offset_mm, 2)}",
        "face_offset_uncertainty_mm = 1.0",
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def write_limits(path: Path, limits: Limits) -> None:
    """Write invented service limits."""
    text = (
        f"# {limits.name}: invented limits for rendered pictures.\n"
        "[free_height]\n"
        f'min = "{limits.free_height_min_mm:.1f} mm"\n'
        f'max = "{limits.free_height_max_mm:.1f} mm"\n\n'
        "[squareness]\n"
        f'max = "{limits.squareness_max}"\n\n'
        "[matching]\n"
        f'spread_max = "{limits.spread_max_mm:.1f} mm"\n'
    )
    path.write_text(text, encoding="utf-8")
