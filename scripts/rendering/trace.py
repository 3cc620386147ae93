"""Meshes and stage in, light at each pixel out: the only user of the path tracer.

Rays start at the picture's own pixels, lens distortion included, so no resampling
blurs or shifts an edge. The band with springs and target is traced at full
resolution, all the rest coarsely. Light that comes from objects is kept as it is;
light from plate and backdrop, which is smooth, is smoothed where it shows.
"""

import math
from typing import Any

import drjit as dr  # type: ignore[import-not-found, unused-ignore]
import mitsuba as mi
import numpy as np

from scripts.rendering.camera import UNDISTORT_STEPS, centre_of, rotation_of
from scripts.rendering.records import Camera, Floats, Mesh, Stage
from scripts.rendering.stage import (
    HALF_WIDTH_MM,
    describe_finish,
    describe_ground,
    describe_lights,
    describe_target,
    grey,
    wear_at,
)

mi.set_variant("llvm_ad_rgb")

PATH_DEPTH = 5
SAMPLES_AT_ONCE = 6_000_000
BRIGHTEST = 8.0  # a stray path brighter than this would be a white dot
TEXTURE_MM = 260.0
OBJECTS_END_MM = 45.0


def load_surface(surface: dict[str, Any]) -> Any:
    """Load a surface; arrays in its description become tensors."""
    return mi.load_dict(as_tensors(surface))


def as_tensors(description: dict[str, Any]) -> dict[str, Any]:
    """Return a description whose arrays are the path tracer's tensors."""
    kept = {}
    for name, value in description.items():
        if isinstance(value, dict):
            kept[name] = as_tensors(value)
        elif isinstance(value, np.ndarray):
            kept[name] = mi.TensorXf(value)
        else:
            kept[name] = value
    return kept


def load_mesh(mesh: Mesh, surface: Any, wear: Floats | None) -> Any:
    """Load a mesh with its normals, and its wear if it has any."""
    props = mi.Properties()
    props["bsdf"] = surface
    shape = mi.Mesh(
        "mesh",
        vertex_count=len(mesh.vertices),
        face_count=len(mesh.faces),
        has_vertex_normals=True,
        has_vertex_texcoords=mesh.texture is not None,
        props=props,
    )
    if wear is not None:
        shape.add_attribute("vertex_wear", 1, wear.astype(np.float32).tolist())
    values = mi.traverse(shape)
    values["vertex_positions"] = mesh.vertices.astype(np.float32).ravel()
    values["vertex_normals"] = mesh.normals.astype(np.float32).ravel()
    if mesh.texture is not None:
        values["vertex_texcoords"] = mesh.texture.astype(np.float32).ravel()
    values["faces"] = mesh.faces.astype(np.uint32).ravel()
    values.update()
    return shape


def load_strip(profile: Floats, along: Floats, surface: dict[str, Any]) -> Any:
    """Load a profile (y, z) drawn out along the row, facing the camera."""
    count = len(profile)
    vertices = np.zeros((2 * count, 3))
    vertices[:count, 0], vertices[count:, 0] = -HALF_WIDTH_MM, HALF_WIDTH_MM
    vertices[:count, 1:] = vertices[count:, 1:] = profile
    first = np.arange(count - 1)
    faces = np.vstack(
        (
            np.column_stack((first, first + count, first + count + 1)),
            np.column_stack((first, first + count + 1, first + 1)),
        )
    )
    tangent = np.gradient(profile, axis=0)
    normal = np.column_stack((np.zeros(count), -tangent[:, 1], tangent[:, 0]))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    props = mi.Properties()
    props["bsdf"] = load_surface({"type": "twosided", "bsdf": surface})
    shape = mi.Mesh(
        "strip",
        2 * count,
        len(faces),
        props,
        has_vertex_normals=True,
        has_vertex_texcoords=True,
    )
    texture = np.column_stack((vertices[:, 0], np.tile(along, 2))) / TEXTURE_MM
    values = mi.traverse(shape)
    values["vertex_positions"] = vertices.astype(np.float32).ravel()
    values["vertex_normals"] = np.tile(normal, (2, 1)).astype(np.float32).ravel()
    values["vertex_texcoords"] = texture.astype(np.float32).ravel()
    values["faces"] = faces.astype(np.uint32).ravel()
    values.update()
    return shape


def load_panel(lamp: dict[str, Any]) -> dict[str, Any]:
    """Describe a lamp as a shining rectangle."""
    frame = mi.ScalarTransform4f().look_at(
        origin=lamp["origin"], target=lamp["aim"], up=[0.0, 0.1, 1.0]
    )
    return {
        "type": "rectangle",
        "to_world": frame @ mi.ScalarTransform4f().scale([*lamp["size"], 1.0]),
        "emitter": {"type": "area", "radiance": grey(lamp["radiance"])},
    }


def load_scene(stage: Stage, springs: list[Mesh], target: dict[str, Mesh]) -> Any:
    """Load the whole scene into the path tracer."""
    parts: dict[str, Any] = {"type": "scene"}
    # One surface for all springs: each further one would be traced by itself.
    wire = load_surface(describe_finish(stage.finish))
    for index, mesh in enumerate(springs):
        wear = wear_at(mesh.vertices, stage.finish, stage.seed + index)
        parts[f"spring{index}"] = load_mesh(mesh, wire, wear)
    for name, mesh in target.items():
        parts[name] = load_mesh(
            mesh, load_surface(describe_target(name, stage.seed)), None
        )
    for name, strip in describe_ground(stage).items():
        parts[f"ground_{name}"] = load_strip(*strip)
    lamps, room = describe_lights(stage)
    for index, lamp in enumerate(lamps):
        parts[f"lamp{index}"] = load_panel(lamp)
    if stage.backdrop == "lit-panel":
        parts["lit"] = load_panel(
            {
                "origin": (0.0, stage.backdrop_mm - 2.0, 150.0),
                "aim": (0.0, -500.0, 150.0),
                "size": (600.0, 450.0),
                "radiance": 2.2,
            }
        )
    parts["room"] = {"type": "constant", "radiance": grey(room)}
    return mi.load_dict(parts)


def shoot(camera: Camera, u_px: Any, v_px: Any) -> Any:
    """Make rays through positions in the picture, distortion undone."""
    bent_x = (u_px - camera.cx_px) / camera.focal_px
    bent_y = (v_px - camera.cy_px) / camera.focal_px
    x, y = bent_x, bent_y
    if camera.k1 != 0.0 or camera.k2 != 0.0:
        for _ in range(UNDISTORT_STEPS):
            squared = x * x + y * y
            scale = dr.rcp(1.0 + squared * (camera.k1 + camera.k2 * squared))
            x, y = bent_x * scale, bent_y * scale
    right, down, ahead = (mi.Vector3f(*row) for row in rotation_of(camera).tolist())
    direction = dr.normalize(x * right + y * down + ahead)
    return mi.RayDifferential3f(mi.Point3f(*centre_of(camera).tolist()), direction)


def trace(
    scene: Any, camera: Camera, corners: Floats, cell_px: int, samples: int
) -> Floats:
    """Trace square cells of the picture, given by their top-left pixels (n, 2).

    Returns
    -------
    (n, 12): for objects, plate and backdrop in turn the share of the cell that
    each covers and its part of the cell's light (red, green, blue).
    """
    chunk = max(1, SAMPLES_AT_ONCE // samples)
    parts = [
        trace_chunk(
            scene, camera, corners[first : first + chunk], (cell_px, samples, n)
        )
        for n, first in enumerate(range(0, len(corners), chunk))
    ]
    return np.vstack(parts)


def spread_samples(corners: Floats, setting: tuple[int, int, int]) -> tuple[Any, ...]:
    """Return a sampler and stratified positions (u, v) in px within the cells."""
    cell_px, samples, seed = setting
    side = math.isqrt(samples)
    index = dr.arange(mi.UInt32, len(corners) * samples)
    cell, sub = index // samples, index % samples
    sampler = mi.load_dict({"type": "independent"})
    sampler.seed(seed, len(corners) * samples)
    jitter = sampler.next_2d()
    left = dr.gather(mi.Float, mi.Float(corners[:, 0].astype(np.float32)), cell)
    top = dr.gather(mi.Float, mi.Float(corners[:, 1].astype(np.float32)), cell)
    step = cell_px / side
    # Pixel (0, 0) is centred on the origin, so its cell starts half a pixel before.
    u_px = left - 0.5 + step * (mi.Float(sub % side) + jitter.x)
    v_px = top - 0.5 + step * (mi.Float(sub // side) + jitter.y)
    return sampler, u_px, v_px


def trace_chunk(
    scene: Any, camera: Camera, corners: Floats, setting: tuple[int, int, int]
) -> Floats:
    """Trace some cells, all of their samples at once."""
    samples = setting[1]
    sampler, u_px, v_px = spread_samples(corners, setting)
    ray = shoot(camera, u_px, v_px)
    hit = scene.ray_intersect_preliminary(ray)
    point = ray(hit.t)
    plate = hit.is_valid() & (point.z < 2e-3)
    wall = ~hit.is_valid() | (~plate & (point.y > OBJECTS_END_MM))
    integrator = mi.load_dict({"type": "path", "max_depth": PATH_DEPTH})
    light = integrator.sample(scene, sampler, ray)[0]
    # A path that grazes a rough metal may come back as not-a-number.
    light = dr.select(dr.isfinite(light), dr.minimum(light, BRIGHTEST), 0.0)
    channels = []
    for layer in (~plate & ~wall, plate, wall):
        channels.append(dr.select(layer, mi.Float(1.0), 0.0))
        channels += [dr.select(layer, light[k], 0.0) for k in range(3)]
    dr.eval(*channels)  # together: each block sum would trace all paths again
    sums = [dr.block_sum(channel, samples) for channel in channels]
    return np.column_stack([np.array(total) for total in sums]) / samples
