"""Targets: each module finds its kind of target in a photo and gives a Sighting."""
