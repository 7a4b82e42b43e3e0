"""WCAG 2.1 AA by axe on every page, signed out and in each role, on screen and in print."""

import pytest

from tests.conftest import PASSWORD

pytestmark = pytest.mark.browser

SECTION = "/sections/period-3"
PAGES = [
    "/",
    "/school",
    SECTION,
    f"{SECTION}/today",
    f"{SECTION}/meetings/9",
    f"{SECTION}/progress",
    f"{SECTION}/sign-offs",
    f"{SECTION}/kit",
    f"{SECTION}/plan",
    f"{SECTION}/weeks/9",
    f"{SECTION}/days/2027-03-02",
    f"{SECTION}/papers",
    f"{SECTION}/papers/worksheet?phase=neck-and-fretboard",
    f"{SECTION}/papers/worksheet/marks?phase=neck-and-fretboard",
    f"{SECTION}/papers/worksheet/class-set?phase=neck-and-fretboard",
    f"{SECTION}/coverage",
    f"{SECTION}/coverage/HSF.LE.A.2",
    f"{SECTION}/standard?q=HSF.LE.A.2",
    f"{SECTION}/teams",
    f"{SECTION}/ready-made",
    f"{SECTION}/losses?week=6",
    "/departments/design-technology/coverage",
    "/departments/design-technology/losses?monday=2027-02-08",
    "/standards?q=ratio",
    "/standards/1",
    "/standards/import",
    "/standards/frameworks/1",
    "/standards/frameworks/1/alignments?band=9-12",
    "/builds",
    "/builds/six-string-solid-body",
    "/concepts",
    "/concepts/geometric-sequence",
    "/calculators",
    "/calculators/fret-positions",
    "/terms/1",
    "/terms/new",
    "/rooms/1",
    "/courses/1",
    "/nothing-here",
]
TEACHER_ONLY = ["/sections/new", "/courses/new", "/rooms/new"]
ADMIN_ONLY = ["/people", "/departments/new"]
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]}}


def faults(page):
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{item['id']}: {node['html'][:160]}" for item in found for node in item["nodes"][:3]]


def sign_in(page, address, who):
    page.goto(f"{address}/sign-in")
    page.fill("[name=email]", f"{who}@demo.example")
    page.fill("[name=password]", PASSWORD)
    page.click("main button")
    page.wait_for_load_state()


@pytest.mark.parametrize("who", ["teacher", "head", "workshop", "admin"])
def test_every_page_is_free_of_faults(chromium, sample_school, who):
    page = chromium.new_page(viewport={"width": 1366, "height": 768})
    sign_in(page, sample_school, who)
    wrong = {}
    pages = PAGES if who == "teacher" else PAGES[::3]
    extra = {"teacher": TEACHER_ONLY, "admin": ADMIN_ONLY}.get(who, [])
    for address in [*pages, *extra]:
        page.goto(sample_school + address)
        found = faults(page)
        if who == "teacher" and address in PAGES[:12]:
            page.emulate_media(media="print")
            found += [f"print {item}" for item in faults(page)]
            page.emulate_media(media="screen")
        if found:
            wrong[address] = found
    page.close()

    assert not wrong


def test_pages_for_strangers_are_free_of_faults(chromium, sample_school):
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    wrong = {}
    for address in ("/sign-in", "/calculators", "/calculators/string-tension"):
        page.goto(sample_school + address)
        if found := faults(page):
            wrong[address] = found
    page.close()

    assert not wrong


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (390, 844), (1920, 1080)])
def test_no_page_scrolls_sideways(chromium, sample_school, width, height):
    page = chromium.new_page(viewport={"width": width, "height": height})
    sign_in(page, sample_school, "teacher")
    wrong = []
    for address in PAGES:
        page.goto(sample_school + address)
        over = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        if over > 0:
            wrong.append((address, over))
    page.close()

    assert not wrong
