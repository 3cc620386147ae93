"""An inspection in words and figures: composed once, laid out by each format."""

from statistics import median

from calib.quantity import merged
from calib.records import Reference, SquareCard, TrySquare
from vision.output.leading import lead_inspection
from vision.output.sheet.forces import table_of_pairs
from vision.output.sheet.naming import (
    NOT_JUDGED,
    by_place,
    measured,
    outcomes_by_position,
    springs_text,
)
from vision.output.sheet.parts import Cell, Fact, Grid, Sheet, Tally
from vision.output.sheet.sets import lean_parts, load_parts, set_part
from vision.output.sheet.springs import spring_part, table_by_place, table_of_readings
from vision.output.show import (
    LIMIT_DECIMALS,
    Units,
    show_given,
    show_quantity,
    unit_text,
)
from vision.records.judged import Outcome
from vision.records.kept import Inspection, Job
from vision.records.measured import Characteristic, Unmeasured

TALLIED = (
    Outcome.REJECT,
    Outcome.CHECK_BY_HAND,
    Outcome.STILL_DUE,
    Outcome.ACCEPT,
    None,
)


def compose_sheet(inspection: Inspection, units: Units) -> Sheet:
    """Say everything that the sheet says, in the chosen units."""
    inspection = lead_inspection(inspection, units)
    specification = inspection.specification
    tallies = _tallies(inspection)
    return Sheet(
        title=f"Valve spring inspection: {inspection.job.name}",
        job=_job(inspection.job, inspection),
        headline=_headline(tallies),
        tallies=tallies,
        picture_text=_picture_text(tallies, inspection),
        by_place=table_by_place(inspection, units),
        readings=table_of_readings(inspection, units),
        sets=tuple(set_part(each, inspection, units) for each in inspection.sets),
        leans=lean_parts(inspection, units),
        loads=load_parts(inspection, units),
        pairs=table_of_pairs(inspection, units),
        springs=tuple(
            spring_part(at, inspection, units) for at in by_place(inspection)
        ),
        doubts=specification.doubts if specification else (),
        warnings=inspection.row.warnings,
        advice=inspection.row.advice,
        budget=_budget(inspection, units),
        origin=_origin(inspection, units),
    )


def _job(job: Job, inspection: Inspection) -> tuple[Fact, ...]:
    specification = inspection.specification
    facts = [
        Fact(label="job", text=job.name, given=True),
        Fact(label="engine", text=job.engine or "not stated", given=True),
        Fact(label="date", text=job.started_at.strftime("%Y-%m-%d %H:%M %Z").strip()),
        Fact(
            label="held against",
            text=specification.name if specification else "no specification",
            given=True,
        ),
        Fact(label="springs", text=str(len(inspection.row.springs))),
        Fact(label="program", text=f"Freestand {inspection.program_version}"),
    ]
    if job.note:
        facts.append(Fact(label="note", text=job.note, given=True))
    return tuple(facts)


def _tallies(inspection: Inspection) -> tuple[Tally, ...]:
    outcomes = outcomes_by_position(inspection)
    positions = [spring.position for spring in inspection.row.springs]
    tallies = (
        Tally(
            outcome=outcome,
            word=outcome.text if outcome else NOT_JUDGED,
            positions=tuple(at for at in positions if outcomes.get(at) is outcome),
        )
        for outcome in TALLIED
    )
    return tuple(tally for tally in tallies if tally.positions)


def _headline(tallies: tuple[Tally, ...]) -> str:
    """Say first what must not go back into the engine."""
    found = {tally.outcome: tally.positions for tally in tallies}
    rejected = found.get(Outcome.REJECT)
    open_ = [
        at
        for outcome in (Outcome.CHECK_BY_HAND, Outcome.STILL_DUE, None)
        for at in found.get(outcome, ())
    ]
    parts = []
    if rejected:
        noun = springs_text(rejected)
        parts.append(f"Do not refit {noun}.")
    if open_:
        noun = springs_text(tuple(sorted(open_)))
        parts.append(f"Not decided yet: {noun}.")
    if not found:
        parts.append("No spring was found on the photo.")
    elif not parts:
        parts.append("Every spring meets every requirement of the specification.")
    return " ".join(parts)


def _picture_text(tallies: tuple[Tally, ...], inspection: Inspection) -> str:
    told = "; ".join(
        f"{tally.word}: {springs_text(tally.positions)}" for tally in tallies
    )
    count = len(inspection.row.springs)
    return f"Photo of the row of {count} springs with what was measured. {told}."


def _budget(inspection: Inspection, units: Units) -> Grid | None:
    """Tabulate what makes the free heights uncertain, by influence."""
    heights = [
        spring.values[Characteristic.FREE_HEIGHT]
        for spring in measured(inspection).values()
        if Characteristic.FREE_HEIGHT in spring.values
    ]
    parts: dict[str, list[tuple[str, float]]] = {}
    for height in heights:
        for part in merged(height.influences):
            parts.setdefault(part.label, []).append((part.source, abs(part.u)))
    if not parts:
        return None
    ranked = sorted(parts.items(), key=lambda item: -max(u for _, u in item[1]))
    return Grid(
        caption="Free height: standard uncertainty u by influence; U is twice the "
        "root of the summed squares",
        columns=("influence", "median u", "largest u", "shared by the row"),
        shares=(80, 32, 32, 36),
        rows=tuple(_influence(label, found, units) for label, found in ranked),
    )


def _influence(
    label: str, found: list[tuple[str, float]], units: Units
) -> tuple[Cell, ...]:
    sizes = [u for _, u in found]
    shared = len(found) > 1 and len({source for source, _ in found}) == 1
    return (
        Cell(text=label),
        Cell(text=_show_u(median(sizes), units), number=True),
        Cell(text=_show_u(max(sizes), units), number=True),
        Cell(text="yes" if shared else "no"),
    )


def _show_u(u_mm: float, units: Units) -> str:
    """Show a standard uncertainty; one too small to show is not called zero."""
    text = show_given(u_mm, "mm", units)
    least = 10.0 ** -LIMIT_DECIMALS[unit_text("mm", units)]
    tiny = u_mm > 0.0 and text.startswith("0 ")
    return f"< {least:g} {unit_text('mm', units)}" if tiny else text


def _origin(inspection: Inspection, units: Units) -> tuple[Fact, ...]:
    row, calibration = inspection.row, inspection.row.calibration
    facts = []
    for name, sha in zip(row.photo_names, row.photo_sha256, strict=True):
        facts.append(Fact(label="photo", text=name, given=True))
        facts.append(Fact(label="SHA-256", text=sha, code=True))
    facts += [
        Fact(label="reference photo", text=calibration.photo_name, given=True),
        Fact(label="SHA-256", text=calibration.photo_sha256, code=True),
        Fact(label="scale", text=show_quantity(calibration.px_per_mm, units).text),
        Fact(label="target", text=_target(calibration.reference, units)),
        Fact(label="edge offset", text=f"{calibration.edge_offset_px:.2f} px"),
        Fact(label="edges left over (rms)", text=f"{calibration.residual_px:.2f} px"),
    ]
    specification = inspection.specification
    if specification and specification.sha256:
        facts.append(Fact(label="specification", text=specification.name, given=True))
        facts.append(Fact(label="SHA-256", text=specification.sha256, code=True))
    unseen = [s.position for s in row.springs if isinstance(s, Unmeasured)]
    if unseen:
        facts.append(Fact(label="not measured", text=springs_text(tuple(unseen))))
    facts += [
        Fact(label="remark", text=remark, given=True) for remark in calibration.remarks
    ]
    return (
        *facts,
        Fact(label="program", text=f"Freestand {inspection.program_version}"),
    )


def _target(reference: Reference, units: Units) -> str:
    name = _shape_text(reference.shape, units)
    u = show_given(reference.expanded_uncertainty_mm, "mm", units)
    return f"{name}, sides known to U {u} (k = 2), entered by hand"


def _shape_text(shape: TrySquare | SquareCard, units: Units) -> str:
    match shape:
        case TrySquare():
            blade = show_given(shape.blade_mm, "mm", units)
            stock = show_given(shape.stock_mm, "mm", units)
            return f"try square, {blade} blade, {stock} stock"
        case SquareCard():
            side = show_given(shape.side_mm, "mm", units)
            return f"square card, {side} side"
