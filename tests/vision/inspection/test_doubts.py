"""Misprints in service data: caught with both figures; sound lines pass in silence.

The lines are public service data as plain numbers (common practice); no maker is meant.
"""

from pathlib import Path

import pytest

from vision.inspection.spec import load_specification


def spec_text(**sections: dict[str, str]) -> str:
    """Write sections as TOML."""
    return "\n".join(
        f"[{name.replace('__', '.')}]\n"
        + "\n".join(f'{key} = "{value}"' for key, value in keys.items())
        for name, keys in sections.items()
    )


def doubts_of(folder: Path, text: str) -> tuple[str, ...]:
    """Load a specification and return its doubts."""
    path = folder / "SPEC.toml"
    path.write_text(text, encoding="utf-8")
    return load_specification(path).doubts


def line(
    free: tuple[str, str],
    closed: tuple[str, str, str] | None = None,
    opened: tuple[str, str, str] | None = None,
    squareness: str | None = None,
) -> str:
    """Write one service line: free height and limit, two loads as height, min, max."""
    sections = {"free_height": {"nominal": free[0], "limit": free[1]}}
    for name, load in (("closed_load", closed), ("open_load", opened)):
        if load:
            height, low, high = load
            sections[name] = {"height": height, "min": low, "max": high}
    if squareness:
        sections["squareness"] = {"max": squareness}
    return spec_text(**sections)


SOUND = {
    "1": line(
        ("59.5 mm", "58 mm"),
        ("41.0 mm", "13.3 kgf", "16.3 kgf"),
        ("28.6 mm", "23.0 kgf", "27.0 kgf"),
        "2.0 mm",
    ),
    "2": line(
        ("57.0 mm", "55 mm"),
        ("44.0 mm", "23.5 kgf", "27.5 kgf"),
        ("31.6 mm", "49.8 kgf", "54.8 kgf"),
        "2.0 mm",
    ),
    "4": line(("36.83 mm", "35.83 mm"), ("31.50 mm", "107 N", "125 N"), None, "1.6 mm"),
    "5": line(
        ("48.0 mm", "47.1 mm"), ("38.9 mm", "296.2 N", "296.2 N"), None, "1.7 mm"
    ),
    "6": line(("45.50 mm", "45 mm"), ("33.8 mm", "186 N", "206 N"), None, "2.0 mm"),
    "8": line(
        ("37.81 mm", "35.9 mm"), ("29.13 mm", "99 N", "114 N"), None, "2.5 deg (1.7 mm)"
    ),
    "9": line(
        ("37.54 mm", "35.7 mm"),
        ("29.30 mm", "126 N", "144 N"),
        None,
        "2.5 deg (1.6 mm)",
    ),
    "10": line(("45.9 mm", "44 mm"), None, None, "1.5 mm (2 deg)"),
    "11": line(("37.8 mm", "36.3 mm"), None, None, "1.3 mm"),
    "12": line(("46.0 mm", "45.5 mm"), None, None, "2.0 mm"),
    "17 as meant": line(
        ("52.9 mm", "51 mm"),
        ("45.75 mm", "340 N", "340 N"),
        ("33.55 mm (1.32 in)", "980 N", "980 N"),
    ),
    "18": line(
        ("46.4 mm", "45 mm"),
        ("40.52 mm", "285 N", "323 N"),
        ("29.74 mm", "857 N", "967 N"),
    ),
    "19": line(
        ("48.5 mm", "47 mm"),
        ("1.570 in", "95 lbf", "100 lbf"),
        ("1.169 in", "207 lbf", "229 lbf"),
    ),
    "20": line(
        ("73.5 mm", "72 mm"), ("58 mm", "590 N", "590 N"), ("45 mm", "1150 N", "1150 N")
    ),
    "21": line(
        ("70.5 mm", "69 mm"), ("54 mm", "243 N", "243 N"), ("41 mm", "447 N", "447 N")
    ),
    "22": line(
        ("36 mm", "35 mm"),
        ("29.65 mm", "124 N", "137 N"),
        ("23.45 mm", "314 N", "346 N"),
    ),
    "23": line(
        ("30 mm", "28 mm"),
        ("26.65 mm", "63.48 N", "74.52 N"),
        ("20.45 mm", "224.2 N", "247.8 N"),
    ),
    "24": line(
        ("44.6 mm", "43 mm"), ("34 mm", "270 N", "270 N"), ("23.8 mm", "528 N", "528 N")
    ),
}


@pytest.mark.parametrize("text", SOUND.values(), ids=SOUND.keys())
def test_sound_service_lines_raise_no_doubt(tmp_path: Path, text: str) -> None:
    """Public service lines without a misprint pass in silence."""
    assert doubts_of(tmp_path, text) == ()


@pytest.mark.parametrize(
    ("free", "rates", "closed"),
    [
        ("36.69 mm", ("29.65 N/mm", "39.31 N/mm"), ("31.40 mm", "146 N", "168 N")),
        ("34.86 mm", ("23.11 N/mm", "30.88 N/mm"), ("28.50 mm", "137 N", "157 N")),
    ],
    ids=["25", "26"],
)
def test_dual_rate_lines_raise_no_doubt(
    tmp_path: Path, free: str, rates: tuple[str, str], closed: tuple[str, str, str]
) -> None:
    """The first rate times the travel falls inside the closed load's band."""
    text = spec_text(
        free_height={"min": free},
        rate={"nominal": rates[0], "second": rates[1]},
        closed_load={"height": closed[0], "min": closed[1], "max": closed[2]},
    )

    assert doubts_of(tmp_path, text) == ()


MISPRINTED = {
    # 1.32 in is 33.53 mm; 45.75 less a lift of 12 is 33.75: 33.55 is meant.
    "17 unit pair": (
        line(
            ("52.9 mm", "51 mm"),
            ("45.75 mm", "340 N", "340 N"),
            ("35.55 mm (1.32 in)", "980 N", "980 N"),
        ),
        (
            "open_load height 35.55 mm (1.32 in): ",
            "1.32 in is 33.53 mm and not 35.55 mm",
        ),
    ),
    "17 lift": (
        line(
            ("52.9 mm", "51 mm"),
            ("45.75 mm", "340 N", "340 N"),
            ("35.55 mm", "980 N", "980 N"),
        )
        + '\n[valve]\nlift = "12 mm"',
        ("closed height less lift is 33.75 mm, open height is 35.55 mm",),
    ),
    # 8.1 kgf is 79.4 N.
    "7 unit pair": (
        line(("35 mm", "33.5 mm"), ("30.4 mm", "72.9 N (8.1 kgf)", "80 N")),
        ("closed_load min 72.9 N (8.1 kgf): ", "8.1 kgf is 79.43 N and not 72.90 N"),
    ),
    "13 unit pair": (
        line(("37.2 mm (0.465 in)", "36 mm")),
        ("free_height nominal 37.2 mm (0.465 in): ", "is 11.81 mm and not 37.20 mm"),
    ),
    # Printed 18-20 N and 56.3-61.7 N; daN is meant.
    "3 daN": (
        line(
            ("41.30 mm", "40 mm"),
            ("34.50 mm", "18 N", "20 N"),
            ("24.50 mm", "56.3 N", "61.7 N"),
        ),
        ("closed load 19.0 N is unlike a valve spring", "daN or kgf"),
    ),
    "7 wear limit of squareness": (
        line(("35 mm", "33.5 mm"), None, None, "2 mm"),
        ("squareness max 2 mm is 3.27 deg; practice is 1 to 3 deg",),
    ),
}


@pytest.mark.parametrize(("text", "words"), MISPRINTED.values(), ids=MISPRINTED.keys())
def test_misprinted_service_lines_raise_a_doubt(
    tmp_path: Path, text: str, words: tuple[str, ...]
) -> None:
    """Real misprints of public service data are named with both figures."""
    (doubt,) = doubts_of(tmp_path, text)

    assert all(word in doubt for word in words)


CONTRADICTING = {
    "open height above closed": (
        line(
            ("48 mm", "47 mm"),
            ("30.1 mm", "290 N", "290 N"),
            ("38.9 mm", "590 N", "590 N"),
        ),
        "open height 38.90 mm is not below closed height 30.10 mm",
    ),
    "closed height above free": (
        line(("38.0 mm", "37 mm"), ("38.9 mm", "290 N", "290 N")),
        "closed height 38.90 mm is not below free height 38.00 mm",
    ),
    "load falls": (
        line(
            ("48 mm", "47 mm"),
            ("38.9 mm", "590 N", "590 N"),
            ("30.1 mm", "290 N", "290 N"),
        ),
        "open load 290.0 N is not above closed load 590.0 N",
    ),
    "free height far above the loads' own": (
        line(
            ("52.0 mm", "51 mm"),
            ("38.9 mm", "290 N", "290 N"),
            ("30.1 mm", "590 N", "590 N"),
        ),
        "the two loads imply a free height of 47.41 mm, the file says 52.00 mm",
    ),
    "free height below the loads' own": (
        line(
            ("46.0 mm", "45 mm"),
            ("38.9 mm", "290 N", "290 N"),
            ("30.1 mm", "590 N", "590 N"),
        ),
        "the two loads imply a free height of 47.41 mm, the file says 46.00 mm",
    ),
    "squareness pair": (
        line(("48 mm", "47 mm"), None, None, "1.2 mm (2.5 deg)"),
        "2.5 deg over 48.00 mm is 2.10 mm and not 1.20 mm",
    ),
    "squareness too wide": (
        line(("48 mm", "47 mm"), None, None, "4.6 deg"),
        "squareness max 4.6 deg is 4.60 deg; practice is 1 to 3 deg",
    ),
    "solid above open": (
        spec_text(
            free_height={"min": "47 mm"},
            open_load={"height": "30.1 mm", "min": "560 N"},
            coil_bind={"solid_height": "31 mm", "clearance_min": "1.5 mm"},
        ),
        "solid height 31.00 mm is not below open height 30.10 mm",
    ),
    "clearance not kept": (
        spec_text(
            open_load={"height": "30.1 mm", "min": "560 N"},
            coil_bind={"solid_height": "29 mm", "clearance_min": "1.5 mm"},
        ),
        "open height less solid height leaves 1.10 mm, clearance_min asks 1.50 mm",
    ),
    "clearance not asked": (
        spec_text(coil_bind={"solid_height": "29 mm"}),
        "coil_bind: no clearance_min; common practice is at least 1.5 mm",
    ),
    "clearance without open height": (
        spec_text(coil_bind={"solid_height": "29 mm", "clearance_min": "1.5 mm"}),
        "coil_bind: no open_load height and no valve lift, so no open height",
    ),
    "nominal outside": (
        spec_text(free_height={"nominal": "48 mm", "min": "48.2 mm"}),
        "free_height: nominal 48 mm is below min 48.2 mm",
    ),
    "nominal above": (
        spec_text(free_height={"nominal": "48.9 mm", "max": "48.2 mm"}),
        "free_height: nominal 48.9 mm is above max 48.2 mm",
    ),
    "wear limit above new": (
        spec_text(free_height={"nominal": "48 mm", "limit": "48.5 mm"}),
        "free_height: wear limit 48.5 mm is above 48 mm",
    ),
    "no limits": (
        spec_text(free_height={"nominal": "48 mm"}),
        "free_height: no limits are given, so it cannot be judged",
    ),
    "inch for mm": (
        spec_text(free_height={"min": "47 in"}),
        "free height 1193.80 mm is unlike a valve spring",
    ),
    "wire in the wrong unit": (
        spec_text(
            outside_diameter={"nominal": "31 mm", "tolerance": "0.3 mm"},
            wire_diameter={"nominal": "0.42 mm", "tolerance": "0.03 mm"},
        ),
        "is a spring index of 72.8; springs have 4 to 20",
    ),
    "rate": (
        spec_text(
            free_height={"min": "48 mm"},
            rate={"nominal": "60 N/mm"},
            closed_load={"height": "38.9 mm", "min": "280 N", "max": "300 N"},
        ),
        "rate times travel to closed height is 546.0 N, closed load is 290.0 N",
    ),
    "spread": (
        spec_text(matching={"spread_max": "1 in"}),
        "spread_max 25.40 mm is wide; common practice is 1 to 1.6 mm",
    ),
    "group wider than spread": (
        spec_text(matching={"spread_max": "1 mm", "group_width": "1.5 mm"}),
        "group_width 1.50 mm is above spread_max 1.00 mm",
    ),
}


@pytest.mark.parametrize(
    ("text", "words"), CONTRADICTING.values(), ids=CONTRADICTING.keys()
)
def test_figures_that_contradict_raise_one_doubt(
    tmp_path: Path, text: str, words: str
) -> None:
    """Each contradiction is said once, with both figures."""
    (doubt,) = doubts_of(tmp_path, text)

    assert words in doubt


def test_doubt_of_one_kind_names_it(tmp_path: Path) -> None:
    """With two kinds, a doubt about one says which."""
    text = spec_text(
        intake__free_height={"nominal": "48 mm"}, exhaust__free_height={"min": "47 mm"}
    )

    assert doubts_of(tmp_path, text) == (
        "intake: free_height: no limits are given, so it cannot be judged",
    )


def test_doubt_about_a_common_section_is_said_once(tmp_path: Path) -> None:
    """A common section in two kinds gives one doubt without a kind's name."""
    text = spec_text(
        squareness={"max": "5 deg"},
        intake__free_height={"min": "47 mm"},
        exhaust__free_height={"min": "46 mm"},
    )

    assert doubts_of(tmp_path, text) == (
        "squareness max 5 deg is 5.00 deg; practice is 1 to 3 deg",
    )
