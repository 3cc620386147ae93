"""What a bench run passes along, in the order in which it flows.

record       made by   read by
TrueCamera,
TrueSpring,
TrueScene    truth     match, compare, plain
Job          scenes    run
Miss         run       report, store
Comparison   compare   statistics, store
SceneResult  run       report, store
Summary      statistics report, store
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueCamera:
    """The camera that took a picture: camera axes = rotation @ world + shift_mm."""

    size_px: tuple[int, int]
    focal_px: float
    centre_px: Floats
    k1: float
    k2: float
    rotation: Floats
    shift_mm: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueSpring:
    """One spring as it really is; leans and e1 also as parts along the row (x)."""

    number: int
    x_mm: float
    y_mm: float
    free_height_mm: float
    lean_deg: float
    lean_x_deg: float
    squareness_mm: float
    squareness_x_mm: float
    outside_mm: float
    bottom_mm: float
    top_mm: float
    wire_mm: float
    coils: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueScene:
    """What is known of one picture; ``target_px`` (n, 2) are the target's corners."""

    name: str
    staging: str
    camera: TrueCamera
    springs: tuple[TrueSpring, ...]
    target_height_mm: float | None
    target_px: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One picture to measure, and the one after a quarter turn, if there is one.

    ``target`` is the picture that shows the target, where the row's own does not.
    """

    name: str
    picture: Path
    reference: Path
    target: Path | None
    turned: Path | None
    turned_reference: Path | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """A spring without values, or values without a spring, and why."""

    scene: str
    spring: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One measured value against the truth; ``expanded`` is the U that was stated.

    ``middle`` tells whether the spring stood in the picture's middle third.
    """

    scene: str
    staging: str
    spring: int
    quantity: str
    error: float
    expanded: float
    middle: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneResult:
    """One picture, or pair of pictures, measured and compared.

    ``plain`` are the plain recipe's comparisons (U is 0: it states none).
    ``time_ratio`` counts calibrating and measuring per decoding of the JPEG.
    """

    scene: str
    staging: str
    views: int
    springs: int
    measured: int
    comparisons: tuple[Comparison, ...]
    misses: tuple[Miss, ...]
    plain: tuple[Comparison, ...]
    time_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """Errors of one quantity: how many, their bias, rms and largest, coverage, U."""

    quantity: str
    count: int
    bias: float
    rms: float
    largest: float
    coverage: float
    median_expanded: float
