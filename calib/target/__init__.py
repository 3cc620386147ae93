"""A photo and a reference come in; the target's sides, found to sub-pixel, go out."""

from calib.target.find import find_target as find_target
from calib.target.find import target_model as target_model
