"""What documents take from the code: the map of modules, the keys of the files."""

import ast
from pathlib import Path

MAP = ("<!-- map: written by scripts/refresh_docs -->", "<!-- end of the map -->")
KEYS = ("<!-- keys: written by scripts/refresh_docs -->", "<!-- end of keys -->")


def replace_between(document: str, marks: tuple[str, str], text: str) -> str:
    """Write the text between two marks anew."""
    begin, end = marks
    before, _, rest = document.partition(begin)
    _, _, after = rest.partition(end)
    return f"{before}{begin}\n\n{text}\n\n{end}{after}"


def draw_keys(tables: dict[str, dict[str, str]]) -> str:
    """Give each table of keys, by its heading, as Markdown."""
    parts = []
    for heading, keys in tables.items():
        rows = "\n".join(f"| `{key}` | {text} |" for key, text in keys.items())
        parts.append(f"| {heading} | meaning |\n|---|---|\n{rows}")
    return "\n\n".join(parts)


def draw_map(root: Path) -> str:
    """Give each package a table of its modules."""
    parts = []
    for package in sorted(_packages(root)):
        name = package.relative_to(root).as_posix()
        rows = [
            f"| `{path.relative_to(root).as_posix()}` | {first_line(path)} |"
            for path in sorted(package.glob("*.py"))
            if path.name != "__init__.py"
        ]
        if rows:
            sentence = first_line(package / "__init__.py")
            head = f"**{name}/** {sentence}\n\n| module | what it does |\n|---|---|\n"
            parts.append(head + "\n".join(rows))
    return "\n\n".join(parts)


def first_line(path: Path) -> str:
    """Take the first line of a module's docstring, markup for code made plain."""
    told = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    return told.partition("\n")[0].replace("``", "`").replace("|", "\\|")


def _packages(root: Path) -> list[Path]:
    return [
        path.parent
        for top in ("calib", "vision")
        for path in (root / top).rglob("__init__.py")
    ]
