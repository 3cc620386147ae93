"""Folders in; the pictures of rows that have a truth and a reference file out."""

from pathlib import Path

from scripts.benching.records import Job

TRUTH, REFERENCE = ".truth.json", ".reference.toml"
TURNED = "_turned"


def find_jobs(folders: list[Path]) -> list[Job]:
    """Find every picture of a row, in the order of the folders and names."""
    jobs = []
    for folder in folders:
        for truth in sorted(folder.rglob(f"*{TRUTH}")):
            name = truth.name.removesuffix(TRUTH)
            if not name.endswith(TURNED) and _has_picture(truth.parent, name):
                jobs += _jobs_of(truth.parent, name)
    return jobs


def _has_picture(folder: Path, name: str) -> bool:
    return (folder / f"{name}.jpg").is_file()


def _jobs_of(folder: Path, name: str) -> list[Job]:
    """One job for a picture that shows a row; none for one of a target alone."""
    own = folder / f"{name}{REFERENCE}"
    others = sorted(each for each in folder.glob(f"*{REFERENCE}") if each != own)
    if not _shows_springs(folder, name):
        return []
    if not own.is_file() and len(others) != 1:
        return []
    reference = own if own.is_file() else others[0]
    target = None
    if not own.is_file():
        target = folder / f"{reference.name.removesuffix(REFERENCE)}.jpg"
    turned = folder / f"{name}{TURNED}.jpg"
    turned_reference = folder / f"{name}{TURNED}{REFERENCE}"
    return [
        Job(
            name=f"{folder.name}/{name}",
            picture=folder / f"{name}.jpg",
            reference=reference,
            target=target,
            turned=turned if turned.is_file() else None,
            turned_reference=turned_reference if turned_reference.is_file() else None,
        )
    ]


def _shows_springs(folder: Path, name: str) -> bool:
    text = (folder / f"{name}{TRUTH}").read_text(encoding="utf-8")
    return '"springs": []' not in text


def truth_of(picture: Path) -> Path:
    """Name the truth file beside a picture."""
    return picture.with_name(f"{picture.stem}{TRUTH}")
