"""Spring shape in, trimmed solid and its truth out.

The wire is swept along a helix with closed end coils and cut flat by two planes,
as grinding does; lean is a shear, so both ends stay parallel to the plate.
"""

import math

import numpy as np

from scripts.rendering.records import (
    Floats,
    Integers,
    Mesh,
    PlacedSpring,
    SpringShape,
    SpringTruth,
)

STEPS_PER_TURN = 160  # sagitta of a 17 mm radius: 0.003 mm
STEPS_ROUND_WIRE = 44  # sagitta of a 2 mm radius: 0.005 mm, shared in and out
END_TURNS = 1.0
RAMP_TURNS = 0.6


def smoothstep(fraction: Floats) -> Floats:
    """Rise from 0 to 1 with flat ends, clamped outside."""
    clamped = np.clip(fraction, 0.0, 1.0)
    return clamped * clamped * (3.0 - 2.0 * clamped)


def rise_of(shape: SpringShape, turns: Floats) -> Floats:
    """Height in mm of the wire's centre after so many turns from the lower tip."""
    end = shape.end_pitch * shape.wire_mm
    from_bottom = smoothstep((turns - END_TURNS) / RAMP_TURNS)
    from_top = smoothstep((shape.coils - END_TURNS - turns) / RAMP_TURNS)
    share = from_bottom * from_top
    steps = np.diff(turns)
    share_sum = np.concatenate(
        ([0.0], np.cumsum(0.5 * (share[1:] + share[:-1]) * steps))
    )
    tip_mm = (shape.tip_fraction - 0.5) * shape.wire_mm
    total = shape.free_height_mm - 2.0 * tip_mm
    active = (total - end * shape.coils) / share_sum[-1]
    rise: Floats = tip_mm + end * turns + active * share_sum
    return rise


def mean_radius_of(shape: SpringShape, turns: Floats) -> Floats:
    """Radius in mm of the wire's centre after so many turns."""
    bottom, top = shape.mean_bottom_mm / 2, shape.mean_top_mm / 2
    last = shape.coils - END_TURNS
    if shape.taper == "straight":
        return np.full_like(turns, bottom)
    if shape.taper == "conical":
        share = np.clip((turns - END_TURNS) / (last - END_TURNS), 0.0, 1.0)
    else:
        start = END_TURNS + 0.45 * (last - END_TURNS)
        share = smoothstep((turns - start) / (last - start))
    radius: Floats = bottom + (top - bottom) * share
    return radius


def centre_line(shape: SpringShape) -> Floats:
    """Return the wire's centre line (n, 3) in mm, unsheared, axis at x = y = 0."""
    count = math.ceil(shape.coils * STEPS_PER_TURN) + 1
    turns = np.linspace(0.0, shape.coils, count)
    sense = 1.0 if shape.hand == "right" else -1.0
    angle = math.radians(shape.azimuth_deg) + sense * 2.0 * math.pi * turns
    radius = mean_radius_of(shape, turns)
    rise = rise_of(shape, turns)
    return np.column_stack((radius * np.cos(angle), radius * np.sin(angle), rise))


def shift_at(shape: SpringShape, z_mm: Floats) -> Floats:
    """Return the sideways shift (n, 2) of the axis at each height: lean and bow.

    The lean counts between the end coils' centres, at d/2 and L0 - d/2.
    """
    slope = z_mm / (shape.free_height_mm - shape.wire_mm)
    swing = 0.5 - 0.5 * np.cos(2.0 * math.pi * z_mm / shape.free_height_mm)
    lean = np.array([shape.lean_x_mm, shape.lean_y_mm])
    bow = np.array([shape.bow_x_mm, shape.bow_y_mm])
    shift: Floats = slope[:, None] * lean + swing[:, None] * bow
    return shift


def sweep_wire(
    path: Floats, axis_xy: Floats, wire_mm: float
) -> tuple[Floats, Integers]:
    """Sweep a round section along a path; the ends are closed by flat fans.

    Parameters
    ----------
    path
        Centre line (n, 3); ``axis_xy`` (n, 2) is the spring's axis at each point.

    Returns
    -------
    Vertices (k, 3) and faces (m, 3), outward oriented.
    """
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    outward = path.copy()
    outward[:, :2] -= axis_xy
    outward[:, 2] = 0.0
    outward -= np.sum(outward * tangent, axis=1, keepdims=True) * tangent
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    side = np.cross(tangent, outward)
    ring = np.arange(STEPS_ROUND_WIRE) * (2.0 * math.pi / STEPS_ROUND_WIRE)
    # Half the sagitta outside the true circle, half inside.
    radius = wire_mm / (1.0 + math.cos(math.pi / STEPS_ROUND_WIRE))
    section = (
        np.cos(ring)[None, :, None] * outward[:, None, :]
        + np.sin(ring)[None, :, None] * side[:, None, :]
    )
    tube = (path[:, None, :] + radius * section).reshape(-1, 3)
    vertices = np.vstack((tube, path[:1], path[-1:]))
    return vertices, tube_faces(len(path), STEPS_ROUND_WIRE)


def tube_faces(rings: int, around: int) -> Integers:
    """Faces (m, 3) of a tube whose two end centres are its last two vertices."""
    ring, step = np.meshgrid(np.arange(rings - 1), np.arange(around), indexing="ij")
    here = (ring * around + step).ravel()
    beside = (ring * around + (step + 1) % around).ravel()
    above, across = here + around, beside + around
    first = np.arange(around)
    second = (first + 1) % around
    start, stop = rings * around, rings * around + 1
    last = (rings - 1) * around
    return np.vstack(
        (
            np.column_stack((here, beside, across)),
            np.column_stack((here, across, above)),
            np.column_stack((np.full(around, start), second, first)),
            np.column_stack((np.full(around, stop), last + first, last + second)),
        )
    )


def top_normal(shape: SpringShape) -> Floats:
    """Return the upper grinding plane's unit normal; tilted by the end's e2."""
    tilt = shape.unparallel_mm / (shape.mean_top_mm + shape.wire_mm)
    angle = math.radians(shape.unparallel_azimuth_deg + shape.azimuth_deg)
    normal = np.array([-tilt * math.cos(angle), -tilt * math.sin(angle), 1.0])
    unit: Floats = normal / np.linalg.norm(normal)
    return unit


def grind(
    shape: SpringShape, vertices: Floats, faces: Integers
) -> tuple[Floats, Integers]:
    """Cut the swept wire flat at the plate and at the free height."""
    # The optional dependency is needed here only; the geometry is tested without.
    import manifold3d  # noqa: PLC0415

    wire = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(vertices, dtype=np.float64),
            tri_verts=np.ascontiguousarray(faces, dtype=np.uint64),
        )
    )
    if wire.status() != manifold3d.Error.NoError or wire.volume() <= 0.0:
        msg = f"the swept wire is no solid: {wire.status()}"
        raise ValueError(msg)
    normal = top_normal(shape)
    radius = (shape.mean_top_mm + shape.wire_mm) / 2
    lean = np.array([shape.lean_x_mm, shape.lean_y_mm, 0.0])
    highest = np.array([0.0, 0.0, shape.free_height_mm]) + lean
    # The plane touches the free height at the rim's highest point.
    if shape.unparallel_mm > 0.0:
        uphill = -normal[:2] / np.linalg.norm(normal[:2])
        highest[:2] += radius * uphill
    cut = wire.trim_by_plane([0.0, 0.0, 1.0], 0.0)
    cut = cut.trim_by_plane(list(-normal), float(-normal @ highest))
    if shape.burr_mm > 0.0:
        bead = manifold3d.Manifold.sphere(shape.burr_mm, 24)
        cut = cut + bead.translate(burr_place(shape).tolist())
    mesh = cut.to_mesh64()
    return (
        np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3],
        np.asarray(mesh.tri_verts, dtype=np.int64),
    )


def wire_path(shape: SpringShape) -> tuple[Floats, Floats]:
    """Return the leaning wire's centre line (n, 3) and its axis (n, 2) beside it."""
    path = centre_line(shape)
    axis_xy = shift_at(shape, path[:, 2])
    path[:, :2] += axis_xy
    return path, axis_xy


def burr_place(shape: SpringShape) -> Floats:
    """Return where the grinding burr sits: the top tip's outer edge, at L0."""
    path, axis_xy = wire_path(shape)
    outward = path[-6, :2] - axis_xy[-6]
    outward /= np.linalg.norm(outward)
    edge = path[-6, :2] + 0.3 * shape.wire_mm * outward
    return np.array([*edge, shape.free_height_mm])


def build_solid(shape: SpringShape) -> tuple[Floats, Integers]:
    """Build the ground spring standing at the origin: vertices and faces."""
    vertices, faces = sweep_wire(*wire_path(shape), shape.wire_mm)
    return grind(shape, vertices, faces)


def shade_normals(vertices: Floats, faces: Integers, top: Floats) -> Mesh:
    """Split the ground faces from the round wire and give both smooth normals."""
    corners = vertices[faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.maximum(np.linalg.norm(cross, axis=1, keepdims=True), 1e-15)
    unit = cross / size
    level_mm = corners[:, :, 2].max(axis=1)
    bottom = (unit[:, 2] < -0.9999) & (level_mm < 1e-6)
    upper = (unit @ top > 0.9999) & (level_mm > vertices[:, 2].max() / 2)
    parts = [faces[~bottom & ~upper], faces[bottom], faces[upper]]
    points, normals, triangles, start = [], [], [], 0
    for part in parts:
        used, index = np.unique(part, return_inverse=True)
        local = index.reshape(-1, 3)
        corner = vertices[used][local]
        area = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        normal = np.zeros((len(used), 3))
        for column in range(3):
            np.add.at(normal, local[:, column], area)
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-15)
        points.append(vertices[used])
        normals.append(normal)
        triangles.append(local + start)
        start += len(used)
    return Mesh(
        vertices=np.vstack(points),
        faces=np.vstack(triangles),
        normals=np.vstack(normals),
    )


def rotate_about_z(points: Floats, angle_deg: float) -> Floats:
    """Turn points (n, 2 or 3) counter-clockwise seen from above."""
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    turned = points.copy()
    turned[:, 0] = cos * points[:, 0] - sin * points[:, 1]
    turned[:, 1] = sin * points[:, 0] + cos * points[:, 1]
    return turned


def place_spring(spring: PlacedSpring) -> tuple[Mesh, SpringTruth]:
    """Build a spring, turn it, stand it on the plate and take its truth."""
    shape = spring.shape
    vertices, faces = build_solid(shape)
    truth = read_truth(spring, vertices)
    mesh = shade_normals(vertices, faces, top_normal(shape))
    placed = rotate_about_z(mesh.vertices, spring.turn_deg)
    placed[:, :2] += [spring.x_mm, spring.y_mm]
    normals = rotate_about_z(mesh.normals, spring.turn_deg)
    return Mesh(vertices=placed, faces=mesh.faces, normals=normals), truth


def read_truth(spring: PlacedSpring, vertices: Floats) -> SpringTruth:
    """Read the truth from the ground solid's own vertices."""
    shape = spring.shape
    z_mm = vertices[:, 2]
    highest = float(z_mm.max())
    from_axis = np.hypot(*(vertices[:, :2] - shift_at(shape, z_mm)).T)
    low = z_mm < shape.wire_mm
    high = z_mm > highest - shape.wire_mm
    over_end = z_mm - shape.free_height_mm
    flat = (over_end > -shape.unparallel_mm - 1e-6) & (over_end < 1e-3)
    lean = np.array([[shape.lean_x_mm, shape.lean_y_mm]])
    turned = rotate_about_z(lean, spring.turn_deg)[0]
    return SpringTruth(
        free_height_mm=highest,
        outside_bottom_mm=2 * float(from_axis[low].max()),
        outside_middle_mm=2 * float(from_axis[~low & ~high].max()),
        outside_top_mm=2 * float(from_axis[high].max()),
        top_rim_radius_mm=float(from_axis[flat].max()),
        bottom_rim_radius_mm=float(from_axis[z_mm < 1e-6].max()),
        lean_x_mm=float(turned[0]),
        lean_y_mm=float(turned[1]),
        unparallel_mm=shape.unparallel_mm,
    )
