"""The focal length in pixels from the camera's record, with an honest doubt.

Every term below is a relative standard uncertainty of the focal length. A rectangular
spread of half-width a has a / sqrt(3) (JCGM 100:2008, 4.3.7).
"""

from math import hypot, sqrt

from calib.records import Exif, Photo

FILM_DIAGONAL_MM, FILM_WIDTH_MM = 43.27, 36.0  # 24 x 36 mm frame
FOCAL_ROUNDING_MM = 0.05  # cameras write the focal length to 0.1 mm
FILM_ROUNDING_MM = 0.5  # the 35 mm equivalent is a whole number
NEAREST_MM = (
    600.0  # from here on a lens of focal length f draws up to f / (D - f) larger
)
UNKNOWN_FOCUS = 0.02  # the same when the focal length itself is not recorded
RESIZED_DOUBT = 0.05  # same shape and smaller: a crop that kept the shape is possible
NO_ZOOM = 1.01  # a digital zoom below this is none
# Long side over short of the pictures that cameras take; others have been cut.
USUAL_SHAPES, SHAPE_SLACK = (1.0, 4 / 3, 3 / 2, 16 / 9), 0.015
SANE_RATIO = (0.2, 40.0)  # focal length over long side; outside it a tag is broken


def focal_px_from_exif(photo: Photo) -> tuple[float, float, str] | None:
    """Give focal length, its standard uncertainty (both px of this picture) and origin.

    Focal length times focal plane resolution comes first, then the 35 mm equivalent.
    None when the camera recorded neither, or sizes that contradict the picture.
    """
    exif = photo.exif
    frame = _frame(exif, photo.size_px)
    if frame is None:
        return None
    size_px, scale, frame_doubt, frame_text = frame
    ways = [way for way in (_from_plane(exif), _from_film(exif, size_px)) if way]
    ways = [way for way in ways if _is_sane(way[0], size_px)]
    if not ways:
        return None
    focal_px, doubt, text = ways[0]
    other_text = ""
    if len(ways) == 2:  # noqa: PLR2004 both are recorded
        gap = abs(ways[1][0] / focal_px - 1)
        if gap > 2 * hypot(doubt, ways[1][1]):
            doubt = hypot(doubt, gap / sqrt(3))
            other_text = f"; the 35 mm equivalent says {ways[1][0] * scale:.0f} px"
    u_px = focal_px * scale * hypot(doubt, frame_doubt, _zoom_doubt(exif))
    return focal_px * scale, u_px, text + other_text + frame_text + _zoom_text(exif)


def has_usual_shape(size_px: tuple[int, int]) -> bool:
    """Tell whether a picture has the shape of a whole one."""
    shape = max(size_px) / min(size_px)
    return any(abs(shape / usual - 1.0) < SHAPE_SLACK for usual in USUAL_SHAPES)


def cut_away_px(photo: Photo) -> int:
    """How much of either side was cut away at most, by the camera's record.

    Without a record of the whole picture's size, 0.
    """
    (long, short), (full_long, full_short) = (
        sorted(size, reverse=True)
        for size in (photo.size_px, photo.exif.recorded_size_px or photo.size_px)
    )
    if _is_resized((long, short), (full_long, full_short)):
        return 0
    return max(full_long - long, full_short - short, 0)


def _from_plane(exif: Exif) -> tuple[float, float, str] | None:
    """Multiply; a digital zoom comes on top, for the resolution is the sensor's."""
    focal_mm, px_per_mm = exif.focal_length_mm, exif.focal_plane_px_per_mm
    if focal_mm is None or px_per_mm is None:
        return None
    doubt = hypot(FOCAL_ROUNDING_MM / focal_mm / sqrt(3), _focus_doubt(exif))
    text = f"Exif focal length {focal_mm:g} mm and focal plane resolution"
    return focal_mm * px_per_mm * _zoom(exif), doubt, text


def _from_film(exif: Exif, size_px: tuple[int, int]) -> tuple[float, float, str] | None:
    """Scale by the diagonal; makers who mean the width are covered by the doubt."""
    film_mm = exif.focal_length_35mm
    if film_mm is None:
        return None
    by_diagonal = hypot(*size_px) / FILM_DIAGONAL_MM
    by_width = max(size_px) / FILM_WIDTH_MM
    doubt = hypot(
        FILM_ROUNDING_MM / film_mm / sqrt(3),
        abs(by_width / by_diagonal - 1) / sqrt(3),
        _focus_doubt(exif),
    )
    text = f"Exif 35 mm equivalent {film_mm:g} mm"
    return film_mm * by_diagonal, doubt, text


def _frame(
    exif: Exif, size_px: tuple[int, int]
) -> tuple[tuple[int, int], float, float, str] | None:
    """Give the size as taken, the scale from there to here, doubt and text.

    Sides are compared long with long: an upright picture's record may be of either way.
    """
    recorded = exif.recorded_size_px or size_px
    long, short = max(size_px), min(size_px)
    full_long, full_short = max(recorded), min(recorded)
    if (long, short) == (full_long, full_short):
        return recorded, 1.0, 0.0, ""
    was = f"the camera recorded {recorded[0]}x{recorded[1]} px"
    if _is_resized((long, short), (full_long, full_short)):
        return recorded, long / full_long, RESIZED_DOUBT, f"; {was}: taken as resized"
    if long > full_long or short > full_short:
        return None
    largest = max(long / full_long, short / full_short)
    doubt = (1 - largest) / sqrt(3)
    return recorded, 1.0, doubt, f"; {was}: taken as cropped"


def _is_resized(size_px: tuple[int, int], full_px: tuple[int, int]) -> bool:
    """Tell a picture of the whole's shape, both given with the long side first."""
    return abs(size_px[0] * full_px[1] / full_px[0] - size_px[1]) <= 1.0


def _focus_doubt(exif: Exif) -> float:
    focal_mm = exif.focal_length_mm
    if focal_mm is None or focal_mm >= NEAREST_MM / 2:
        return UNKNOWN_FOCUS
    return focal_mm / (NEAREST_MM - focal_mm) / sqrt(3)


def _zoom(exif: Exif) -> float:
    return max(exif.digital_zoom or 1.0, 1.0)


def _zoom_doubt(exif: Exif) -> float:
    """Allow for both readings of the tags: with and without the digital zoom."""
    zoom = _zoom(exif)
    return (1 - 1 / zoom) / sqrt(3) if zoom > NO_ZOOM else 0.0


def _zoom_text(exif: Exif) -> str:
    zoom = _zoom(exif)
    return f"; digital zoom {zoom:.2g}: doubtful" if zoom > NO_ZOOM else ""


def _is_sane(focal_px: float, size_px: tuple[int, int]) -> bool:
    low, high = SANE_RATIO
    return low <= focal_px / max(size_px) <= high
