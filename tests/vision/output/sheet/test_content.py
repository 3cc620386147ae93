"""What the sheet says of an inspection."""

from dataclasses import replace

from tests.factories import make_inspection, make_row
from vision.output.sheet.content import compose_sheet
from vision.output.sheet.naming import by_place, numbers_text, spring_label
from vision.records.judged import Outcome
from vision.records.kept import Inspection, Place
from vision.records.measured import SpringMeasurement


def one_view(inspection: Inspection) -> Inspection:
    springs = tuple(
        replace(each, views=1, lean_parts_deg=(each.lean_parts_deg[0], None))
        if isinstance(each, SpringMeasurement)
        else each
        for each in inspection.row.springs
    )
    return replace(inspection, row=replace(inspection.row, springs=springs))


def test_headline_names_first_what_must_not_go_back() -> None:
    """Rejected springs come first, undecided ones after, accepted ones not at all."""
    sheet = compose_sheet(make_inspection(), "mm")

    assert sheet.headline == (
        "Do not refit springs 2 and 6. Not decided yet: springs 3, 4, 5 and 8."
    )


def test_only_a_wholly_accepted_row_is_praised() -> None:
    """Only when each spring is accepted does the sheet say that all meet."""
    inspection = make_inspection()
    accepted = tuple(
        replace(verdict, outcome=Outcome.ACCEPT) for verdict in inspection.verdicts
    )

    whole = compose_sheet(replace(inspection, verdicts=accepted), "mm")
    lacking = compose_sheet(replace(inspection, verdicts=accepted[1:]), "mm")

    assert whole.headline.startswith("Every spring meets every requirement")
    assert lacking.headline == "Not decided yet: spring 1."


def test_springs_are_in_the_order_of_their_places() -> None:
    """Cylinder 10 comes after cylinder 2; springs without a place come last."""
    words = {1: "10I", 2: "2I", 3: "1E", 4: "1I"}
    places = {at: Place(word=w, text=w, kind="intake") for at, w in words.items()}
    inspection = replace(make_inspection(5), row=make_row(5), places=places)

    assert by_place(inspection) == (3, 4, 2, 1, 5)


def test_long_place_words_are_cut_in_figures() -> None:
    """A word that would run out of a figure is shortened with a sign."""
    places = {1: Place(word="cylinder one", text="", kind="")}

    assert spring_label(1, places) == "1 · cyli…"
    assert spring_label(2, places) == "2"


def test_hand_values_are_marked() -> None:
    """Loads in the table by place and in the verdicts say that they are by hand."""
    sheet = compose_sheet(make_inspection(), "mm")

    marked = [cell.text for row in sheet.by_place.rows for cell in row if cell.by_hand]
    lines = sheet.springs[0].lines
    assert marked == ["291 ± 4", "588 ± 8"] * 2
    assert lines is not None
    assert [row[1].by_hand for row in lines.rows] == [False, False, True, False]
    assert sheet.readings is not None
    assert all(row[2].text.endswith("by hand") for row in sheet.readings.rows)


def test_an_assumed_uncertainty_is_told() -> None:
    """A reading whose U was not entered says that the customary one stands in."""
    inspection = make_inspection()
    assumed = tuple(replace(each, assumed=True) for each in inspection.readings[1])

    sheet = compose_sheet(replace(inspection, readings={1: assumed}), "mm")

    assert sheet.readings is not None
    assert all("not entered" in row[2].below for row in sheet.readings.rows)


def test_one_view_is_told_wherever_it_limits() -> None:
    """With one view squareness and lean are marked as the picture plane's part."""
    sheet = compose_sheet(one_view(make_inspection()), "mm")

    assert sheet.by_place.rows[0][3].below == "one view"
    assert sheet.leans[0].legend.startswith("One view: only the lean in the picture")
    facts = {fact.label: fact.text for fact in sheet.springs[0].facts}
    assert facts["leans"].endswith("(in the picture plane, from one view)")


def test_unmeasured_spring_says_why() -> None:
    """A spring that was not measured keeps its verdict and gives the reason."""
    sheet = compose_sheet(make_inspection(), "mm")

    part = sheet.springs[4]
    assert part.facts[0].label == "not measured"
    assert part.facts[0].text.startswith("spring 5 touches its neighbour: 0.2 mm")
    assert sheet.by_place.rows[4][1].below == "not measured"


def test_set_tells_ranking_groups_and_whom_to_replace() -> None:
    """Spread with its limit, order, groups with measured ends, springs to replace."""
    sheet = compose_sheet(make_inspection(), "mm")

    facts = {fact.label: fact.text for fact in sheet.sets[0].facts}
    assert facts["tallest less shortest"] == "1.52 ± 0.05 mm, at most 1 mm asked"
    assert facts["tallest to shortest"] == "6, 1, 4, 8, 3, 7, 2"
    assert facts["replace"] == "2"
    assert facts["group 1"] == (
        "springs 6, 1 and 4, 48.05 ± 0.07 mm to 48.20 ± 0.07 mm"
    )


def test_budget_tells_what_the_row_shares() -> None:
    """Influences stand largest first; the scale is shared, the fit is not."""
    sheet = compose_sheet(make_inspection(), "mm")

    assert sheet.budget is not None
    told = {row[0].text: row[3].text for row in sheet.budget.rows}
    assert told == {"reference length": "yes", "fit of the edges": "no"}


def test_identity_traces_each_file() -> None:
    """Photo, reference photo and specification are named with their SHA-256."""
    inspection = make_inspection()

    sheet = compose_sheet(inspection, "mm")

    codes = [fact.text for fact in sheet.origin if fact.code]
    assert codes == [
        inspection.row.photo_sha256[0],
        inspection.row.calibration.photo_sha256,
        "5" * 64,
    ]


def test_numbers_are_joined_as_people_say_them() -> None:
    """One, two or more numbers."""
    assert numbers_text([]) == ""
    assert numbers_text([2]) == "2"
    assert numbers_text([2, 5, 7]) == "2, 5 and 7"
