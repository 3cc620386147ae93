"""Light of a picture in, the 8-bit pixels that a phone would store out."""

import cv2
import numpy as np
import numpy.typing as npt

from scripts.rendering.records import Development, Floats, Stage

Pixels = npt.NDArray[np.uint8]
FULL_WELL = 9000.0  # electrons at white; sets the shot noise
GLARE_PX = 180.0
UPRIGHT_TURNS = {1: 0, 3: 2, 6: 1, 8: 3}  # quarter turns counter-clockwise to store


def develop(light: Floats, how: Development, stage: Stage) -> Pixels:
    """Turn linear light (h, w, 3) into upright sRGB pixels (h, w, 3)."""
    rng = np.random.default_rng(how.seed)
    exposed = light.astype(np.float32) * np.float32(
        how.white_level / reference_level(light, stage)
    )
    exposed *= np.array(how.tint, dtype=np.float32)
    exposed = scatter_glare(exposed, how.glare)
    exposed = np.asarray(cv2.GaussianBlur(exposed, (0, 0), how.blur_px))
    exposed *= vignette(exposed.shape, how.vignetting)
    noisy = add_noise(exposed, how.noise, rng)
    coded = encode_srgb(np.clip(noisy, 0.0, 1.0))
    coded = bend_tones(coded, how.s_curve)
    if how.sharpening > 0.0:
        coded += how.sharpening * (coded - cv2.GaussianBlur(coded, (0, 0), 1.2))
    return np.asarray(np.round(255.0 * np.clip(coded, 0.0, 1.0)), dtype=np.uint8)


def reference_level(light: Floats, stage: Stage) -> float:
    """Return the light that is exposed to the white level, linear."""
    grey = light.mean(axis=2)
    if stage.backdrop in ("dark-card", "colour-card"):
        return float(np.percentile(grey, 99.0))
    return float(np.percentile(grey[: grey.shape[0] // 2], 90.0))


def scatter_glare(light: Floats, share: float) -> Floats:
    """Spread a share of the light widely, as a lens' surfaces do."""
    if share <= 0.0:
        return light
    small = cv2.resize(light, None, fx=0.05, fy=0.05, interpolation=cv2.INTER_AREA)
    veil = cv2.GaussianBlur(small, (0, 0), GLARE_PX * 0.05)
    size = (light.shape[1], light.shape[0])
    veil = cv2.resize(veil, size, interpolation=cv2.INTER_LINEAR)
    return np.asarray((1.0 - share) * light + share * veil)


def vignette(shape: tuple[int, ...], strength: float) -> Floats:
    """Return the fall of light towards the corners, ``strength`` at the corner."""
    y = (np.arange(shape[0], dtype=np.float32) - shape[0] / 2)[:, None]
    x = (np.arange(shape[1], dtype=np.float32) - shape[1] / 2)[None, :]
    far = (x * x + y * y) / ((shape[0] ** 2 + shape[1] ** 2) / 4)
    return np.asarray(1.0 - strength * far)[:, :, None]


def add_noise(light: Floats, read: float, rng: np.random.Generator) -> Floats:
    """Add shot and read noise, slightly correlated between neighbours."""
    sigma = np.sqrt(np.clip(light, 0.0, None) / FULL_WELL + read * read)
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    noise = cv2.GaussianBlur(noise, (0, 0), 0.55) * 1.6
    return np.asarray(light + sigma * noise)


def encode_srgb(linear: Floats) -> Floats:
    """Encode linear 0..1 as sRGB 0..1 (IEC 61966-2-1)."""
    return np.asarray(
        np.where(
            linear <= 0.0031308,
            12.92 * linear,
            1.055 * np.power(np.maximum(linear, 1e-8), 1 / 2.4) - 0.055,
        )
    )


def bend_tones(coded: Floats, strength: float) -> Floats:
    """Bend coded tones by a mild S-curve; strength 0 leaves them alone."""
    bent: Floats = coded + strength * coded * (1.0 - coded) * (2.0 * coded - 1.0)
    return bent


def store_turned(upright: Pixels, orientation: int) -> Pixels:
    """Turn upright pixels to the way in which a file of that orientation has them."""
    return np.ascontiguousarray(np.rot90(upright, UPRIGHT_TURNS[orientation]))
