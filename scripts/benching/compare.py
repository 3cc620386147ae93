"""A measured row and the truth in, every error beside its stated U out."""

from itertools import combinations

from calib.quantity import Quantity, difference
from scripts.benching.match import in_middle_third, match_places
from scripts.benching.records import Comparison, Miss, TrueScene, TrueSpring
from vision.records.measured import Characteristic, Row, SpringMeasurement, Unmeasured

DIFFERENCE = "height difference"

Pairs = list[tuple[int, SpringMeasurement]]


def compare_row(
    name: str, scene: TrueScene, row: Row
) -> tuple[tuple[Comparison, ...], tuple[Miss, ...]]:
    """Compare all springs, and all differences of height within the photo."""
    matched = match_places(scene, [_place_px(each) for each in row.springs])
    measured: Pairs = []
    misses = []
    for spring, index in zip(row.springs, matched, strict=True):
        number = scene.springs[index].number if index is not None else 0
        if isinstance(spring, Unmeasured):
            reason = f"{spring.reason.value} {spring.detail}".strip()
            misses.append(Miss(scene=name, spring=number, reason=reason))
        elif index is None:
            misses.append(Miss(scene=name, spring=0, reason="measured, but no spring"))
        else:
            measured.append((index, spring))
    for index in sorted(set(range(len(scene.springs))) - set(matched)):
        number = scene.springs[index].number
        misses.append(Miss(scene=name, spring=number, reason="not found"))
    compared = [
        one
        for index, spring in measured
        for one in _compare_spring(name, scene, index, spring)
    ]
    compared += _compare_differences(name, scene, measured)
    return tuple(compared), tuple(misses)


def _place_px(spring: SpringMeasurement | Unmeasured) -> float:
    if isinstance(spring, Unmeasured):
        return (spring.box_px[0] + spring.box_px[2]) / 2
    return float(spring.drawings[0].axis_px[:, 0].mean())


def _compare_spring(
    name: str, scene: TrueScene, index: int, spring: SpringMeasurement
) -> list[Comparison]:
    true = scene.springs[index]
    known = true_values(true, spring.views)
    return [
        Comparison(
            scene=name,
            staging=scene.staging,
            spring=true.number,
            quantity=characteristic.key,
            error=value.value - known[characteristic],
            expanded=value.expanded,
            middle=in_middle_third(scene, index),
        )
        for characteristic, value in spring.values.items()
    ]


def true_values(true: TrueSpring, views: int) -> dict[Characteristic, float]:
    """Give what one view, or two, ought to read off a spring."""
    whole = views > 1
    return {
        Characteristic.FREE_HEIGHT: true.free_height_mm,
        Characteristic.LEAN: true.lean_deg if whole else true.lean_x_deg,
        Characteristic.SQUARENESS: true.squareness_mm
        if whole
        else true.squareness_x_mm,
        Characteristic.OUTSIDE_DIAMETER: true.outside_mm,
        Characteristic.BOTTOM_DIAMETER: true.bottom_mm,
        Characteristic.TOP_DIAMETER: true.top_mm,
        Characteristic.WIRE_DIAMETER: true.wire_mm,
        Characteristic.TOTAL_COILS: true.coils,
    }


def _compare_differences(
    name: str, scene: TrueScene, measured: Pairs
) -> list[Comparison]:
    """Compare every spring's height with every other's in the same photo."""
    compared = []
    for (one, first), (two, second) in combinations(measured, 2):
        found = difference(_height(first), _height(second))
        true = scene.springs[one].free_height_mm - scene.springs[two].free_height_mm
        compared.append(
            Comparison(
                scene=name,
                staging=scene.staging,
                spring=scene.springs[one].number,
                quantity=DIFFERENCE,
                error=found.value - true,
                expanded=found.expanded,
                middle=in_middle_third(scene, one) and in_middle_third(scene, two),
            )
        )
    return compared


def _height(spring: SpringMeasurement) -> Quantity:
    return spring.values[Characteristic.FREE_HEIGHT]
