"""Grade bands, from upper elementary to the first college year."""

BANDS = {
    "3-5": "Grades 3–5",
    "6-8": "Grades 6–8",
    "9-12": "Grades 9–12",
    "college": "First-year college",
}
