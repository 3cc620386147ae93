"""Embedded colour profiles -> sRGB, its tone curve included."""

import io
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from calib.photo.faults import DECODER_FAULTS, Unusable

Converter = Callable[[Image.Image], Image.Image]  # any mode -> RGB, sRGB-encoded

SPACE_OF_MODE = {"L": "GRAY", "RGB": "RGB ", "CMYK": "CMYK", "LAB": "Lab "}
SAME_LEVELS = 2  # of 255: a profile this near to sRGB is sRGB
PQ, HLG = 16, 18  # transfer characteristics of ITU-T H.273, table 3
HDR = (
    "has an HDR tone curve (PQ or HLG)",
    "Switch HDR off in the camera, or export it with standard brightness",
)


def converter_of(
    mode: str, info: Mapping[Any, Any], data: bytes
) -> tuple[Converter, bool, tuple[str, ...]]:
    """Give what makes sRGB of a mode, whether it changes anything, and remarks."""
    icc = info.get("icc_profile")
    if _transfer(info, data, icc) in (PQ, HLG):
        raise Unusable(*HDR)
    if not icc and mode != "LAB":
        return _plain, False, ()
    try:
        transform = _transform(mode, icc)
    except (ImageCms.PyCMSError, *DECODER_FAULTS):
        return _plain, False, ("its colour profile is broken and was taken as sRGB",)
    if transform is None:
        return _plain, False, ("its colour profile is of another kind of picture",)
    if mode in ("L", "RGB") and _is_srgb(mode, transform):
        return _plain, False, ()
    return lambda part: _converted(part, transform), True, ()


def _plain(picture: Image.Image) -> Image.Image:
    return picture if picture.mode == "RGB" else picture.convert("RGB")


def _converted(
    picture: Image.Image, transform: ImageCms.ImageCmsTransform
) -> Image.Image:
    result = ImageCms.applyTransform(picture, transform)
    if result is None:
        raise ValueError("the colour conversion gave nothing")
    return result


def _transform(mode: str, icc: bytes | None) -> ImageCms.ImageCmsTransform | None:
    """Build mode -> sRGB, relative colorimetric: white stays white, grey stays grey."""
    if icc:
        source = ImageCms.ImageCmsProfile(io.BytesIO(icc))
    else:
        source = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    if source.profile.xcolor_space != SPACE_OF_MODE.get(mode):
        return None
    target = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
    return ImageCms.buildTransform(source, target, mode, "RGB", intent)


def _is_srgb(mode: str, transform: ImageCms.ImageCmsTransform) -> bool:
    """Try greys, and saturated colours too."""
    if mode == "L":
        ramp = Image.fromarray(np.arange(256, dtype=np.uint8)[None])
        cube = np.asarray(ramp.convert("RGB"))
        return _differ_little(np.asarray(_converted(ramp, transform)), cube)
    levels = np.arange(0, 256, 51, dtype=np.uint8)
    cube = np.stack(np.meshgrid(levels, levels, levels), axis=-1).reshape(-1, 6, 3)
    probe = Image.fromarray(np.ascontiguousarray(cube))
    return _differ_little(np.asarray(_converted(probe, transform)), cube)


def _differ_little(first: NDArray[np.uint8], second: NDArray[np.uint8]) -> bool:
    return bool(np.abs(first.astype(int) - second).max() <= SAME_LEVELS)


def _transfer(info: Mapping[Any, Any], data: bytes, icc: bytes | None) -> int | None:
    """Find a coded tone curve: HEIC's colour box, PNG's cICP chunk or the profile."""
    if "transfer" in info:
        return int(info["transfer"])
    if data[1:4] == b"PNG":
        at = data.find(b"cICP", 0, max(data.find(b"IDAT"), 0))
        if at > 0 and at + 6 < len(data):
            return data[at + 5]
    return _profile_transfer(icc) if icc else None


def _profile_transfer(icc: bytes) -> int | None:
    """Read the cicp tag (ICC.1:2022, 9.2.17): signature, offset, size in the table."""
    table = icc[132 : 132 + 12 * int.from_bytes(icc[128:132], "big")]
    for entry in range(0, min(len(table), 1200) - 11, 12):
        if table[entry : entry + 4] == b"cicp":
            at = int.from_bytes(table[entry + 4 : entry + 8], "big")
            return icc[at + 9] if at + 9 < len(icc) else None
    return None
