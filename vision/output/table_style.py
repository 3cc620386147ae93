"""How tables look in the terminal: a rule under the headings, no boxes."""

from rich import box
from rich.table import Table
from rich.text import Text

from vision.output.plaintext import clean
from vision.records.judged import Outcome
from vision.records.kept import Inspection

STYLES = {
    Outcome.ACCEPT: "bold blue",
    Outcome.REJECT: "bold red",
    Outcome.CHECK_BY_HAND: "bold yellow",
    Outcome.STILL_DUE: "bold",
}
"""Colours of the terminal's own palette, so that its user's choice holds."""


def plain_table() -> Table:
    """Begin a table whose columns may shrink to the terminal."""
    return Table(
        box=box.SIMPLE_HEAD,
        header_style="",
        padding=(0, 1),
        pad_edge=False,
        show_edge=False,
    )


def signed(outcome: Outcome) -> Text:
    """Write an outcome with its sign."""
    return Text(f"{outcome.sign} {outcome.text}", style=STYLES[outcome])


def named(inspection: Inspection, position: int) -> Text:
    """Name a spring by its position and place."""
    place = inspection.places.get(position)
    return Text(f"{position:2} {clean(place.word)[:8] if place else ''}".rstrip())


def heading(text: str) -> Text:
    """Set a heading with a blank line before it."""
    return Text(f"\n{clean(text)}", style="bold")
