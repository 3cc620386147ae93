"""A found square on its card in; how far the card's paper reaches beside it out."""

import numpy as np

from calib.camera import project
from calib.pose.model import TargetModel
from calib.records import Camera, Floats
from calib.target.level import Level, levels_at

USUAL_MARGIN_MM = 15.0  # of the card that the program prints
FARTHEST_MM, STEP_MM = 23.0, 0.5  # farther out it is a spring, not the paper's end
PAPER_MM = (1.5, 4.0)  # beside the square: surely paper
RUN_MM = 5.0  # of another tone before the paper counts as ended
OTHER_TONE = 0.25  # of the contrast between paper and ink
SAMPLES = 40


def paper_margins_mm(
    level: Level, camera: Camera, model: TargetModel
) -> tuple[float, float, float]:
    """Give how far the paper reaches to the left, the right and above the square.

    Paper before a backdrop of its own tone has no end to be seen; it counts as usual.
    """
    margins = []
    for name in ("left", "right", "top"):
        side = model.sides[model.names.index(name)]
        ends = [end @ model.sizes_mm for end in side.ends]
        share = np.linspace(0.1, 0.9, SAMPLES)[:, None]
        along = ends[0] + share * (ends[1] - ends[0])
        margins.append(_margin_mm(level, camera, model, (along, side.outward)))
    return margins[0], margins[1], margins[2]


def _margin_mm(
    level: Level, camera: Camera, model: TargetModel, side: tuple[Floats, Floats]
) -> float:
    """Go outward from one side until the tone stays another."""
    along, outward = side
    away = np.arange(-PAPER_MM[1], FARTHEST_MM, STEP_MM)
    flat = along[None, :, :] + away[:, None, None] * outward
    world = np.insert(flat.reshape(-1, 2), 1, model.face_y_mm, axis=1)
    tones = levels_at(level, project(camera, world)).reshape(len(away), SAMPLES)
    tone = np.median(tones, axis=1)
    ink = float(np.median(tone[away < -PAPER_MM[0]]))
    beside = (away > PAPER_MM[0]) & (away < PAPER_MM[1])
    paper = float(np.median(tone[beside]))
    other = (np.abs(tone - paper) > OTHER_TONE * abs(paper - ink)) & (
        away > PAPER_MM[1]
    )
    run = round(RUN_MM / STEP_MM)
    ended = np.convolve(other.astype(float), np.ones(run), mode="valid") >= run
    if not np.any(ended):
        return USUAL_MARGIN_MM
    return float(away[int(np.argmax(ended))])
