"""From a reference photo to a camera, a scale and an honest doubt."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calib.calibrate import calibrate
from calib.camera import on_plane, pixels_per_mm, project
from calib.errors import TargetError
from calib.records import Calibration, Lens, SquareCard, TrySquare
from tests.calib.scene import CARD, SQUARE, Look, Scene, View, reference, take_photo

ROW_MM = (-60.0, 0.0, 60.0)
HEIGHT_MM = 48.0


@cache
def calibrated(scene: Scene, face_offset_mm: float = 0.0) -> Calibration:
    assert scene.shape is not None
    return calibrate(take_photo(scene), reference(scene.shape, face_offset_mm))


def height_errors(
    calibration: Calibration, scene: Scene
) -> tuple[list[float], list[float]]:
    """Errors and standard uncertainties of upright lengths in the axis plane, mm."""
    errors, doubts = [], []
    for x in ROW_MM:
        ends = [(x, 0.0, 0.0), (x, 0.0, HEIGHT_MM)]
        pixels = project(scene.view.camera, ends)
        flat = on_plane(calibration.camera, pixels)
        height_mm = float(flat[1, 1] - flat[0, 1])
        shifts = []
        for variant in calibration.variants:
            moved = on_plane(variant.camera, pixels, variant.axis_plane_shift_mm)
            shifts.append(float(moved[1, 1] - moved[0, 1]) - height_mm)
        errors.append(height_mm - HEIGHT_MM)
        doubts.append(float(np.linalg.norm(shifts)))
    return errors, doubts


SCENES = {
    "right hand": Scene(),
    "left hand, its stock standing out": Scene(direction=-1, standout_mm=5.0),
    "card before the axis plane": Scene(shape=CARD, face_y_mm=-12.0),
    "pitched, rolled and distorted": Scene(
        view=View(pitch=5.0, yaw=-3.0, roll=-4.0, k1=-0.03)
    ),
    "darkened, soft and noisy": Scene(
        shape=CARD, look=Look(backdrop=0.2, paper=0.15, blur_px=1.8, noise=4.0)
    ),
}


@pytest.mark.parametrize("name", SCENES)
def test_heights_in_the_axis_plane_are_right_within_u(name: str) -> None:
    """Errors along the row stay within U, and U within half a per cent or so."""
    scene = SCENES[name]

    calibration = calibrated(scene, -scene.face_y_mm)

    errors, doubts = height_errors(calibration, scene)
    assert np.all(np.abs(errors) < 2.0 * np.array(doubts))
    assert max(doubts) < 0.35
    assert calibration.residual_px < 0.25


def test_the_scale_is_that_of_the_true_camera_within_u() -> None:
    """px_per_mm holds in the axis plane at the target's middle, with its influences."""
    scene = Scene(face_y_mm=-15.0)

    calibration = calibrated(scene, 15.0)

    scale = calibration.px_per_mm
    truth = pixels_per_mm(scene.view.camera, (30.0, 0.0, 45.0))
    assert abs(scale.value - truth) < scale.expanded
    assert scale.unit == "px/mm"
    assert scale.u / scale.value < 0.004


def test_the_plate_line_is_found_from_the_target() -> None:
    """z = 0 along the row lies where the true plate is, within its own U."""
    scene = Scene(view=View(pitch=2.0, roll=1.5))

    calibration = calibrated(scene)

    foot = [(x, 0.0, 0.0) for x in ROW_MM]
    seen = on_plane(calibration.camera, project(scene.view.camera, foot))[:, 1]
    assert np.max(np.abs(seen)) < 0.15


def test_influences_are_named_by_photo_and_target() -> None:
    """What two photos share is named by the target, the rest by the photo."""
    calibration = calibrated(Scene())

    sources = [variant.source for variant in calibration.variants]
    photo = calibration.photo_sha256[:12]
    assert f"focal length|{photo}" in sources
    assert f"edge position|{photo}" in sources
    assert "face offset|try square 90 x 60 mm" in sources
    assert "blade length|try square 90 x 60 mm" in sources
    assert len(set(sources)) == len(sources)
    carried = {part.source for part in calibration.px_per_mm.influences}
    assert carried <= set(sources)


def test_the_face_offset_moves_the_axis_plane_by_half_its_u() -> None:
    """Stated with k = 2, it enters as U / 2 and leaves the camera alone."""
    calibration = calibrated(Scene())

    variant = next(v for v in calibration.variants if v.source.startswith("face"))

    assert variant.axis_plane_shift_mm == 0.5
    np.testing.assert_array_equal(
        variant.camera.position_mm, calibration.camera.position_mm
    )


def test_an_edge_offset_moves_edges_the_other_way() -> None:
    """Believing edges to appear farther out means to take more off."""
    calibration = calibrated(Scene())

    variant = next(v for v in calibration.variants if v.source.startswith("edge off"))

    assert variant.edge_shift_px < 0.0


def test_blown_white_is_said_and_widens_the_doubt() -> None:
    """A backdrop clipped beside the target is remarked and costs certainty."""
    plain = calibrated(Scene(shape=CARD))
    blown = calibrated(Scene(shape=CARD, look=Look(backdrop=1.2, paper=1.3)))

    assert any("blown white" in remark for remark in blown.remarks)
    assert not plain.remarks
    assert blown.px_per_mm.u > 1.5 * plain.px_per_mm.u


def test_an_unknown_focal_length_is_said_and_a_tape_mends_it() -> None:
    """Without record or lens file the photo says so; a taped distance helps."""
    scene = Scene(shape=CARD, face_y_mm=-12.0)
    photo = take_photo(scene, exif=False)

    alone = calibrate(photo, reference(CARD, 12.0))
    taped = calibrate(photo, reference(CARD, 12.0), distance_mm=628.0)

    assert "focal length" in alone.remarks[0]
    assert not taped.remarks
    assert alone.px_per_mm.u > 2.0 * taped.px_per_mm.u
    errors, doubts = height_errors(alone, scene)
    assert np.all(np.abs(errors) < 2.0 * np.array(doubts))


@pytest.mark.parametrize("shape", [SQUARE, CARD])
def test_straight_edges_tell_how_a_long_lens_bends(
    shape: TrySquare | SquareCard,
) -> None:
    """A bend of 1.5 % at the corner, without a lens file, costs no tenth of a mm."""
    scene = Scene(shape=shape, view=View(k1=-0.18, place_mm=(-80.0, -640.0, 55.0)))

    calibration = calibrated(scene)

    assert calibration.camera.k1 == pytest.approx(-0.18, abs=0.09)
    errors, doubts = height_errors(calibration, scene)
    assert np.all(np.abs(errors) < np.minimum(2.0 * np.array(doubts), 0.1))


def test_a_lens_file_takes_the_place_of_the_record() -> None:
    """A known distortion and focal length are used as they are."""
    scene = Scene(view=View(k1=-0.12))
    view = scene.view
    lens = Lens(
        camera="Lumenor L1",
        size_px=view.size_px,
        focal_px=view.focal_px,
        focal_u_px=3.0,
        centre_px=(float(view.camera.centre_px[0]), float(view.camera.centre_px[1])),
        centre_u_px=1.0,
        k1=-0.12,
        k1_u=0.002,
        k2=0.0,
        k2_u=0.005,
        rms_px=0.1,
        views=10,
    )

    calibration = calibrate(take_photo(scene), reference(SQUARE), lens=lens)

    assert calibration.camera.k1 == pytest.approx(-0.12, abs=0.005)
    assert calibration.camera.focal_px == pytest.approx(view.focal_px, rel=0.004)
    errors, doubts = height_errors(calibration, scene)
    assert np.all(np.abs(errors) < 2.0 * np.array(doubts))


def test_a_hidden_side_is_named_in_the_remarks() -> None:
    """With the stock's end behind something the rest still does, and it is said."""
    scene = Scene(others=((52.0, 0.0, 95.0, 30.0, -15.0, 0.12),))

    calibration = calibrated(scene)

    assert "the target's stock end cannot be seen" in calibration.remarks[0]
    errors, doubts = height_errors(calibration, scene)
    assert np.all(np.abs(errors) < 2.0 * np.array(doubts))


def test_the_same_photo_gives_the_same_calibration() -> None:
    """Nothing is drawn at random."""
    photo = take_photo(Scene())

    first = calibrate(photo, reference(SQUARE))
    again = calibrate(replace(photo), reference(SQUARE))

    np.testing.assert_array_equal(first.camera.position_mm, again.camera.position_mm)
    assert first.px_per_mm == again.px_per_mm


def test_the_box_takes_in_the_paper_where_it_ends() -> None:
    """Paper of 10 mm beside the square ends there on a dark backdrop."""
    seen = calibrated(Scene(shape=CARD, look=Look(backdrop=0.1, plate=0.1)))
    unseen = calibrated(Scene(shape=CARD))

    np.testing.assert_allclose(seen.target_box_mm, (-10, 0, 70, 78), rtol=0, atol=0.6)
    assert unseen.target_box_mm == (-15.0, 0.0, 75.0, 83.0)


def test_a_blade_off_square_is_refused() -> None:
    """A blade that leans half a degree against its stock is no square."""
    with pytest.raises(TargetError, match="sizes"):
        calibrated(Scene(blade_lean=np.tan(np.radians(0.5))))


def test_a_target_that_fits_badly_is_remarked() -> None:
    """A blade 0.3 degrees off strains the fit, and the remark says by how much."""
    remarks = calibrated(Scene(blade_lean=np.tan(np.radians(0.3)))).remarks

    assert any("right angles by 3." in remark for remark in remarks)
