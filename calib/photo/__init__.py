"""A file goes in, a Photo comes out: upright, sRGB-encoded, with the camera's record.

``read_photo`` is the only place that opens pictures; ``linear_grey``, ``linear_rgb``
and ``clipped`` turn a Photo into linear light; ``focal_px_from_exif`` reads the focal
length that the camera recorded; ``cut_away_px`` and ``has_usual_shape`` tell pictures
that were cut out of larger ones.
"""

from calib.photo.focal import cut_away_px as cut_away_px
from calib.photo.focal import focal_px_from_exif as focal_px_from_exif
from calib.photo.focal import has_usual_shape as has_usual_shape
from calib.photo.light import clipped as clipped
from calib.photo.light import linear_grey as linear_grey
from calib.photo.light import linear_rgb as linear_rgb
from calib.photo.reading import read_photo as read_photo
