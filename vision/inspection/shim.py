"""What a shim under the spring does, and what it does not.

It raises the closed load by rate times thickness and takes its thickness off the
coil-bind clearance. Limits of use are common practice.
"""

from dataclasses import dataclass

from calib.quantity import Quantity, combined, difference
from vision.inspection.wording import say, say_number

MOST_SHIM_MM = 1.5  # 0.060 in of flat shims in all; common practice
LEAST_SHIM_MM = 0.1  # below, no shim is made
LEAST_CLEARANCE_MM = 1.5  # 0.060 in at full lift; common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Shim:
    """A thickness in mm, the clearance left in mm if known, and what to mind.

    ``usable`` says that thickness and clearance left keep to common practice,
    ``ruled_out`` that one of them surely does not; a clearance that is not known, or
    not well enough, leaves it open.
    """

    thickness: Quantity
    clearance: Quantity | None
    usable: bool
    ruled_out: bool
    cautions: tuple[str, ...]

    @property
    def text(self) -> str:
        """The shim and its cautions in one line."""
        return "; ".join([f"a shim of {say(self.thickness)}", *self.cautions])


def shim_for_load(
    missing: Quantity, rate: Quantity, clearance: Quantity | None
) -> Shim | None:
    """Find the shim that makes up a missing force; None where none is missing."""
    if missing.value <= 0.0 or rate.value <= 0.0:
        return None
    thickness_mm = missing.value / rate.value
    terms = [(1.0 / rate.value, missing), (-thickness_mm / rate.value, rate)]
    return _shim(
        combined(thickness_mm, "mm", terms),
        clearance,
        ("it is not a cure for a tired spring",),
    )


def shim_for_height(
    installed: Quantity, wanted: Quantity, clearance: Quantity | None
) -> Shim | None:
    """Find the shim that brings a head's installed height down to the wanted one."""
    excess = difference(installed, wanted)
    if excess.value < max(LEAST_SHIM_MM, excess.expanded):
        return None
    return _shim(excess, clearance, ())


def _shim(
    thickness: Quantity, clearance: Quantity | None, cautions: tuple[str, ...]
) -> Shim:
    left = None if clearance is None else difference(clearance, thickness)
    thin = thickness.value <= MOST_SHIM_MM
    roomy = left is not None and left.value - left.expanded >= LEAST_CLEARANCE_MM
    cramped = left is not None and left.value + left.expanded < LEAST_CLEARANCE_MM
    more = list(cautions)
    if not thin:
        more.append(f"common practice is {say_number(MOST_SHIM_MM, 'mm')} at most")
    more.append(
        "it takes its thickness off the coil-bind clearance: measure that first"
        if left is None
        else f"it leaves {say(left)} before coil bind"
    )
    if left is not None and not roomy:
        least = say_number(LEAST_CLEARANCE_MM, "mm")
        more.append(f"common practice is at least {least} there")
    return Shim(
        thickness=thickness,
        clearance=left,
        usable=thin and roomy,
        ruled_out=not thin or cramped,
        cautions=tuple(more),
    )
