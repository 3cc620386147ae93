"""The row's feet in; what they say of the camera out.

Every spring stands on the same plate, and where its foot's near edge is seen, the row
itself tells where the plate lies over its whole length. The feet are observations of
the calibration's variants (JCGM 100:2008, F.1.2.4: correlated estimates from common
data), solved as linear least squares with prior. Where the gap of a ground end faces
the lens the wire is seen higher than the plate, and a gap at the side makes a foot
seem fuller: such feet are told from the others by their share in a mixture of all. What
was read may be of another edge altogether, and it may be so below a whole row, which
stands in a hard shadow: both are held against the pose beside the feet's own case.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import block_diag

from calib.records import Calibration, Floats, Rows
from vision.spring.foot import Foot
from vision.spring.moving import Belief, joined
from vision.spring.sayings import COMMON, SHADOW, Saying, sayings_of

STANDS_PX = 0.5  # what may be farther off is a gap or a fault, no foot that stands
MOST_HYPOTHESES = 200  # of which feet stand and which do not
LEAST_STANDING = 1.5  # feet that must stand, by their shares, for the row to count


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """What a value may be of: its share, how far to its odd side, the spread of that.

    ``even`` is how often its edge follows a foot's curve closely, if that counts. A
    gap's odd side is up for levels, fuller for bulges.
    """

    share: float
    gap_px: float = 0.0
    u_px: float = 0.0
    even: float = 1.0


# Feet stand, or show the beginning of a gap, or a gap; few are wrong the other way: a
# chip, a stain. Measured on 600 feet under the true cameras.
LEVELS = (
    _Kind(share=0.47, even=0.7),
    _Kind(share=0.28, gap_px=0.2, u_px=0.25, even=0.4),
    _Kind(share=0.25, gap_px=0.9, u_px=0.5, even=0.1),
)
BULGES = (
    _Kind(share=0.58),
    _Kind(share=0.38, gap_px=1.0, u_px=1.0),
    _Kind(share=0.04, gap_px=-1.0, u_px=1.0),
)
# Below every foot of a row it may be the edge of a hard shadow that is read: mean, u
# that all share and own u, in diameters of the wire.
SHADES = (_Kind(share=1.0, even=0.17),)
SHADE, U_SHADE, U_OWN_SHADE = 0.12, 0.08, 0.05
EVEN_ELSEWHERE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """What a row may be, and how often: the kinds of its levels, if in hard shadow.

    ``other`` is the share of values that are of another edge, as of a highlight,
    anywhere within the search.
    """

    share: float
    other: float
    levels: tuple[_Kind, ...] = LEVELS
    is_shaded: bool = False


# Of 84 rows in soft light none was read below its feet, of 36 painted ones with hard
# shadows 19. Where one edge is no foot's others are likely to be none: all are alike.
ROWS = (
    _Row(share=0.75, other=0.05),
    _Row(share=0.1, other=0.5),
    _Row(share=0.15, other=0.05, levels=SHADES, is_shaded=True),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Hypotheses(Rows):
    """Beliefs (h, m), (h, m, m) if certain feet stand, and how likely that is (h,).

    ``standing`` (h,) counts the feet that do.
    """

    means: Floats
    covariances: Floats
    logs: Floats
    standing: Floats


def learn_from_feet(
    calibration: Calibration, belief: Belief, feet: list[Foot]
) -> Belief:
    """Change the belief by what the feet make of the variants, if enough of them stand.

    Each value in turn splits every hypothesis into those of a foot that stands, of a
    gap, of a stain and of another edge; the likeliest go on.
    """
    if not feet:
        return belief
    said = [saying for foot in feet for saying in sayings_of(calibration, foot)]
    first = _at_first(belief)
    known = _Hypotheses.joined([_weighed(first, said, row) for row in ROWS])
    count = len(belief.mean)
    learnt = joined(
        known.logs, known.means[:, :count], known.covariances[:, :count, :count]
    )
    shares = np.exp(known.logs - learnt.log_evidence)
    if shares @ known.standing < LEAST_STANDING:
        return replace(belief, log_evidence=learnt.log_evidence)
    return learnt


def _at_first(belief: Belief) -> _Hypotheses:
    """Start from what is believed; what the feet share has mean 0 and u 1."""
    return _Hypotheses(
        means=np.append(belief.mean, np.zeros(COMMON))[None],
        covariances=block_diag(belief.covariance, np.eye(COMMON))[None],
        logs=np.array([belief.log_evidence]),
        standing=np.zeros(1),
    )


def _in_shade(saying: Saying) -> Saying:
    """Take the edge of a hard shadow along the row for that of the foot."""
    own = float(np.hypot(saying.own_px, U_OWN_SHADE * saying.wire_px))
    if not saying.is_level:
        return replace(saying, own_px=own)
    effect = saying.effect.copy()
    effect[SHADOW] = np.hypot(effect[SHADOW], U_SHADE * saying.wire_px)
    seen = saying.seen_px - SHADE * saying.wire_px
    return replace(saying, own_px=own, effect=effect, seen_px=seen)


def _weighed(known: _Hypotheses, said: list[Saying], row: _Row) -> _Hypotheses:
    """Hold all that is said against a row of this sort."""
    known = replace(known, logs=known.logs + np.log(row.share))
    for each in said:
        saying = _in_shade(each) if row.is_shaded else each
        kinds = row.levels if saying.is_level else BULGES
        parts = [_updated(known, saying, kind, 1.0 - row.other) for kind in kinds]
        parts.append(_untold(known, saying, row.other))
        split = _Hypotheses.joined(parts)
        known = split.chosen(np.argsort(-split.logs)[:MOST_HYPOTHESES])
    return known


def _updated(
    known: _Hypotheses, saying: Saying, kind: _Kind, share: float
) -> _Hypotheses:
    """Update every hypothesis by a value that is of this kind."""
    odd = -1.0 if saying.is_level else 1.0
    along = known.covariances @ saying.effect
    spread = along @ saying.effect + saying.own_px**2 + kind.u_px**2
    rest = saying.seen_px - odd * kind.gap_px - known.means @ saying.effect
    gain = along / spread[:, None]
    density = -0.5 * (rest**2 / spread + np.log(2 * np.pi * spread))
    stands = saying.is_level and kind.gap_px + kind.u_px < STANDS_PX
    return _Hypotheses(
        means=known.means + gain * rest[:, None],
        covariances=known.covariances - gain[:, :, None] * along[:, None],
        logs=known.logs + _log_share(saying, share * kind.share, kind.even) + density,
        standing=known.standing + float(stands),
    )


def _untold(known: _Hypotheses, saying: Saying, share: float) -> _Hypotheses:
    """Leave every hypothesis as it is: the value is of another edge."""
    log = _log_share(saying, share, EVEN_ELSEWHERE) - np.log(2 * saying.sought_px)
    return replace(known, logs=known.logs + log)


def _log_share(saying: Saying, share: float, even: float) -> float:
    """How often a level is of a kind and its edge as even as it is."""
    if saying.is_level:
        share *= even if saying.is_even else 1.0 - even
    return float(np.log(share))
