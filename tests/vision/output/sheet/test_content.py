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


def test_loads_of_the_set_stand_with_the_set() -> None:
    """Both springs read, the weak one named, the spread with its U in the caption."""
    (part,) = compose_sheet(make_inspection(), "in").sets

    (table,) = part.loads
    assert "all brought to 1.5315 in; strongest less weakest" in table.caption
    assert [row[0].text for row in table.rows] == ["1 · 1I", "7 · 7I"]
    assert [row[3].text for row in table.rows] == ["–", "weak"]
    assert table.rows[1][2].text == "−11 ± 4 %"
    assert "spring 7 is weaker than the other" in part.remarks


def test_pairs_are_told_with_lengths_limit_and_outcome() -> None:
    """Valve, both springs, both lengths, the sum and what is asked of it."""
    inspection = make_inspection()
    sheet = compose_sheet(inspection, "mm")

    assert sheet.pairs is not None
    (row,) = sheet.pairs.rows
    assert [cell.text for cell in row] == [
        "cylinder 1 intake",
        "1 · 1I + 7 · 7I",
        "38.9 mm and 37.4 mm",
        "292 ± 4 N",
        "at least 258 N, given as min 258 N",
        "accept",
    ]
    assert compose_sheet(replace(inspection, pairs=()), "mm").pairs is None


def test_a_pair_of_which_nothing_is_asked_is_shown_only() -> None:
    """No limit, no outcome; the sum with its U stands."""
    inspection = make_inspection()
    (pair,) = inspection.pairs
    free = replace(pair, limit=None, outcome=None)

    table = compose_sheet(replace(inspection, pairs=(free,)), "mm").pairs

    assert table is not None
    assert [cell.text for cell in table.rows[0][-2:]] == ["nothing of a pair", "–"]


def test_a_hint_stands_with_its_spring_alone() -> None:
    """Spring 3 is to be looked at again; no verdict line speaks of it."""
    parts = {
        part.position: part for part in compose_sheet(make_inspection(), "mm").springs
    }

    assert parts[3].hint == "the wire looks redder than the set"
    assert [at for at, part in parts.items() if part.hint] == [3]
    lines = parts[3].lines
    assert lines is not None
    assert not any("redder" in row[4].text for row in lines.rows)


def test_sentences_lead_with_the_chosen_units() -> None:
    """A reason kept in mm first is read in inches first."""
    inspection = make_inspection()
    first = inspection.verdicts[0]
    said = replace(first.decisions[0], why="missed by 0.58 mm (0.0228 in)")
    verdicts = (replace(first, decisions=(said,)), *inspection.verdicts[1:])

    sheet = compose_sheet(replace(inspection, verdicts=verdicts), "in")

    lines = next(part.lines for part in sheet.springs if part.position == 1)
    assert lines is not None
    assert lines.rows[0][4].text == "missed by 0.0228 in (0.58 mm)"
