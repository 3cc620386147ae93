"""A photo and a calibration come in; one outline per spring goes out."""
