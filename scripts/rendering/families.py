"""The two families of random scenes, as ranges.

``well`` is a picture taken as the guide asks, ``poor`` one that is not: too near,
from above, uneven light, blur.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """How carefully the pictures of a family are taken."""

    name: str
    distance_mm: tuple[float, float]
    above_tops_mm: tuple[float, float]
    pitch_max_deg: float
    roll_max_deg: float
    k1_max: float
    fill: tuple[float, float]
    sizes_px: tuple[tuple[int, int], ...]
    blur_px: tuple[float, float]
    white_level: tuple[float, float]
    noise: tuple[float, float]
    sharpening_max: float
    jpeg: tuple[int, int]
    stages: tuple[tuple[str, str, str], ...]
    finishes: tuple[str, ...]
    tapered_share: float
    yaw_sd_deg: float
    shape_error_mm: float
    exif_share: float


WELL = Family(
    name="well",
    distance_mm=(600.0, 1100.0),
    above_tops_mm=(-15.0, 15.0),
    pitch_max_deg=2.0,
    roll_max_deg=2.0,
    k1_max=0.015,
    fill=(0.66, 0.86),
    sizes_px=((3264, 2448), (3648, 2736), (4000, 3000)),
    blur_px=(0.6, 1.1),
    white_level=(0.58, 0.78),
    noise=(0.003, 0.007),
    sharpening_max=0.25,
    jpeg=(88, 96),
    stages=(
        ("paper-sweep", "sweep", "front-soft"),
        ("paper-sweep", "sweep", "daylight"),
        ("laminate", "white-card", "front-soft"),
        ("grey-card", "lit-panel", "back-lit"),
        ("granite", "white-card", "front-soft"),
        ("laminate", "lit-panel", "back-lit"),
    ),
    finishes=("bright", "dark", "phosphate", "bright"),
    tapered_share=0.15,
    yaw_sd_deg=0.7,
    shape_error_mm=0.04,
    exif_share=1.0,
)

POOR = Family(
    name="poor",
    distance_mm=(350.0, 700.0),
    above_tops_mm=(0.0, 120.0),
    pitch_max_deg=12.0,
    roll_max_deg=4.0,
    k1_max=0.05,
    fill=(0.62, 0.97),
    sizes_px=((1632, 1224), (2048, 1536), (2592, 1944), (3264, 2448), (4000, 3000)),
    blur_px=(0.9, 2.0),
    white_level=(0.42, 1.1),
    noise=(0.006, 0.015),
    sharpening_max=0.6,
    jpeg=(75, 90),
    stages=(
        ("laminate", "white-card", "one-sided"),
        ("ground-steel", "white-card", "uneven"),
        ("granite", "dark-card", "front-soft"),
        ("laminate", "colour-card", "one-sided"),
        ("paper-sweep", "sweep", "uneven"),
        ("ground-steel", "colour-card", "daylight"),
        ("granite", "white-card", "one-sided"),
    ),
    finishes=("dark", "rusty", "bright", "rusty"),
    tapered_share=0.4,
    yaw_sd_deg=2.0,
    shape_error_mm=0.07,
    exif_share=0.75,
)

FAMILIES = {"well": WELL, "poor": POOR}
