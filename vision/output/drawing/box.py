"""Upright rectangles on the canvas, in px."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """From left and top up to, not including, right and bottom."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Width in px."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Height in px."""
        return self.bottom - self.top

    @property
    def corners(self) -> tuple[float, float, float, float]:
        """As Pillow takes it, with the last pixel included."""
        return self.left, self.top, self.right - 1, self.bottom - 1

    def meets(self, other: "Box") -> bool:
        """Tell whether two boxes have any pixel in common."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def shrunk(self, by_px: float) -> "Box":
        """Take a margin off each side."""
        return Box(
            left=self.left + by_px,
            top=self.top + by_px,
            right=self.right - by_px,
            bottom=self.bottom - by_px,
        )
