"""What a row tells of a focal length that nobody recorded, from exact outlines."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calib.pose.by_focal import solve_by_focal
from calib.records import Calibration, FocalCase
from calib.variants import Doubts, Names, camera_variants
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import Place, make_camera
from tests.vision.spring.staging import (
    EDGE_MODEL_U_PX,
    OFFSET_U_MM,
    make_calibration,
    nominal_staging,
    solve_staging,
    target_points,
)
from vision.spring.focal import settle_focal
from vision.spring.measure import Solved, solve_view
from vision.spring.solid import Seen, look

PLACE = Place(position_mm=(0.0, -800.0, 60.0), pitch_deg=1.0)
ROW_MM = (-130.0, -90.0, -50.0, 90.0, 130.0)
TURNS_RAD = (0.4, 1.7, 2.9, 4.1, 5.5)
GUESSED = 0.6  # of the true focal length
FOCAL_U = 0.45


@cache
def row() -> tuple[Seen, ...]:
    camera = make_camera(PLACE)
    return tuple(
        look(make_outline(Helix(foot_x_mm=x, azimuth_rad=turn), PLACE), camera)
        for x, turn in zip(ROW_MM, TURNS_RAD, strict=True)
    )


@cache
def guessed() -> Calibration:
    """The card seen by a camera of which nothing is recorded."""
    true = make_camera(PLACE)
    nearer = replace(
        true, focal_px=GUESSED * true.focal_px, position_mm=GUESSED * true.position_mm
    )
    points = target_points(nominal_staging(PLACE), None)
    fit = solve_staging(points, nearer, FOCAL_U)
    doubts = Doubts(face_offset_u_mm=OFFSET_U_MM, edge_u_px=EDGE_MODEL_U_PX)
    names = Names(photo="points", target="card")
    cases = tuple(
        FocalCase(
            log_share=each.log_share,
            cut=each.cut,
            camera=each.pose.camera,
            edge_offset_px=each.pose.edge_offset_px,
            variants=camera_variants(each.pose, doubts, names),
        )
        for each in solve_by_focal(fit)
    )
    alone = make_calibration(fit.camera, camera_variants(fit, doubts, names))
    return replace(alone, focal_known=False, focal_cases=cases)


@cache
def settled() -> Calibration:
    return settle_focal(guessed(), row(), lambda _: [])


def focal_error(calibration: Calibration) -> float:
    return float(np.log(calibration.camera.focal_px / PLACE.focal_px))


def focal_u(calibration: Calibration) -> float:
    logs = np.log([each.camera.focal_px for each in calibration.variants])
    return float(np.linalg.norm(logs - np.log(calibration.camera.focal_px)))


def test_sizes_and_tops_tell_the_focal_length() -> None:
    """Off by half before, by no more than U after; and U is worth having."""
    assert abs(focal_error(guessed())) > 0.4

    assert focal_u(settled()) < 0.5 * FOCAL_U
    assert abs(focal_error(settled())) < 2 * focal_u(settled())


def test_a_settled_calibration_counts_as_known() -> None:
    """Its variants carry what is left open: each source is named once."""
    sources = [each.source for each in settled().variants]

    assert settled().focal_known
    assert not settled().focal_cases
    assert len(set(sources)) == len(sources)
    assert any(source.startswith("focal length 1|") for source in sources)


@pytest.mark.parametrize("number", range(len(ROW_MM)))
def test_heights_are_right_without_a_focal_length(number: int) -> None:
    """To a tenth of a millimetre on 48 mm."""
    solved = solve_view(row()[number], settled(), f"spring {number}")

    assert isinstance(solved, Solved)
    assert solved.solid.height_mm == pytest.approx(Helix().height_mm, abs=0.1)
