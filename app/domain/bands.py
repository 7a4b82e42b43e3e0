"""Grade bands, from upper elementary to the first college year, and grades as numbers."""

BANDS = {
    "3-5": "Grades 3–5",
    "6-8": "Grades 6–8",
    "9-12": "Grades 9–12",
    "college": "First-year college",
}
KINDERGARTEN = 0
COLLEGE = 13  # first-year college follows grade 12
GRADES = {"3-5": (3, 5), "6-8": (6, 8), "9-12": (9, 12), "college": (COLLEGE, COLLEGE)}


def bands_apart(one: str, other: str) -> int:
    """How many bands lie from one to the other; 0 for the same."""
    order = list(BANDS)
    return abs(order.index(one) - order.index(other))


def grade_number(grade: str) -> int:
    """Return 0 for "K", 1 to 12, or 13 for a college grade. Raises ValueError with a sentence."""
    plain = grade.strip().upper()
    if plain in {"K", "KG", "KINDERGARTEN"}:
        return KINDERGARTEN
    if plain in {"COLLEGE", "13"}:
        return COLLEGE
    if plain.isdecimal() and 1 <= int(plain) < COLLEGE:
        return int(plain)
    raise ValueError(f"“{grade}” is no grade: give K, 1 to 12, or college.")
