"""Inspections and their pictures come in and are kept; kept inspections go out."""
