"""The calculators as a teacher looks for them, and what to beware of beside some of them."""

GROUPS: dict[str, tuple[str, ...]] = {
    "Strings and sound": (
        "string-tension",
        "set-tension",
        "pitch-and-cents",
        "beats",
        "harmonics",
        "stiffness",
        "tuner-gear-ratio",
        "speed-of-sound",
        "sound-level",
    ),
    "Frets and neck": (
        "fret-positions",
        "fretting-stretch",
        "saddle-set-back",
        "neck-geometry",
        "fretboard-radius",
        "string-spacing",
    ),
    "Wood and stock": (
        "board-measure",
        "cut-list",
        "density",
        "wood-movement",
        "joint-squareness",
        "outline-area",
        "area-and-volume",
    ),
    "Shop and safety": (
        "tool-speed",
        "noise-dose",
        "pressure",
        "finish-coverage",
        "elapsed-time",
        "cost",
        "spares",
    ),
    "Electrics": (
        "ohms-law",
        "resistors-combined",
        "resistor-colour-code",
        "coil-resistance",
        "tone-circuit",
    ),
    "Measuring": (
        "measurement-statistics",
        "shop-fractions",
        "percent-difference",
        "proportion",
        "triangle",
    ),
}

# Hazard and protection where the number on the page leads to work that can hurt someone.
CAUTIONS: dict[str, tuple[str, str]] = {
    "tool-speed": (
        "A cutter that turns too fast or bites too deep can break or throw the work.",
        "Keep below the speed marked on the cutter; guard in place, eye and hearing protection on.",
    ),
    "noise-dose": (
        "Hearing lost to noise does not come back, and this estimate replaces no measurement.",
        "Hearing protection at or above 85 dBA.",
    ),
    "sound-level": (
        "Hearing lost to noise does not come back.",
        "Hearing protection at or above 85 dBA.",
    ),
    "finish-coverage": (
        "Finishes give off vapour that can burn and harm; rags soaked in oil can catch fire.",
        "Ventilation, nitrile gloves, eye protection; the label and its safety data sheet rule.",
    ),
    "string-tension": (
        "A string tuned too high can break and lash.",
        "Eye protection while stringing; face away from the string.",
    ),
    "cut-list": (
        "A saw cuts what it reaches, and a board can be thrown back.",
        "Only students signed off for the saw; guard in place, eye and hearing protection on.",
    ),
    "pressure": (
        "A clamp that slips can strike, and a joint pressed too hard can split.",
        "Eye protection; tighten in turn and never beyond what holds the joint closed.",
    ),
}


def group_of(key: str) -> str:
    """The heading under which the list shows a calculator."""
    return next(title for title, keys in GROUPS.items() if key in keys)
