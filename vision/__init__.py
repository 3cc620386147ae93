"""A photo of springs and a calibration come in; measured, judged, kept springs go out."""
