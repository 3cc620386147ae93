"""A spring's edge points in a photo in, as a lens turned straight at it sees them, out.

Beside the lens's axis a picture shows round things drawn out, and a circle's width is
not at right angles to the spring's axis there: the more, the farther aside and above
the lens stands. A lens turned about its own middle until it looks straight at the
spring, the axis upright, sees the same rays without that (a homography).
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.camera import directions, project
from calib.records import Camera, EdgePoints, Floats

FAR_MM = 1000.0  # along a ray; any distance gives the same picture point
HALF_TANGENT_PX = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facing:
    """A camera and the view straight at a spring: rows right, down and ahead (3, 3).

    ``focal_px`` is such that a px is as many mm at the spring's distance as the plane
    through the spring that is parallel to the camera's picture makes it.
    """

    camera: Camera
    turn: Floats
    focal_px: float

    def seen(self, points_px: Floats) -> Floats:
        """Picture points (n, 2) in the view, from its middle, rightward and down."""
        ahead = directions(self.camera, points_px) @ self.turn.T
        return np.asarray(self.focal_px * ahead[:, :2] / ahead[:, 2:])

    def in_photo(self, points_px: Floats) -> Floats:
        """Points (n, 2) of the view in the photo."""
        ahead = np.column_stack([points_px, np.full(len(points_px), self.focal_px)])
        rays = ahead / np.linalg.norm(ahead, axis=1, keepdims=True) @ self.turn
        return project(self.camera, self.camera.position_mm + FAR_MM * rays)

    def in_photo_way(self, way: Floats) -> Floats:
        """Give a direction (2,) in the view's middle as one in the photo."""
        start, end = self.in_photo(np.array([-way, way]) * HALF_TANGENT_PX)
        return np.asarray((end - start) / np.linalg.norm(end - start))

    @property
    def lens_up_px(self) -> float:
        """How far above the view's middle the horizon lies."""
        down = -float(self.turn[2, 2])
        return self.focal_px * down / float(np.sqrt(1.0 - down**2))

    def seen_edges(self, edges: EdgePoints) -> EdgePoints:
        """Edge points in the view; their u stays as it was."""
        if len(edges.u_px) == 0:
            return edges
        half = HALF_TANGENT_PX * edges.normals[:, ::-1] * (-1.0, 1.0)
        along = self.seen(edges.points_px + half) - self.seen(edges.points_px - half)
        along = along / np.linalg.norm(along, axis=1, keepdims=True)
        return replace(
            edges,
            points_px=self.seen(edges.points_px),
            normals=along[:, ::-1] * (1.0, -1.0),
        )


def face(camera: Camera, axis_px: Floats) -> Facing:
    """Turn the view straight at a spring whose foot and top are seen at (2, 2) px."""
    foot, top = directions(camera, axis_px)
    right = np.cross(foot, top)
    right = right / np.linalg.norm(right)
    right = right * np.sign(right @ camera.rotation[0])
    ahead = foot / np.linalg.norm(foot) + top / np.linalg.norm(top)
    ahead = ahead / np.linalg.norm(ahead)
    return Facing(
        camera=camera,
        turn=np.array([right, np.cross(ahead, right), ahead]),
        focal_px=camera.focal_px / float(camera.rotation[2] @ ahead),
    )
