"""Inspections come in and are kept; kept inspections go out."""
