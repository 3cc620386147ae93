"""The inspection sheet as one HTML file that asks nothing of the outside."""

from base64 import b64encode
from typing import Literal

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from vision.output.palette import coat, hexadecimal
from vision.output.plaintext import clean
from vision.output.sheet import words
from vision.output.sheet.content import compose_sheet
from vision.output.sheet.figure import Figure
from vision.output.sheet.ink import Ink
from vision.output.sheet.naming import springs_text
from vision.output.sheet.svg import draw_svg
from vision.output.show import Units
from vision.records.judged import Outcome
from vision.records.kept import Inspection

Paper = Literal["A4", "Letter"]


def render_html(
    inspection: Inspection,
    *,
    overlay_jpeg: bytes | None,
    units: Units = "mm",
    paper: Paper = "A4",
) -> str:
    """Write the sheet; ``paper`` is what the page prints on."""
    environment = _environment()
    sheet = compose_sheet(inspection, units)
    picture = b64encode(overlay_jpeg).decode("ascii") if overlay_jpeg else ""
    return environment.get_template("sheet.html").render(
        sheet=sheet,
        words=words,
        headings=tuple(words.HEADINGS.items()),
        style=_style(environment, paper),
        picture=f"data:image/jpeg;base64,{picture}" if picture else "",
        version=inspection.program_version,
    )


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("vision.output"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    numbers = iter(range(1, 1_000_000))
    environment.filters["clean"] = clean
    environment.filters["key"] = _key
    environment.filters["springs"] = springs_text
    environment.filters["svg"] = lambda figure: _numbered(figure, next(numbers))
    return environment


def _numbered(figure: Figure, number: int) -> Markup:
    return draw_svg(figure, f"figure-{number}")


def _key(outcome: Outcome | None) -> str:
    return outcome.name.lower().replace("_", "-") if outcome else "plain"


def _style(environment: Environment, paper: Paper) -> Markup:
    """Fill the style sheet from the tables of inks and outcomes; it holds no input."""
    light = " ".join(f"--{ink.key}: {ink.light};" for ink in Ink)
    dark = " ".join(f"--{ink.key}: {ink.dark};" for ink in Ink)
    badges = "\n".join(_badge(outcome) for outcome in (*Outcome, None))
    style = environment.get_template("sheet.css").render(
        paper=paper,
        light=light,
        dark=dark,
        inks=[ink.key for ink in Ink],
        badges=badges,
    )
    return Markup(style)  # noqa: S704


def _badge(outcome: Outcome | None) -> str:
    worn = coat(outcome)
    fill, text = hexadecimal(worn.fill), hexadecimal(worn.text)
    return f".v-{_key(outcome)} {{ background: {fill}; color: {text}; }}"
