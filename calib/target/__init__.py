"""A photo and a reference come in; the target's sides, found to sub-pixel, go out."""

from calib.target.doubts import EDGE_OFFSET_U as EDGE_OFFSET_U
from calib.target.doubts import glares as glares
from calib.target.doubts import is_blown as is_blown
from calib.target.find import find_target as find_target
from calib.target.find import sight_target as sight_target
