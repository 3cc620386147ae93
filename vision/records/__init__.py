"""The records that flow through vision: measured, judged, kept."""
