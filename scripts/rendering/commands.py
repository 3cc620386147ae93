"""Arguments of ``make_samples`` in, files and progress lines out."""

import argparse
from pathlib import Path

import numpy as np

from scripts.rendering.draw import draw_scene, turn_quarter
from scripts.rendering.families import FAMILIES
from scripts.rendering.produce import produce
from scripts.rendering.proof import prove
from scripts.rendering.sets import sample_scenes


def make_bench(arguments: argparse.Namespace) -> int:
    """Render random scenes; each depends on seed, family and its number alone."""
    family = FAMILIES[arguments.family]
    for index in range(arguments.first, arguments.first + arguments.count):
        rng = np.random.default_rng([arguments.seed, index, int(family.name == "poor")])
        scene = draw_scene(rng, family, index)
        scenes = [scene]
        if arguments.quarter_turn:
            scenes.append(turn_quarter(rng, scene))
        for each in scenes:
            seconds = produce(each, arguments.out)
            print(f"{arguments.out / each.name}.jpg  {seconds:.0f} s", flush=True)
    return 0


def make_sample_sets(folder: Path, only: str) -> int:
    """Render the fixed sample sets into a folder, with progress."""
    for place, scene in sample_scenes():
        if only in f"{place}/{scene.name}":
            seconds = produce(scene, folder / place)
            print(f"{folder / place / scene.name}.jpg  {seconds:.0f} s", flush=True)
    return 0


def check_edges() -> int:
    """Compare rendered edges with projected points; 1 when one is off."""
    return prove()
