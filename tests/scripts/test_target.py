"""Targets stand where they are placed, with their stated sizes."""

import numpy as np
import pytest

from scripts.rendering.records import Hand, PlacedTarget, SquareCard, Target, TrySquare
from scripts.rendering.target import build_target, corner_points, span_of

SQUARE = TrySquare(
    blade_mm=90.0, stock_mm=55.0, blade_width_mm=16.0, stock_width_mm=14.0
)
CARD = SquareCard(side_mm=60.0, bottom_margin_mm=8.0)


def place(target: Target, yaw_deg: float = 0.0) -> PlacedTarget:
    """Stand a target at x = 30 mm, its front face 2 mm before the axis plane."""
    return PlacedTarget(
        actual=target,
        stated=target,
        x_mm=30.0,
        face_offset_mm=2.0,
        stated_face_offset_mm=0.0,
        yaw_deg=yaw_deg,
    )


@pytest.mark.parametrize(("hand", "stock_end_mm"), [("right", 85.0), ("left", -25.0)])
def test_stock_points_to_its_hand(hand: Hand, stock_end_mm: float) -> None:
    """The stock's end lies one stock length to the named side."""
    square = TrySquare(
        blade_mm=90.0,
        stock_mm=55.0,
        blade_width_mm=16.0,
        stock_width_mm=14.0,
        hand=hand,
    )

    corners = corner_points(place(square))

    np.testing.assert_allclose(corners["outer"], [30.0, -2.0, 0.0])
    np.testing.assert_allclose(corners["blade_outer_tip"], [30.0, -2.0, 90.0])
    np.testing.assert_allclose(corners["stock_outer_end"], [stock_end_mm, -2.0, 0.0])


def test_turned_card_keeps_its_side() -> None:
    """Turning about the plate's normal leaves the printed side's length alone."""
    corners = corner_points(place(CARD, yaw_deg=4.0))

    side = corners["lower_right"] - corners["lower_left"]

    assert np.linalg.norm(side) == pytest.approx(60.0)
    assert side[1] == pytest.approx(60.0 * np.sin(np.radians(4.0)))


@pytest.mark.parametrize("target", [SQUARE, CARD], ids=["try-square", "card"])
def test_faces_point_outwards(target: Target) -> None:
    """Every triangle's own normal agrees with the one it is shaded by."""
    for mesh in build_target(place(target)).values():
        corner = mesh.vertices[mesh.faces]
        turn = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])

        agreement = np.sum(turn * mesh.normals[mesh.faces[:, 0]], axis=1)

        assert (agreement > 0.0).all()


def test_print_lies_in_front_of_the_card() -> None:
    """The ink's front is the reference face; the card's lies behind it."""
    parts = build_target(place(CARD))

    assert parts["ink"].vertices[:, 1].min() == pytest.approx(-2.0)
    assert parts["card"].vertices[:, 1].min() > -2.0


def test_thick_stock_projects_towards_the_camera() -> None:
    """A thick stock's front stands before the blade's face by its projection."""
    thick = TrySquare(
        blade_mm=90.0,
        stock_mm=55.0,
        blade_width_mm=16.0,
        stock_width_mm=14.0,
        stock_projection_mm=5.0,
    )

    steel = build_target(place(thick))["steel"]

    assert steel.vertices[:, 1].min() == pytest.approx(-7.0)


def test_span_covers_the_target() -> None:
    """The span that keeps springs away holds stock or card."""
    assert span_of(SQUARE) == (0.0, 55.0)
    assert span_of(CARD) == (-42.0, 42.0)
