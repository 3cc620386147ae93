"""A photo of springs and a calibration come in; judged and kept springs go out."""
