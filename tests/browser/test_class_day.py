"""A day of the sample school on a phone-sized screen, by touch and by keyboard."""

import pytest

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844}
PASSWORD = "spruce and maple"
TARGET_PX = 44


@pytest.fixture(scope="module")
def signed_in_state(chromium, sample_school):
    """The cookies of the sample teacher, signed in once."""
    context = chromium.new_context()
    page = context.new_page()
    page.goto(f"{sample_school}/sign-in")
    page.fill("[name=email]", "teacher@demo.example")
    page.fill("[name=password]", PASSWORD)
    page.locator("main button").click()
    page.wait_for_url(f"{sample_school}/")
    state = context.storage_state()
    context.close()
    return state


@pytest.fixture
def phone(chromium, sample_school, signed_in_state):
    """A phone signed in as the sample teacher, on today's page."""
    context = chromium.new_context(
        viewport=PHONE, has_touch=True, is_mobile=True, storage_state=signed_in_state
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.goto(f"{sample_school}/sections/period-3/today")
    yield page
    context.close()


def open_bench(page, *, hold):
    """The first team that has nothing recorded, at a hold point or not."""
    forms = page.locator("form.record")
    for index in range(forms.count()):
        form = forms.nth(index)
        if (form.locator("[name=initials]").count() > 0) == hold:
            return page.locator(f"#{form.evaluate('f => f.closest(`.bench`).id')}")
    raise AssertionError("every team is recorded")


@pytest.mark.parametrize(
    "name",
    [
        "today", "progress", "marks", "measurements", "sign-offs", "sign-offs/stations/P-DRILL",
        "sign-offs/entries/1", "roster", "meetings/37/catch-up",
    ],
)  # fmt: skip
def test_the_page_fits_a_phone_and_every_target_a_gloved_finger(phone, sample_school, name):
    phone.goto(f"{sample_school}/sections/period-3/{name}")
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    small = phone.evaluate(
        """least => [...document.querySelectorAll("a:not(.skip), button, summary, input:not([type=hidden]), select, textarea")]
          .filter(e => e.checkVisibility())
          .map(e => ({ name: e.textContent.trim().slice(0, 40) || e.name, lines: [...(e.closest("label, .check") ?? e).getClientRects()] }))
          .map(({ name, lines }) => ({ name, height: Math.min(...lines.map(line => line.height)) }))
          .filter(({ height }) => height < least - 0.5)
          .map(({ name, height }) => `${name}: ${Math.round(height)} px`)""",
        TARGET_PX,
    )
    assert small == []


def test_every_team_of_the_spread_stands_on_a_phones_screen(phone, sample_school):
    phone.goto(f"{sample_school}/sections/period-3/progress")
    shown = phone.evaluate(
        """() => [...document.querySelectorAll("figure.strip text")]
          .filter(text => text.checkVisibility() && /^T\\d+$/.test(text.textContent))
          .map(text => ({ team: text.textContent, box: text.getBoundingClientRect() }))
          .map(({ team, box }) => [team, box.left, box.right, box.height])"""
    )
    teams = phone.locator("table.progress thead th").all_inner_texts()[1:]

    assert sorted(team for team, *_ in shown) == sorted(teams)
    for team, left, right, height in shown:
        assert left >= 0, team
        assert right <= PHONE["width"], team
        assert height >= 10, team


def test_a_student_is_changed_by_touch_and_a_mistake_keeps_what_was_entered(phone, sample_school):
    phone.goto(f"{sample_school}/sections/period-3/roster")
    phone.get_by_role("link", name="Change S1-05").tap()
    phone.locator("#grade").fill("ninety")
    phone.locator("#team").fill("T06")
    phone.get_by_role("button", name="Save S1-05").tap()
    phone.locator(".error-summary").wait_for()
    assert phone.input_value("#grade") == "ninety"
    assert phone.input_value("#team") == "T06"

    phone.locator("#grade").fill("9")
    phone.get_by_role("button", name="Save S1-05").tap()
    phone.get_by_text("S1-05 is saved.").wait_for()
    row = phone.locator("tr", has=phone.get_by_role("rowheader", name="S1-05"))
    assert "T06" in row.inner_text()


def test_one_tap_records_a_step_and_the_page_stays_where_it_is(phone):
    bench = open_bench(phone, hold=False)
    name = bench.get_attribute("id")
    address = phone.url
    bench.get_by_role("button", name="Done").tap()
    phone.locator(f"#{name} .record-line").wait_for()

    assert phone.url == address
    assert "Done Mon 1 Mar" in phone.inner_text(f"#{name}")
    phone.locator(f"#{name}").get_by_role("button", name="Undo").tap()
    phone.locator(f"#{name} form.record").wait_for()
    assert phone.locator(f"#{name} .record-line").count() == 0


def tick_and_send(page, box):
    """By keyboard: tick a box and press the button after it."""
    page.locator(box).focus()
    for key in ("Space", "Tab", "Enter"):
        page.keyboard.press(key)


def test_a_hold_point_by_keyboard_alone_with_a_doubtful_reading(phone):
    bench = open_bench(phone, hold=True)
    name = bench.get_attribute("id")
    bench.locator("[name=reading]").focus()
    phone.keyboard.type("7")
    phone.keyboard.press("Tab")
    phone.keyboard.type("AR")
    phone.keyboard.press("Enter")
    phone.locator(f"#{name} [name=confirmed]").wait_for()
    assert phone.input_value(f"#{name} [name=reading]") == "7"
    assert phone.input_value(f"#{name} [name=initials]") == "AR"

    tick_and_send(phone, f"#{name} [name=confirmed]")
    phone.locator(f"#{name} [name=go-on]").wait_for()
    assert "is kept and is out of its limits" in phone.inner_text(f"#{name} [role=alert]")
    assert phone.input_value(f"#{name} [name=reading]") == ""

    tick_and_send(phone, f"#{name} [name=go-on]")
    phone.locator(f"#{name} .record-line").wait_for()

    assert "checked by AR: Went on with 7, out of limits." in phone.inner_text(f"#{name}")


def test_a_second_enter_undoes_nothing_and_enter_in_a_note_records_nothing(phone):
    bench = open_bench(phone, hold=False)
    name = bench.get_attribute("id")
    bench.locator("summary").tap()
    bench.locator("[name=note]").fill("tear-out")
    bench.locator("[name=note]").press("Enter")
    bench.locator("[name=note]").type("near the edge")
    bench.get_by_role("button", name="Done").focus()
    phone.keyboard.press("Enter")
    phone.locator(f"#{name} .record-line").wait_for()
    phone.locator(f"#{name} p.said").wait_for()
    assert phone.evaluate("document.activeElement.id") == name
    phone.keyboard.press("Enter")

    phone.reload()
    assert phone.locator(f"#{name} .record-line").count() == 1
    assert "A. Rowan: tear-out near the edge" in phone.inner_text(f"#{name} .record-line")


def test_a_form_of_an_older_sign_in_is_saved_with_the_new_one(phone):
    bench = open_bench(phone, hold=False)
    name = bench.get_attribute("id")
    # What a new sign-in in another tab, or a restart of the program, does to an open page.
    phone.evaluate(
        "document.querySelectorAll('[name=csrf_token]').forEach(f => { f.value = 'old'; })"
    )
    with phone.expect_request_finished(lambda request: request.method == "GET"):
        bench.get_by_role("button", name="Done").tap()
    phone.locator(f"#{name} .record-line").wait_for()


def test_a_link_within_the_page_and_another_teams_save_leave_what_a_refusal_kept(phone):
    bench = open_bench(phone, hold=True)
    name = bench.get_attribute("id")
    bench.locator("[name=reading]").fill("0.04")
    bench.get_by_role("button", name="Done").tap()
    phone.locator(f"#{name} [role=alert]").wait_for()
    assert phone.evaluate("document.activeElement.name") == "initials"
    phone.get_by_role("link", name="Record the meeting").tap()
    other = open_bench(phone, hold=False)
    id_ = other.get_attribute("id")
    other.get_by_role("button", name="Done").tap()
    phone.locator(f"#{id_} .record-line").wait_for()

    assert phone.input_value(f"#{name} [name=reading]") == "0.04"
    assert "enter the initials" in phone.inner_text(f"#{name} [role=alert]")


def test_what_is_half_entered_is_not_left_behind_without_a_word(phone):
    bench = open_bench(phone, hold=True)
    bench.locator("[name=initials]").fill("ZZ")
    phone.locator("#meeting [value=lost]").tap()
    phone.locator("#meeting .said.failed").wait_for()

    assert "Something is entered and not saved yet" in phone.inner_text("#meeting .said")
    assert phone.url.endswith("/today")


def test_a_typed_list_is_shown_before_it_counts_and_another_forms_save_does_not_wipe_it(
    phone, sample_school
):
    phone.goto(f"{sample_school}/sections/period-3/roster")
    codes = phone.get_by_label("Or type codes")
    codes.fill("S1-01")
    phone.get_by_role("button", name="Save the date").tap()
    phone.locator(".said.failed").wait_for()
    assert "Something is entered and not saved yet" in phone.inner_text(".said.failed")
    assert codes.input_value() == "S1-01"

    phone.get_by_role("button", name="See what would change").tap()
    phone.get_by_role("heading", name="What this list would change").wait_for()
    assert "0 added, 0 changed, 1 as they are" in phone.inner_text("main")


def test_the_marks_are_on_their_print(phone, sample_school):
    phone.goto(f"{sample_school}/sections/period-3/marks")
    phone.emulate_media(media="print")
    assert phone.locator("table.marks").is_visible()
    assert not phone.get_by_role("button", name="Save the marks").is_visible()
    phone.goto(f"{sample_school}/sections/period-3/sign-offs")
    assert not phone.get_by_label("Observed by").is_visible()


def test_marks_that_cannot_be_saved_stay_and_are_saved_later(phone, sample_school):
    phone.goto(f"{sample_school}/sections/period-3/marks?artifact=exit+question")
    cell = phone.locator("table.marks input:not([type=hidden])").first
    cell.fill("8.5")
    phone.route("**/marks*", lambda route: route.abort())
    phone.get_by_role("button", name="Save the marks").tap()
    phone.locator(".said.failed").wait_for()
    assert cell.input_value() == "8.5"

    phone.unroute("**/marks*")
    phone.get_by_role("button", name="Save the marks").tap()
    phone.locator(".messages", has_text="1 mark saved.").wait_for()
    assert phone.locator("table.marks input:not([type=hidden])").first.input_value() == "8.5"


def test_a_save_that_fails_keeps_what_was_entered_and_says_so(phone):
    bench = open_bench(phone, hold=True)
    name = bench.get_attribute("id")
    bench.locator("[name=reading]").fill("0.03")
    bench.locator("[name=initials]").fill("AR")
    phone.route("**/steps/**", lambda route: route.abort())
    bench.get_by_role("button", name="Done").tap()
    phone.locator(f"#{name} .said.failed").wait_for()

    assert "What you entered is still here" in phone.inner_text(f"#{name} .said")
    assert phone.input_value(f"#{name} [name=reading]") == "0.03"
    phone.unroute("**/steps/**")
    bench.get_by_role("button", name="Done").tap()
    phone.locator(f"#{name} .record-line").wait_for()


def test_marking_who_is_away_leaves_a_half_filled_form_alone(phone):
    bench = open_bench(phone, hold=True)
    name = bench.get_attribute("id")
    bench.locator("[name=reading]").fill("0.02")
    phone.locator("details.away summary").tap()
    phone.locator("details.away [name=away]").first.check()
    phone.get_by_role("button", name="Save who is away").tap()
    phone.locator("details.away summary", has_text="S1-01").wait_for()

    assert phone.input_value(f"#{name} [name=reading]") == "0.02"


def test_the_day_runs_without_script_too(chromium, sample_school, signed_in_state):
    context = chromium.new_context(
        viewport=PHONE, java_script_enabled=False, storage_state=signed_in_state
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.goto(f"{sample_school}/sections/period-3/today")
    form = page.locator("form.record", has=page.locator("[name=initials]")).first
    form.locator("[name=reading]").fill("0.04")
    form.get_by_role("button", name="Done").click()

    assert "enter the initials of who checked" in page.inner_text(".error-summary")
    assert page.locator("[name=reading][value='0.04']").count() == 1
    context.close()
