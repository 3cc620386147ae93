"""The sheet's standing text: one wording for every format."""

CAUTIONS = (
    (
        "A compressed valve spring stores energy. Compress it only with a tool made "
        "for it, keep it captive, and keep face and hands out of its line."
    ),
    "Wear eye protection while compressing, testing and cleaning.",
    (
        "Hot tanks and caustic cleaners burn: gloves, apron, fresh air, and a rinse "
        "before handling."
    ),
    "The engine maker's service manual comes before this sheet wherever they differ.",
    "Keep to local rules, and leave to qualified people what is theirs to do.",
    (
        "A photo sees neither load nor every crack: no spring is passed by a photo "
        "alone."
    ),
)
UNCERTAINTY = (
    (
        "Behind each ± stands U, the expanded uncertainty with k = 2 (about 95 %, "
        "JCGM 100). U covers camera, scale, place of the target, edges and fit. It "
        "leaves out what no photo shows: load, cracks, dirt under a foot, and a "
        "target that is not the size that was entered."
    ),
    (
        "A requirement is accepted only inside its limits by U, rejected only outside"
        " by U, and checked by hand in between (decision rule of ISO 14253-1)."
    ),
    (
        "Numbers marked 'by hand' were read on an instrument and typed in; their U is"
        " the instrument's own."
    ),
)
ONE_VIEW = (
    "One view: only the lean in the picture plane is known. The top lies somewhere on "
    "the dashed line; turn the spring by a quarter and photograph it again."
)
TWO_VIEWS = (
    "Seen from above, from two views: the needle shows which way and how far the top "
    "stands off square; the thick part is U."
)
ROSE_FRAME = "The camera stands below each rose, the row runs to the right."
LOADS = (
    "Lines run from the photographed free height to the tester readings: empty points "
    "at closed height, full points at open height, both read by hand, bars are U. "
    "Tinted bars are what the specification asks, the hatched wall is the solid height "
    "that it gives."
)
NO_LOADS = (
    "No tester reading has been entered: loads at closed and open height are still due."
)
HINT = "To look at again, by the picture's colours; a hint and no finding"
PAIRS = "Outer and inner together"
SIGNERS = ("Measured by", "Decided by", "Received by")
HEADINGS = {
    "result": "Result",
    "cautions": "Cautions",
    "row": "The row",
    "places": "Springs by place",
    "set": "The set",
    "lean": "Which way each spring leans",
    "loads": "Loads against height",
    "springs": "Spring by spring",
    "origin": "Where the numbers come from",
    "signatures": "Signatures",
}
