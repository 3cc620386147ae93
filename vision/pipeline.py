"""The stages in their order: photo, outlines, springs, verdicts, set."""

from dataclasses import replace

from calib.calibrate import check_same_camera
from calib.errors import PhotoError
from calib.records import Calibration, Photo
from vision.outline.find import find_outlines
from vision.records.measured import (
    Outline,
    Reason,
    Row,
    SpringMeasurement,
    Unmeasured,
)
from vision.spring.advice import advise, warn
from vision.spring.measure import measure_spring
from vision.spring.settle import settle
from vision.spring.turn import Sight, join_views

Found = tuple[Outline | Unmeasured, ...]
Springs = tuple[SpringMeasurement | Unmeasured, ...]

SECOND_ROW = 2  # springs that show coils of others behind them: any other may, too


def measure_row(photo: Photo, calibration: Calibration) -> Row:
    """Measure a row of springs from one photo.

    Raises
    ------
    PhotoError
        When the camera moved since the calibration, or no spring is seen.
    """
    found, doubts = _find(photo, calibration)
    calibration = settle(photo, calibration, _outlines(found))
    springs = tuple(
        measure_spring(each, calibration, photo.sha256)
        if isinstance(each, Outline)
        else each
        for each in found
    )
    return _row(_before_no_others(springs), (photo,), calibration, doubts)


def measure_turned_row(
    first: Photo,
    second: Photo,
    first_calibration: Calibration,
    second_calibration: Calibration,
) -> Row:
    """Measure a row from two photos, every spring turned a quarter turn between them.

    Raises
    ------
    PhotoError
        As `measure_row`, and when the photos show different numbers of springs.
    """
    found, doubts = _find(first, first_calibration)
    again, more = _find(second, second_calibration)
    first_calibration = settle(first, first_calibration, _outlines(found))
    second_calibration = settle(second, second_calibration, _outlines(again))
    if len(found) != len(again):
        raise PhotoError(
            second.name,
            f"shows {_counted(again)} where {first.name} shows {_counted(found)}",
            "Photograph the same springs in the same order, each turned a quarter turn",
        )
    springs = tuple(
        _join(one, two, (first, second), (first_calibration, second_calibration))
        for one, two in zip(found, again, strict=True)
    )
    springs = _before_no_others(springs)
    return _row(springs, (first, second), first_calibration, (*doubts, *more))


def _counted(found: Found) -> str:
    return "1 spring" if len(found) == 1 else f"{len(found)} springs"


def _outlines(found: Found) -> tuple[Outline, ...]:
    return tuple(each for each in found if isinstance(each, Outline))


def _find(photo: Photo, calibration: Calibration) -> tuple[Found, tuple[str, ...]]:
    target_here = photo.sha256 == calibration.photo_sha256
    doubts = calibration.remarks
    if not target_here:
        doubts = (*doubts, *check_same_camera(calibration, photo))
    found = find_outlines(photo, calibration, target_in_photo=target_here)
    if not found:
        raise PhotoError(
            photo.name,
            "no spring was found standing on the plate",
            "Stand the springs in a row before a plain backdrop, clear of each other",
        )
    return _with_neighbours(found), doubts


def _with_neighbours(found: Found) -> Found:
    """Say which neighbour a touching spring touches."""
    touching = {
        each.position
        for each in found
        if isinstance(each, Unmeasured) and each.reason is Reason.TOUCHES
    }
    named: list[Outline | Unmeasured] = []
    for each in found:
        if isinstance(each, Unmeasured) and each.position in touching:
            beside = sorted(touching & {each.position - 1, each.position + 1})
            names = " and ".join(f"spring {position}" for position in beside)
            named.append(replace(each, detail=names))
        else:
            named.append(each)
    return tuple(named)


def _join(
    one: Outline | Unmeasured,
    two: Outline | Unmeasured,
    photos: tuple[Photo, Photo],
    calibrations: tuple[Calibration, Calibration],
) -> SpringMeasurement | Unmeasured:
    if isinstance(one, Unmeasured):
        return one
    if isinstance(two, Unmeasured):
        return replace(two, detail=f"in {photos[1].name}; {two.detail}")
    sights = [
        Sight(outline=outline, calibration=calibration, photo_sha256=photo.sha256)
        for outline, calibration, photo in zip(
            (one, two), calibrations, photos, strict=True
        )
    ]
    return join_views(sights[0], sights[1])


def _before_no_others(springs: Springs) -> Springs:
    """Claim no spring where a second row shows behind the first: it may hide one."""
    shown = [
        str(each.position)
        for each in springs
        if isinstance(each, Unmeasured) and each.reason is Reason.TWO_SPRINGS
    ]
    if len(shown) < SECOND_ROW:
        return springs
    detail = f"as springs {', '.join(shown[:-1])} and {shown[-1]} have"
    return tuple(
        Unmeasured(
            position=each.position,
            reason=Reason.BEFORE_OTHERS,
            detail=detail,
            box_px=each.drawings[0].box_px,
        )
        if isinstance(each, SpringMeasurement)
        else each
        for each in springs
    )


def _row(
    springs: Springs,
    photos: tuple[Photo, ...],
    calibration: Calibration,
    doubts: tuple[str, ...],
) -> Row:
    return Row(
        springs=springs,
        calibration=calibration,
        photo_names=tuple(photo.name for photo in photos),
        photo_sha256=tuple(photo.sha256 for photo in photos),
        warnings=(*dict.fromkeys(doubts), *warn(springs, calibration)),
        advice=advise(springs, calibration),
    )
