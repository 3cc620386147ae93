"""Judged springs come in; overlays, tables, files and sheets go out."""
