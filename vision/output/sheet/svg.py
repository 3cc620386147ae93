"""A figure as inline SVG whose inks are style-sheet classes."""

from markupsafe import Markup, escape

from vision.output.plaintext import clean
from vision.output.sheet.figure import Disc, Figure, Mark, Stroke, Word

DASHES = "1.4 1.2"


def draw_svg(figure: Figure, ident: str) -> Markup:
    """Write a figure; ``ident`` must be unique on the page."""
    size = f"{figure.width:.2f} {figure.height:.2f}"
    marks = Markup("").join(_mark(mark) for mark in figure.marks)
    return Markup(
        '<svg class="figure" role="img" viewBox="0 0 {size}" '
        'style="--mm:{width}" aria-labelledby="{ident}-t {ident}-d">'
        '<title id="{ident}-t">{title}</title><desc id="{ident}-d">{text}</desc>'
        "{marks}</svg>"
    ).format(
        size=size,
        width=f"{figure.width:.0f}",
        ident=ident,
        title=clean(figure.title),
        text=clean(figure.description),
        marks=marks,
    )


def _mark(mark: Mark) -> Markup:
    match mark:
        case Stroke():
            return _stroke(mark)
        case Disc():
            return _disc(mark)
        case Word():
            return _word(mark)


def _stroke(mark: Stroke) -> Markup:
    shape = "polygon" if mark.closed else "polyline"
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in mark.points)
    if mark.filled:
        return Markup('<{0} class="f-{1}" points="{2}"/>').format(
            shape, mark.ink.key, points
        )
    return Markup('<{0} class="s-{1}" stroke-width="{2}"{3} points="{4}"/>').format(
        shape, mark.ink.key, mark.width, _dashed(mark.dashed), points
    )


def _disc(mark: Disc) -> Markup:
    x, y = mark.centre
    covers = " cover" if mark.covers else ""
    kind = f"f-{mark.ink.key}" if mark.filled else f"s-{mark.ink.key}{covers}"
    return Markup(
        '<circle class="{0}" cx="{1:.2f}" cy="{2:.2f}" r="{3:.2f}" '
        'stroke-width="{4}"{5}/>'
    ).format(kind, x, y, mark.radius, mark.width, _dashed(mark.dashed))


def _word(mark: Word) -> Markup:
    weight = Markup(' font-weight="700"') if mark.bold else ""
    x, y = mark.at
    return Markup(
        '<text class="f-{0}" x="{1:.2f}" y="{2:.2f}" font-size="{3}" '
        'text-anchor="{4}"{5}>{6}</text>'
    ).format(
        mark.ink.key, x, y, mark.size, mark.anchor, weight, escape(clean(mark.text))
    )


def _dashed(dashed: bool) -> Markup:  # noqa: FBT001
    return Markup(' stroke-dasharray="{0}"').format(DASHES) if dashed else Markup("")
