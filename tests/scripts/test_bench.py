"""The bench: matching by place, the plain recipe, figures, and what it prints."""

import json
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from scripts.benching.markdown import markdown_tables
from scripts.benching.match import in_middle_third, match_places
from scripts.benching.plain import apply_plain_recipe, find_boxes
from scripts.benching.records import (
    Comparison,
    Miss,
    SceneResult,
    TrueCamera,
    TrueScene,
    TrueSpring,
)
from scripts.benching.report import miss_list, quantity_tables, scene_table
from scripts.benching.scenes import find_jobs
from scripts.benching.statistics import of_quantity, summarise
from scripts.benching.store import save_results
from scripts.benching.truth import middles_px, read_truth, seen
from tests.vision.painting import paint
from tests.vision.scenery import Scene, Square, look_at_row, make_row
from tests.vision.spring.helix import Helix

CASES = Path(__file__).parents[1] / "cases" / "rows"
PLACES_MM = (-70.0, -30.0, 85.0)


def true_spring(number: int, helix: Helix) -> TrueSpring:
    lean_deg = float(np.degrees(np.arctan(helix.slope_x)))
    return TrueSpring(
        number=number,
        x_mm=helix.foot_x_mm,
        y_mm=0.0,
        free_height_mm=helix.height_mm,
        lean_deg=lean_deg,
        lean_x_deg=lean_deg,
        squareness_mm=0.0,
        squareness_x_mm=0.0,
        outside_mm=helix.outside_mm,
        bottom_mm=helix.outside_mm,
        top_mm=helix.outside_mm,
        wire_mm=helix.wire_mm,
        coils=helix.turns,
    )


def true_scene(target: Square | None = None) -> TrueScene:
    """The painted row as a truth file would tell it."""
    camera = look_at_row()
    true_camera = TrueCamera(
        size_px=camera.size_px,
        focal_px=camera.focal_px,
        centre_px=camera.centre_px,
        k1=0.0,
        k2=0.0,
        rotation=camera.rotation,
        shift_mm=-camera.rotation @ camera.position_mm,
    )
    shape = target or Square()
    corners = np.array(
        [[x, 0.0, z] for x in (0.0, shape.stock_mm) for z in (0.0, shape.blade_mm)]
    )
    return TrueScene(
        name="painted",
        staging="well",
        camera=true_camera,
        springs=tuple(
            true_spring(number, helix)
            for number, helix in enumerate(make_row(PLACES_MM), start=1)
        ),
        target_height_mm=shape.blade_mm,
        target_px=seen(true_camera, corners),
    )


def painted(scene: Scene) -> NDArray[np.uint8]:
    """The picture as OpenCV would read it."""
    rgb = paint(scene, look_at_row()).rgb
    return np.ascontiguousarray(rgb[..., ::-1], dtype=np.uint8)


def comparison(error: float, expanded: float, quantity: str = "lean") -> Comparison:
    return Comparison(
        scene="painted",
        staging="well",
        spring=1,
        quantity=quantity,
        error=error,
        expanded=expanded,
        middle=error > 0,
    )


def result(**changes: object) -> SceneResult:
    facts: dict[str, object] = {
        "scene": "painted",
        "staging": "well",
        "views": 1,
        "springs": 3,
        "measured": 2,
        "comparisons": (comparison(0.1, 0.2, "free_height"),),
        "misses": (Miss(scene="painted", spring=3, reason="is blurred"),),
        "plain": (comparison(1.2, 0.0, "free_height"),),
        "time_ratio": 12.0,
    }
    return SceneResult(**(facts | changes))  # type: ignore[arg-type]


def test_places_go_to_the_nearest_springs() -> None:
    """Two places beside one spring: the nearer one gets it, the other none."""
    scene = true_scene()
    x = middles_px(scene)[:, 0]

    found = match_places(scene, [x[2] + 20.0, x[0] - 3.0, x[2] - 1.0, x[1] + 150.0])

    assert found == [None, 0, 2, None]


def test_no_place_matches_nothing() -> None:
    """A picture in which nothing was found."""
    assert match_places(true_scene(), []) == []


def test_middle_third_is_that_of_the_picture() -> None:
    """Of three springs the one near the middle counts."""
    scene = true_scene()

    assert [in_middle_third(scene, index) for index in range(3)] == [False, True, False]


def test_plain_recipe_is_wrong_by_roundness() -> None:
    """On a clean picture it finds all springs, each some tenths of a mm too high."""
    bgr = painted(Scene(springs=make_row(PLACES_MM), target=Square()))

    compared = apply_plain_recipe("painted", true_scene(), bgr)

    heights = of_quantity("free_height", compared)
    assert sorted(each.spring for each in heights) == [1, 2, 3]
    assert all(0.3 < each.error < 2.0 for each in heights)


def test_plain_recipe_without_its_target_says_nothing() -> None:
    """With no box for the target there is no scale."""
    bgr = painted(Scene(springs=make_row(PLACES_MM), target=None))

    assert len(find_boxes(bgr)) >= 3
    assert apply_plain_recipe("painted", true_scene(), bgr) == ()


def test_figures_of_a_quantity() -> None:
    """Bias, rms, largest and coverage of 0.3, -0.1 with U 0.2 each."""
    summary = summarise("lean", [comparison(0.3, 0.2), comparison(-0.1, 0.2)])

    assert summary.count == 2
    assert summary.bias == pytest.approx(0.1)
    assert summary.rms == pytest.approx(np.sqrt(0.05))
    assert summary.largest == pytest.approx(0.3)
    assert summary.coverage == pytest.approx(0.5)
    assert summary.median_expanded == pytest.approx(0.2)


def test_middle_third_is_a_quantity_of_its_own() -> None:
    """Leans in the middle third are summed up apart as well."""
    compared = [comparison(0.3, 0.2), comparison(-0.1, 0.2)]

    assert len(of_quantity("lean", compared)) == 2
    assert len(of_quantity("lean, middle third", compared)) == 1


def test_jobs_are_rows_with_truth_and_reference() -> None:
    """The frozen cases are found with their own reference files."""
    jobs = find_jobs([CASES])

    assert [job.name for job in jobs] == ["rows/four_bright", "rows/seven_backlit"]
    assert all(job.target is None and job.turned is None for job in jobs)
    assert jobs[0].reference == CASES / "four_bright.reference.toml"


def test_pairs_and_lone_targets_are_understood(tmp_path: Path) -> None:
    """A turned picture joins its row; a target photographed alone calibrates it."""
    for name, springs in (("row", "[1]"), ("row_turned", "[1]"), ("square", "[]")):
        text = f'{{"springs": {springs}}}'
        (tmp_path / f"{name}.truth.json").write_text(text, encoding="utf-8")
        (tmp_path / f"{name}.jpg").write_bytes(b"")
    (tmp_path / "square.reference.toml").write_text("", encoding="utf-8")

    (job,) = find_jobs([tmp_path])

    assert job.picture == tmp_path / "row.jpg"
    assert job.target == tmp_path / "square.jpg"
    assert job.turned == tmp_path / "row_turned.jpg"


def test_truth_is_read_from_the_renderers_file() -> None:
    """Springs stand left to right where the truth says, with their target."""
    scene = read_truth(CASES / "four_bright.truth.json")

    x = middles_px(scene)[:, 0]
    assert len(scene.springs) == 4
    assert list(x) == sorted(x)
    assert scene.target_height_mm is not None
    assert scene.target_px.shape[1] == 2


def test_tables_show_errors_beside_the_plain_recipes() -> None:
    """Both figures stand in the tables, and the reason for what is missing."""
    results = [result()]

    assert "2/3" in scene_table(results)
    assert "1.20 (1)" in quantity_tables(results)
    assert "painted, spring 3: is blurred" in miss_list(results)
    assert "| free height, mm | 1 | +0.100 | 0.100 |" in markdown_tables(results)
    assert "1.20 (n = 1)" in markdown_tables(results)


def test_a_refused_picture_takes_one_line() -> None:
    """All its springs share the reason."""
    misses = tuple(
        Miss(scene="painted", spring=number, reason="no target") for number in (1, 2, 3)
    )
    refused = result(measured=0, comparisons=(), misses=misses, plain=())

    assert "painted, spring all: no target" in miss_list([refused])


def test_results_are_written_as_json(tmp_path: Path) -> None:
    """Every comparison and the summaries; what is no number becomes null."""
    path = tmp_path / "bench.json"

    save_results(path, [result(time_ratio=float("nan"))])

    data = json.loads(path.read_text(encoding="utf-8"))
    assert data["format"] == 1
    assert data["pictures"][0]["comparisons"][0]["error"] == pytest.approx(0.1)
    assert data["pictures"][0]["time_ratio"] is None
    assert "one view, well staged" in data["summaries"]
