"""Decoded pictures of any mode -> (h, w, 3) sRGB pixels, upright, without copies."""

import io
import logging

import cv2
import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image

from calib.photo.colour import Converter
from calib.photo.containers import Container
from calib.photo.exif import ORIENTATION
from calib.photo.faults import DECODER_FAULTS, LARGEST_PX, Unusable
from calib.photo.png import DEPTH_AT, critical_part

Pixels = NDArray[np.uint8] | NDArray[np.uint16]

STRIP_ROWS = 250  # a strip stays in the processor's cache: 4 times faster than at once
GREY_MODES = frozenset(("1", "L"))
COLOUR_MODES = frozenset(("RGB", "CMYK", "LAB"))
LARGEST_TRANSPARENT_PART = 0.01  # rounded corners; beyond it the backdrop was cut away
SAMPLE_BITS = 16
WHITE_IS_ZERO, GREY_OR_COLOUR = 0, (0, 1, 2)  # photometric interpretation, TIFF 6.0
COLOUR_CHANNELS = (3, 4)
EIGHT_BITS = "its 16 bits could be read only as 8"

logging.getLogger("tifffile").addHandler(
    logging.NullHandler()
)  # both keep the terminal clean


def deep_pixels(
    container: Container, data: bytes
) -> tuple[NDArray[np.uint16] | None, tuple[str, ...]]:
    """Read 16-bit samples, (h, w, 1 to 4) as stored, which the main decoder would cut.

    Returns None when the file has 8-bit samples.
    """
    if container is Container.PNG and data[DEPTH_AT] == SAMPLE_BITS:
        return _deep_png(data), ()
    if container is not Container.TIFF:
        return None, ()
    try:
        return _deep_tiff(data), ()
    except DECODER_FAULTS:
        return None, (EIGHT_BITS,)


def split_deep_alpha(
    deep: NDArray[np.uint16],
) -> tuple[NDArray[np.uint16], NDArray[np.uint16] | None]:
    """Give grey (h, w, 1) or colour (h, w, 3), and alpha (h, w)."""
    channels = deep.shape[2]
    if channels in (2, 4):
        return deep[:, :, :-1], deep[:, :, -1]
    return deep, None


def mode_of(deep: NDArray[np.uint16]) -> str:
    """Name the mode that the same picture would have with 8 bits."""
    return "L" if deep.shape[2] == 1 else "RGB"


def as_colour(deep: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Give three channels."""
    return deep if deep.shape[2] == 3 else np.repeat(deep, 3, axis=2)  # noqa: PLR2004


def as_picture(deep: NDArray[np.uint16]) -> Image.Image:
    """Round to an 8-bit picture, for the colour conversion."""
    rounded = eight_bits(deep)
    return Image.fromarray(rounded[:, :, 0] if mode_of(deep) == "L" else rounded)


def split_alpha(picture: Image.Image) -> tuple[Image.Image, NDArray[np.uint8] | None]:
    """Give the picture in an opaque mode, and its alpha."""
    alpha = None
    if picture.has_transparency_data:
        picture = picture.convert("LA" if picture.mode in ("LA", "La") else "RGBA")
        alpha = np.asarray(picture.getchannel("A"))
        picture = picture.convert(picture.mode[:-1])
    if picture.mode in GREY_MODES:
        return picture.convert("L"), alpha
    if picture.mode in COLOUR_MODES:
        return picture, alpha
    if picture.mode in ("P", "YCbCr", "RGBX", "HSV"):
        return picture.convert("RGB"), alpha
    raise Unusable(
        f"holds samples that no camera writes (mode {picture.mode})",
        "Save it with 8 or 16 bits per channel",
    )


def picture_pixels(picture: Image.Image, converter: Converter) -> NDArray[np.uint8]:
    """Convert strip by strip into one array."""
    width, height = picture.size
    rgb = np.empty((height, width, 3), np.uint8)
    for top in range(0, height, STRIP_ROWS):
        bottom = min(top + STRIP_ROWS, height)
        strip = converter(picture.crop((0, top, width, bottom)))
        rgb[top:bottom] = np.asarray(strip)
    return rgb


def flatten(rgb: Pixels, alpha: Pixels | None) -> tuple[Pixels, tuple[str, ...]]:
    """Lay a few transparent pixels on the border's own colour; refuse cut-outs."""
    full = np.iinfo(rgb.dtype).max
    if alpha is None or (alpha == full).all():
        return rgb, ()
    see_through = alpha < full
    part = float(see_through.mean())
    if part > LARGEST_TRANSPARENT_PART:
        raise Unusable(
            f"is a cut-out: {part:.0%} of it is transparent",
            "Use the photograph as the camera took it, with its backdrop",
        )
    border = np.concatenate((rgb[0], rgb[-1], rgb[:, 0], rgb[:, -1]))
    opaque = ~np.concatenate(
        (see_through[0], see_through[-1], see_through[:, 0], see_through[:, -1])
    )
    colour = np.median(border[opaque], axis=0) if opaque.any() else full
    weight = (alpha[see_through] / full)[:, None]
    flat = rgb.copy()
    flat[see_through] = np.rint(rgb[see_through] * weight + colour * (1 - weight))
    return flat, (f"{part:.2%} of it was transparent and took the border's colour",)


def turned(rgb: Pixels, orientation: int) -> Pixels:
    """Turn as an Exif orientation asks (Exif 2.32, 4.6.4): seen upright after it."""
    match orientation:
        case 2:
            upright = cv2.flip(rgb, 1)
        case 3:
            upright = cv2.rotate(rgb, cv2.ROTATE_180)
        case 4:
            upright = cv2.flip(rgb, 0)
        case 5:
            upright = cv2.transpose(rgb)
        case 6:
            upright = cv2.rotate(rgb, cv2.ROTATE_90_CLOCKWISE)
        case 7:
            upright = cv2.rotate(cv2.transpose(rgb), cv2.ROTATE_180)
        case 8:
            upright = cv2.rotate(rgb, cv2.ROTATE_90_COUNTERCLOCKWISE)
        case _:
            upright = rgb
    return upright  # type: ignore[return-value]  # the dtype stays


def eight_bits(deep: NDArray[np.uint16]) -> NDArray[np.uint8]:
    """Round 16 bits to 8."""
    return ((deep.astype(np.uint32) + 128) // 257).astype(np.uint8)


def _deep_png(data: bytes) -> NDArray[np.uint16]:
    return _second_decoder(critical_part(data))


def _deep_tiff(data: bytes) -> NDArray[np.uint16] | None:
    with tifffile.TiffFile(io.BytesIO(data)) as tiff:
        page = tiff.pages[0]
        if not isinstance(page, tifffile.TiffPage) or page.dtype != np.uint16:
            return None
        if page.photometric not in GREY_OR_COLOUR or page.bitspersample != SAMPLE_BITS:
            raise ValueError("not grey or colour of 16 bits")
        if page.size > LARGEST_PX * max(COLOUR_CHANNELS):
            raise ValueError("too many samples")
        inverted = page.photometric == WHITE_IS_ZERO
        try:
            stored = np.atleast_3d(page.asarray())
            planar = page.axes == "SYX"
        except ValueError:  # a compression that needs a further package
            if inverted:
                raise
            stored, planar = _second_decoder(_as_stored(data, tiff, page)), False
    deep = np.moveaxis(stored, 0, -1) if planar else stored
    deep = 65535 - deep if inverted else deep
    return np.ascontiguousarray(deep, np.uint16)


def _as_stored(data: bytes, tiff: tifffile.TiffFile, page: tifffile.TiffPage) -> bytes:
    """Write orientation 1 over the tag, so that the decoder does not turn."""
    tag = page.tags.get(ORIENTATION)
    if tag is None:
        return data
    at = tag.valueoffset
    one = (1).to_bytes(2, "little" if tiff.byteorder == "<" else "big")
    return data[:at] + one + data[at + 2 :]


def _second_decoder(data: bytes) -> NDArray[np.uint16]:
    stored = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if stored is None or stored.dtype != np.uint16:
        raise ValueError("not decoded")
    deep = np.atleast_3d(stored)
    if deep.shape[2] in COLOUR_CHANNELS:  # they come blue first
        deep = deep[:, :, [2, 1, 0, 3][: deep.shape[2]]]
    return np.ascontiguousarray(deep, np.uint16)
