"""Outlines and a calibration come in; measured springs go out."""
