"""Chessboard photos go in, a lens file comes out: a camera's own geometry, and U."""

from calib.lens.solving import solve_lens as solve_lens
from calib.lens.storing import load_lens as load_lens
from calib.lens.storing import save_lens as save_lens
