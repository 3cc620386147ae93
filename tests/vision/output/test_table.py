"""Tables in the terminal: complete, within 80 columns, plain when they must be."""

import re
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from calib.quantity import Influence, Quantity
from tests.factories import make_inspection
from vision.output.table import WIDTH, render, to_text
from vision.records.judged import Outcome
from vision.records.kept import Inspection
from vision.records.measured import Characteristic, SpringMeasurement


def with_first(inspection: Inspection, **changes: object) -> Inspection:
    """Change the first spring's measurement."""
    first, *others = inspection.row.springs
    springs = (replace(first, **changes), *others)  # type: ignore[arg-type]
    return replace(inspection, row=replace(inspection.row, springs=springs))


def line_of(text: str, start: str) -> str:
    return next(line for line in text.splitlines() if line.strip().startswith(start))


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("count", [1, 2, 8, 12])
def test_tables_fit_80_columns(units: str, count: int) -> None:
    """Every line fits, the long budget included, and no number is broken."""
    text = to_text(make_inspection(count), units, budget=True)  # type: ignore[arg-type]

    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert not [line for line in text.splitlines() if line.rstrip().endswith("±")]


def test_long_and_hostile_names_fit_too() -> None:
    """Names of any length and script wrap; markup and controls are text."""
    inspection = make_inspection(3)
    name = "[bold red]x[/] <b>\x1b[31m\u202e" + "longword" * 30
    places = {
        position: replace(place, word=name)
        for position, place in inspection.places.items()
    }
    job = replace(inspection.job, name=name)

    text = to_text(replace(inspection, job=job, places=places))

    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert "[bold red]x[/]" in text
    assert "\x1b" not in text
    assert "\u202e" not in text


def test_each_spring_has_its_values_and_verdict() -> None:
    """Value and U under the unit, verdict in sign and word."""
    text = to_text(make_inspection())

    first = line_of(text, "1 1I")
    assert "48.12 ± 0.07" in first
    assert "0.35 ± 0.08" in first
    assert "✓ accept" in first
    assert "not measured" in line_of(text, "5 5I")
    assert "L0, mm" in text
    assert "1.8945 ± 0.0026" in to_text(make_inspection(), "in")


def test_reasons_stand_under_the_spring() -> None:
    """What speaks against a spring, what to do, and what is due."""
    text = to_text(make_inspection())

    assert "✗ free height L0: reject; replace it" in text
    assert "… still due: load at closed height" in text
    assert "touches its neighbour; 0.2 mm of backdrop" in text


def test_what_is_due_for_all_is_said_once() -> None:
    """A row that still has to be weighed does not repeat it on every line."""
    inspection = make_inspection(4)
    verdicts = tuple(
        replace(each, outcome=Outcome.STILL_DUE, due=("open load", f"own {n}"))
        for n, each in enumerate(inspection.verdicts)
    )

    text = to_text(replace(inspection, verdicts=verdicts))

    assert text.count("open load") == 1
    assert "still due for every spring not rejected: open load" in text
    assert text.count("own ") == 4


def test_a_like_check_is_said_once() -> None:
    """What several springs need alike stands once below them, with their numbers."""
    inspection = make_inspection(4)
    check = next(
        decision
        for decision in inspection.verdicts[2].decisions
        if decision.outcome is Outcome.CHECK_BY_HAND
    )
    verdicts = tuple(
        replace(each, outcome=Outcome.CHECK_BY_HAND, decisions=(check,))
        for each in inspection.verdicts
    )

    text = to_text(replace(inspection, verdicts=verdicts))

    assert "? squareness e1 of springs 1, 2, 3, 4: measure it by hand" in text
    assert text.count("measure it by hand") == 1


def test_a_row_without_specification_says_so() -> None:
    """Measured and not judged is a result, too."""
    inspection = replace(
        make_inspection(),
        specification=None,
        verdicts=(),
        sets=(),
        places={},
        pairs=(),
    )

    text = to_text(inspection)

    assert "Measured and not judged" in text
    assert not any(f"{each.sign} {each.text}" in text for each in Outcome)


def test_lean_of_one_view_has_a_direction() -> None:
    """One view: the lean is signed and the note says what it is."""
    inspection = with_first(make_inspection(2), views=1)

    text = to_text(inspection)

    assert "+0.47 ± 0.08" in line_of(text, "1 1I")
    assert "to the right is +" in text.replace("\n", " ")
    assert "+0.47" not in to_text(make_inspection(2))


@pytest.mark.parametrize(("top_mm", "tapered"), [(27.3, False), (23.0, True)])
def test_ends_are_shown_apart_for_tapered_springs(
    top_mm: float, *, tapered: bool
) -> None:
    """Ends that differ by more than U and 2 % have their own columns."""
    inspection = make_inspection(2)
    first = inspection.row.springs[0]
    assert isinstance(first, SpringMeasurement)
    part = Influence(source="x", label="x", u=0.06)
    top = Quantity(value=top_mm, unit="mm", influences=(part,))
    values = first.values | {Characteristic.TOP_DIAMETER: top}

    text = to_text(with_first(inspection, values=values))

    assert ("De at the" in text) is tapered
    assert ("outside" in text.splitlines()[7]) is not tapered


def test_a_value_that_was_not_read_is_a_dash() -> None:
    """No number is made up for what the picture did not give."""
    first = make_inspection(2).row.springs[0]
    assert isinstance(first, SpringMeasurement)
    values = {
        kind: value
        for kind, value in first.values.items()
        if kind is not Characteristic.LEAN
    }

    text = to_text(with_first(make_inspection(2), values=values))

    assert line_of(text, "1 1I").split()[5] == "–"


def test_the_set_is_ranked() -> None:
    """Rank, straightedge, spread against its limit, replacements."""
    text = to_text(make_inspection())

    assert "carries it" in line_of(text, "1    6 6I")
    assert "spread 1.52 ± 0.05 mm, allowed 1 mm: ✗ reject" in text
    assert "to replace for a matching set: 2" in text


def test_a_doubtful_border_is_marked() -> None:
    """A spring whose border lies within U has a question mark and its meaning."""
    inspection = make_inspection()
    result = inspection.sets[0]
    groups = tuple(replace(each, doubtful=each.positions[:1]) for each in result.groups)
    text = to_text(replace(inspection, sets=(replace(result, groups=groups),)))

    assert line_of(text, "1    6 6I").endswith("1 ?")
    assert "lies within U" in text


def test_budget_names_each_influence_with_its_share() -> None:
    """Shares come from the squares of u: 0.0289 and 0.015 mm give 79 and 21 %."""
    text = to_text(make_inspection(2), budget=True)

    start = text.index("spring 1, free height L0: 48.12 ± 0.07 mm")
    lines = text[start:].splitlines()[3:6]
    assert lines[0].split() == ["reference", "length", "0.029", "79", "%"]
    assert lines[1].split() == ["fit", "of", "the", "edges", "0.015", "21", "%"]
    assert lines[2].split() == ["combined", "0.04", "100", "%"]
    assert "Influences" not in to_text(make_inspection(2))


def test_budget_sums_what_bears_one_name() -> None:
    """A pose errs in two directions by 0.03 and 0.04 mm: it is off by 0.05 mm."""
    inspection = make_inspection(1)
    spring = inspection.row.springs[0]
    assert isinstance(spring, SpringMeasurement)
    pose = tuple(
        Influence(source=f"pose {number}", label="pose", u=u)
        for number, u in enumerate((0.03, 0.04))
    )
    height = Quantity(value=48.0, unit="mm", influences=pose)
    values = {**spring.values, Characteristic.FREE_HEIGHT: height}
    springs = (replace(spring, values=values),)
    row = replace(inspection.row, springs=springs)
    text = to_text(replace(inspection, row=row), budget=True)

    start = text.index("spring 1, free height L0: 48.00 ± 0.10 mm")
    lines = text[start:].splitlines()[3:5]
    assert lines[0].split() == ["pose", "0.05", "100", "%"]
    assert lines[1].split() == ["combined", "0.05", "100", "%"]


def test_colour_goes_to_terminals_only() -> None:
    """A file gets no escape codes, a terminal does, with the same words."""
    shown = StringIO()
    terminal = Console(
        file=shown, force_terminal=True, color_system="standard", width=80
    )
    terminal.print(render(make_inspection(2)))
    piped = StringIO()
    Console(file=piped, width=80).print(render(make_inspection(2)))

    assert "\x1b[" in shown.getvalue()
    assert "\x1b[" not in piped.getvalue()


def test_notes_end_the_text() -> None:
    """Doubts, warnings, advice and the meaning of the figures."""
    text = to_text(make_inspection())

    for part in ("disagree by 3 %", "never accept it", "15 mm apart", "k = 2"):
        assert part in text


def test_loads_of_the_set_stand_below_its_heights() -> None:
    """Forces, their distance from the others, the weak one and the spread."""
    text = to_text(make_inspection())

    assert "tester force at closed height, all at 38.9 mm, by hand" in text
    assert re.search(r"7 7I\s+292 ± 4\s+−11 ± 4\s+weak", text)
    assert "strongest less weakest 0" in text


def test_pairs_are_told_with_both_heights() -> None:
    """Outer and inner, the length of each, the sum with U, what is asked."""
    text = to_text(make_inspection())

    assert "Outer and inner together, forces by hand" in text
    assert re.search(r"cylinder 1\s+1 \+ 7\s+38.9 and 37.4\s+292 ± 4", text)


def test_hints_are_no_findings_and_say_so() -> None:
    """The note names the spring; verdicts and lines stay as they were."""
    inspection = make_inspection()

    text = to_text(inspection)

    assert "To look at again (hints of the picture, no findings)" in text
    assert "spring 3: the wire looks redder than the set" in text
    plain = to_text(replace(inspection, hints={}))
    assert "look at again" not in plain
    assert plain.split("To look")[0].count("reject") == text.count("reject")
