"""The sets' parts: facts, ladder, straightedge, roses and load lines."""

from calib.quantity import Quantity
from vision.output.sheet.forces import table_of_loads
from vision.output.sheet.ladder import draw_ladder
from vision.output.sheet.loads import LoadLine, draw_loads, force_points
from vision.output.sheet.naming import (
    asked_of,
    by_place,
    kind_of,
    kinds_in,
    measured,
    numbers_text,
    outcomes_by_position,
    spring_labels,
    springs_text,
)
from vision.output.sheet.parts import Fact, LeanPart, LoadPart, SetPart
from vision.output.sheet.rose import Lean, draw_rose, reach_of, read_lean, ring_text
from vision.output.sheet.straightedge import draw_straightedge
from vision.output.sheet.words import LOADS, NO_LOADS, ONE_VIEW, ROSE_FRAME, TWO_VIEWS
from vision.output.show import Units, show_given, show_quantity
from vision.records.judged import Group, SetResult
from vision.records.kept import Inspection
from vision.records.measured import Characteristic


def set_part(result: SetResult, inspection: Inspection, units: Units) -> SetPart:
    """Put one set's result and its two figures together."""
    labels = spring_labels(inspection)
    asked = asked_of(result.kind, inspection)
    limit = asked.free_height if asked else None
    outcomes = outcomes_by_position(inspection)
    drawn = bool(result.standings)
    return SetPart(
        title=result.kind or "all springs",
        outcome=result.spread_outcome if result.spread else None,
        facts=tuple(_facts(result, units)),
        remarks=(
            *result.remarks,
            *(said for each in result.loads for said in each.remarks),
        ),
        loads=tuple(table_of_loads(each, labels, units) for each in result.loads),
        ladder=draw_ladder(result, limit, labels, outcomes, units) if drawn else None,
        straightedge=draw_straightedge(result, labels, units) if drawn else None,
    )


def _facts(result: SetResult, units: Units) -> list[Fact]:
    facts = []
    ranked = sorted(result.standings, key=lambda standing: standing.rank)
    if result.spread is not None:
        text = show_quantity(result.spread, units).text
        if result.spread_limit_mm is not None:
            limit = show_given(result.spread_limit_mm, "mm", units)
            text = f"{text}, at most {limit} asked"
        facts.append(Fact(label="tallest less shortest", text=text))
    if ranked:
        order = ", ".join(str(standing.position) for standing in ranked)
        facts.append(Fact(label="tallest to shortest", text=order))
    named = (
        ("replace", result.replace, "none"),
        ("well off the rest", result.outliers, ""),
        ("best matched together", result.best_subset, ""),
    )
    for label, positions, otherwise in named:
        text = numbers_text(positions) or otherwise
        if text:
            facts.append(Fact(label=label, text=text))
    heights = {standing.position: standing.height for standing in ranked}
    facts += [_group(group, heights, units) for group in result.groups]
    return facts


def _group(group: Group, heights: dict[int, Quantity], units: Units) -> Fact:
    ends = sorted((heights[at] for at in group.positions), key=lambda h: h.value)
    low, high = (show_quantity(ends[end], units).text for end in (0, -1))
    text = f"{springs_text(group.positions)}, {low} to {high}"
    if group.doubtful:
        text += f"; within U of the next group: {numbers_text(group.doubtful)}"
    return Fact(label=f"group {group.number}", text=text)


def lean_parts(inspection: Inspection, units: Units) -> tuple[LeanPart, ...]:
    """Draw the roses of each kind on one scale."""
    parts = []
    for kind in kinds_in(inspection):
        asked = asked_of(kind, inspection)
        limit = asked.squareness if asked else None
        springs = measured(inspection)
        places = [at for at in by_place(inspection) if at in springs]
        read = [read_lean(springs[at], limit) for at in places]
        leans = [
            lean
            for lean in read
            if lean is not None and kind_of(lean.position, inspection) == kind
        ]
        if leans:
            parts.append(_lean_part(kind, leans, inspection, units))
    return tuple(parts)


def _lean_part(
    kind: str, leans: list[Lean], inspection: Inspection, units: Units
) -> LeanPart:
    asked = asked_of(kind, inspection)
    limit = asked.squareness if asked else None
    reach = reach_of(leans, limit)
    labels, outcomes = spring_labels(inspection), outcomes_by_position(inspection)
    rings = ring_text(limit, reach, leans[0].size.unit, units)
    views = TWO_VIEWS if all(lean.whole for lean in leans) else ONE_VIEW
    return LeanPart(
        title=kind or "all springs",
        legend=f"{views} {ROSE_FRAME} Rings: {rings}.",
        roses=tuple(
            draw_rose(
                lean,
                labels[lean.position],
                limit,
                reach,
                (outcomes.get(lean.position), units),
            )
            for lean in leans
        ),
    )


def load_parts(inspection: Inspection, units: Units) -> tuple[LoadPart, ...]:
    """Draw the load lines of each kind that has loads asked or read."""
    labels, springs = spring_labels(inspection), measured(inspection)
    parts = []
    for kind in kinds_in(inspection):
        lines = [
            LoadLine(
                label=labels[at],
                free_height=springs[at].values.get(Characteristic.FREE_HEIGHT),
                readings=inspection.readings.get(at, ()),
            )
            for at in by_place(inspection)
            if at in springs and kind_of(at, inspection) == kind
        ]
        figure = draw_loads(lines, asked_of(kind, inspection), units)
        if figure is not None:
            read = any(force_points(line) for line in lines)
            legend = LOADS if read else NO_LOADS
            title = kind or "all springs"
            parts.append(LoadPart(title=title, legend=legend, figure=figure))
    return tuple(parts)
