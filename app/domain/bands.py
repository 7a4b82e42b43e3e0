"""Grade bands, from upper elementary to the first college year."""

BANDS = {
    "3-5": "Grades 3–5",
    "6-8": "Grades 6–8",
    "9-12": "Grades 9–12",
    "college": "First-year college",
}


def lowest_grade_of(band: str) -> int:
    """The lowest grade of a band as a number; first-year college follows grade 12."""
    return 13 if band == "college" else int(band.partition("-")[0])
