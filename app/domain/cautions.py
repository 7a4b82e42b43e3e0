"""The words for hazards, protection and supervision, one home for pages and papers."""

SUPERVISION = {
    "in-room": "adult in the room",
    "check-in": "adult checks the set-up",
    "line-of-sight": "adult in line of sight",
    "at-the-machine": "adult at the machine",
    "adult-only": "adult operates",
}
HAZARD = {
    "desk": "desk work",
    "hand": "hand tools and adhesives",
    "edge": "edge tools and stored energy",
    "machine": "guarded power machine",
    "severe-machine": "high-severity power machine",
    "heat": "heat",
    "chemical": "finishes and chemicals",
}
PROTECTION = {
    "eyes": "eye protection marked ANSI/ISEA Z87.1",
    "hearing": "hearing protection at or above 85 dBA",
    "dust": "extraction on; filtering mask as the school rules",
    "gloves": "nitrile gloves (never at rotating machines)",
    "heat-gloves": "heat-resistant gloves",
}
HAZARDOUS = frozenset({"edge", "machine", "severe-machine", "heat", "chemical"})
