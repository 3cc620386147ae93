"""Tables of forces: a set's held against each other, and of nested springs added."""

from collections.abc import Mapping

from vision.output.sheet.amounts import ask
from vision.output.sheet.naming import spring_labels
from vision.output.sheet.parts import Cell, Grid
from vision.output.show import Units, show_given, show_quantity, show_signed
from vision.records.judged import LoadSet, PairLoad
from vision.records.kept import Inspection

WEAK = "weak"


def table_of_loads(result: LoadSet, labels: Mapping[int, str], units: Units) -> Grid:
    """Tabulate the forces of a set at one height, strongest first."""
    height = show_given(result.height_mm, "mm", units)
    spread = show_quantity(result.spread, units).text
    return Grid(
        caption=f"{_capital(result.instrument.text)}, read by hand, all brought to "
        f"{height}; strongest less weakest {spread}",
        columns=("spring", "force", "against the median of the others", "weak"),
        shares=(40, 50, 60, 30),
        rows=tuple(
            (
                Cell(text=labels.get(each.position, str(each.position)), given=True),
                Cell(text=show_quantity(each.force, units).text, number=True),
                Cell(
                    text=show_signed(show_quantity(each.apart_percent)).text,
                    number=True,
                ),
                Cell(text=WEAK if each.position in result.weak else "–"),
            )
            for each in result.standings
        ),
    )


def table_of_pairs(inspection: Inspection, units: Units) -> Grid | None:
    """Tabulate what outer and inner spring of each valve press together."""
    if not inspection.pairs:
        return None
    labels = spring_labels(inspection)
    return Grid(
        caption="Outer and inner spring of a valve together: both forces were read by "
        "hand, are brought to the heights shown, and add",
        columns=("valve", "springs", "outer and inner at", "force", "asked", "outcome"),
        shares=(38, 28, 36, 32, 34, 34),
        rows=tuple(_pair(pair, labels, units) for pair in inspection.pairs),
    )


def _pair(pair: PairLoad, labels: Mapping[int, str], units: Units) -> tuple[Cell, ...]:
    heights = [show_given(height, "mm", units) for height in pair.heights_mm]
    return (
        Cell(text=pair.place, below=pair.valve, given=True),
        Cell(text=" + ".join(labels[at] for at in pair.positions), given=True),
        Cell(text=" and ".join(heights), number=True),
        Cell(text=show_quantity(pair.force, units).text, number=True),
        Cell(text=ask(pair.limit, units) or "nothing of a pair", given=True),
        Cell(
            text=pair.outcome.text if pair.outcome else "–",
            outcome=pair.outcome,
        ),
    )


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
