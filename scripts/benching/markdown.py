"""Results in, the table for the README out."""

from collections.abc import Sequence

from scripts.benching.records import SceneResult, Summary
from scripts.benching.statistics import groups, plain_summaries, summaries, unit_of

NAMES = {
    "free_height": "free height, mm",
    "height difference": "height difference within a photo, mm",
    "lean": "lean, degrees",
    "lean, middle third": "lean in the middle third, degrees",
    "squareness": "squareness e1, mm",
    "outside_diameter": "outside diameter, mm",
    "bottom_diameter": "bottom diameter (tapered), mm",
    "top_diameter": "top diameter (tapered), mm",
    "wire_diameter": "wire diameter, mm",
    "total_coils": "total coils",
}

HEAD = (
    "| quantity | n | bias | rms | largest | median U | within U | plain recipe, rms |",
    "|---|---|---|---|---|---|---|---|",
)


def markdown_tables(results: Sequence[SceneResult]) -> str:
    """One table per number of views, each kind of staging by itself."""
    parts = []
    for title, _, part in groups(results):
        plain = plain_summaries(part)
        measured = sum(each.measured for each in part)
        springs = sum(each.springs for each in part)
        unit = unit_of(part)
        count = f"{len(part)} {unit}, {measured} of {springs} springs measured"
        parts.append(
            "\n".join(
                [
                    f"**{title[0].upper()}{title[1:]}**: {count}",
                    "",
                    *HEAD,
                    *(_line(each, plain) for each in summaries(part)),
                ]
            )
        )
    return "\n\n".join(parts)


def _line(each: Summary, plain: dict[str, Summary]) -> str:
    beside = plain.get(each.quantity)
    other = f"{beside.rms:.2f} (n = {beside.count})" if beside else ""
    return (
        f"| {NAMES[each.quantity]} | {each.count} | {each.bias:+.3f} | {each.rms:.3f} "
        f"| {each.largest:.3f} | {each.median_expanded:.3f} | {each.coverage:.1%} "
        f"| {other} |"
    )
