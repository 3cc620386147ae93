"""One job in, its pictures measured and compared out."""

from dataclasses import dataclass
from pathlib import Path
from time import process_time

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.calibrate import calibrate
from calib.errors import MeasureError
from calib.photo import read_photo
from calib.records import Calibration, Photo
from calib.store import load_reference
from scripts.benching.compare import compare_row
from scripts.benching.plain import apply_plain_recipe
from scripts.benching.records import Comparison, Job, Miss, SceneResult, TrueScene
from scripts.benching.scenes import truth_of
from scripts.benching.truth import read_truth
from vision.pipeline import measure_row, measure_turned_row
from vision.records.measured import Row, SpringMeasurement

DECODINGS = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """One picture with its truth, calibrated; ``fault`` says why it could not be."""

    scene: TrueScene
    photo: Photo
    calibration: Calibration | None
    fault: str
    calibrate_s: float
    decode_s: float
    bgr: NDArray[np.uint8]


def run_job(job: Job) -> tuple[SceneResult, ...]:
    """Measure a picture, its turned companion, and both together."""
    views = [_view(job.picture, job.reference, job.target)]
    if job.turned is not None:
        own = job.turned_reference
        target = None if own else job.target or job.picture
        views.append(_view(job.turned, own or job.reference, target))
    results = [_alone(view) for view in views]
    if len(views) > 1:
        results.append(_together(f"{job.name} + turned", views[0], views[1]))
    return tuple(results)


def _view(picture: Path, reference: Path, target: Path | None) -> View:
    photo = read_photo(picture)
    shown = read_photo(target) if target else photo
    calibration, fault = None, ""
    start = process_time()
    try:
        calibration = calibrate(shown, load_reference(reference))
    except MeasureError as refusal:
        fault = str(refusal)
    calibrate_s = process_time() - start
    decode_s, bgr = _decoded(picture)
    return View(
        scene=read_truth(truth_of(picture)),
        photo=photo,
        calibration=calibration,
        fault=fault,
        calibrate_s=calibrate_s,
        decode_s=decode_s,
        bgr=bgr,
    )


def _decoded(picture: Path) -> tuple[float, NDArray[np.uint8]]:
    """Decode the file in memory; the fastest of several runs counts."""
    data = np.fromfile(picture, dtype=np.uint8)
    seconds, bgr = [], np.zeros((1, 1, 3), dtype=np.uint8)
    for _ in range(DECODINGS):
        start = process_time()
        bgr = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), dtype=np.uint8)
        seconds.append(process_time() - start)
    return min(seconds), bgr


def _alone(view: View) -> SceneResult:
    """Measure one picture, and apply the plain recipe to it."""
    start = process_time()
    row, fault = None, view.fault
    if view.calibration is not None:
        try:
            row = measure_row(view.photo, view.calibration)
        except MeasureError as refusal:
            fault = str(refusal)
    seconds = process_time() - start + view.calibrate_s
    name = view.scene.name
    plain = apply_plain_recipe(name, view.scene, view.bgr)
    return _result(name, view.scene, row or fault, plain, seconds / view.decode_s)


def _together(name: str, first: View, second: View) -> SceneResult:
    """Measure both pictures of a quarter turn together."""
    row, fault = None, first.fault or second.fault
    start = process_time()
    if first.calibration is not None and second.calibration is not None:
        try:
            row = measure_turned_row(
                first.photo, second.photo, first.calibration, second.calibration
            )
        except MeasureError as refusal:
            fault = str(refusal)
    seconds = process_time() - start + first.calibrate_s + second.calibrate_s
    decode_s = first.decode_s + second.decode_s
    return _result(name, first.scene, row or fault, (), seconds / decode_s, views=2)


def _result(
    name: str,
    scene: TrueScene,
    row: Row | str,
    plain: tuple[Comparison, ...],
    time_ratio: float,
    *,
    views: int = 1,
) -> SceneResult:
    if isinstance(row, str):
        comparisons: tuple[Comparison, ...] = ()
        misses = tuple(
            Miss(scene=name, spring=each.number, reason=row) for each in scene.springs
        )
        measured = 0
    else:
        comparisons, misses = compare_row(name, scene, row)
        measured = sum(isinstance(each, SpringMeasurement) for each in row.springs)
    return SceneResult(
        scene=name,
        staging=scene.staging,
        views=views,
        springs=len(scene.springs),
        measured=measured,
        comparisons=comparisons,
        misses=misses,
        plain=plain,
        time_ratio=time_ratio,
    )
