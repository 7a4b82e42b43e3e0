"""The builds, the workshop and the frameworks that come with the program.

Minutes, waits and costs of the builds are invented estimates: the figures below are copies that
keep a slip of the pen from changing a plan, not measurements.
"""

import csv
import math
from functools import cache
from pathlib import Path

import pytest

from app.domain.calculators.fret_positions import steps_of
from app.interchange.files import read_file
from app.interchange.library_file import BuildEntry, FrameworkEntry, StepEntry, Workshop

ROOT = Path(__file__).resolve().parents[2]
SEED = ROOT / "seed_data"
BUILD_KEYS = ("six-string-solid-body", "tenor-ukulele", "three-string-box", "mountain-dulcimer")
FRAMEWORK_FILES = ("ccss-m", "ngss", "course-outcomes")
HAZARDOUS = {"edge", "machine", "severe-machine", "heat", "chemical"}
CONCEPT_KEYS = """
    reading-a-ruler fractional-lengths unit-conversion accuracy-and-tolerance ratio percent
    scale-drawing area-and-volume circles-and-arcs angles-and-squareness right-triangles
    geometric-sequence logarithms-and-cents linear-functions rearranging-formulas roots-and-powers
    scientific-notation periodic-functions symmetry-and-coordinates measurement-statistics
    fitting-a-model chance-and-spares cost-and-budget vibration-and-sound wave-model
    waves-on-a-string harmonics string-tension sound-in-materials sound-level-and-hearing
    energy-transfer forces-and-pressure magnetism-and-induction electric-circuits tone-filters
    density stiffness-and-structure wood-and-moisture drying-and-curing cutting-speed
    defining-the-problem comparing-solutions fair-tests systems-and-stack-up safe-tool-use
    technical-communication history-of-temperament tone-woods-and-trade instruments-and-cultures
"""
CONCEPTS = set(CONCEPT_KEYS.split())
PRACTICES = {
    "ccss-m": {f"MP{number}" for number in range(1, 9)},
    "ngss": {f"SEP{number}" for number in range(1, 9)} | {f"CCC{number}" for number in range(1, 8)},
}


@cache
def workshop() -> Workshop:
    content = read_file(SEED / "builds" / "workshop.toml")
    assert isinstance(content, Workshop)
    return content


@cache
def build(key: str) -> BuildEntry:
    content = read_file(SEED / "builds" / f"{key}.toml")
    assert isinstance(content, BuildEntry)
    return content


@cache
def framework(name: str) -> FrameworkEntry:
    content = read_file(SEED / "frameworks" / f"{name}.toml")
    assert isinstance(content, FrameworkEntry)
    return content


def steps(key: str) -> dict[str, StepEntry]:
    return {step.key: step for step in build(key).steps}


@cache
def before(key: str) -> dict[str, frozenset[str]]:
    """Every step that must be done before each step, near and far."""
    found: dict[str, frozenset[str]] = {}
    for step in build(key).steps:
        found[step.key] = frozenset(step.after).union(*(found[other] for other in step.after))
    return found


def sums(key: str) -> tuple[float, float, float]:
    inside = [step.minutes for step in build(key).steps if not step.outside_class]
    return (
        sum(minutes.low for minutes in inside),
        sum(minutes.typical for minutes in inside),
        sum(minutes.high for minutes in inside),
    )


def every_step() -> list[tuple[str, StepEntry]]:
    return [(key, step) for key in BUILD_KEYS for step in build(key).steps]


# --- references and network ----------------------------------------------------------------------


def test_no_other_file_lies_among_the_builds_and_frameworks() -> None:
    assert {path.stem for path in (SEED / "builds").iterdir()} == {"workshop", *BUILD_KEYS}
    assert {path.stem for path in (SEED / "frameworks").iterdir()} == set(FRAMEWORK_FILES)


def test_file_and_build_have_the_same_key() -> None:
    assert [build(key).key for key in BUILD_KEYS] == list(BUILD_KEYS)


@pytest.mark.parametrize("key", BUILD_KEYS)
def test_steps_name_only_what_the_workshop_has(key: str) -> None:
    shop = workshop()
    stations = {item.key for item in shop.stations}
    fixtures = {item.key for item in shop.fixtures}
    permits = {item.key for item in shop.permits}
    materials = {item.key for item in shop.materials}
    for step in build(key).steps:
        assert step.station in stations, step.key
        assert {hold.fixture for hold in step.holds} <= fixtures, step.key
        assert {step.permit, *step.grants} - {None} <= permits, step.key
        assert {item.material for item in step.materials} <= materials, step.key


def test_stations_name_known_permits() -> None:
    permits = {item.key for item in workshop().permits}
    assert {station.permit for station in workshop().stations} - {None} <= permits


@pytest.mark.parametrize("key", BUILD_KEYS)
def test_the_listing_is_an_order_in_which_the_build_can_be_made(key: str) -> None:
    seen: set[str] = set()
    for step in build(key).steps:
        assert set(step.after) <= seen, step.key
        seen.add(step.key)


@pytest.mark.parametrize("key", BUILD_KEYS)
def test_only_the_start_and_the_end_of_a_build_hang_loose(key: str) -> None:
    listed = build(key).steps
    assert [step.key for step in listed if not step.after] == [listed[0].key]
    followed = {other for step in listed for other in step.after}
    loose = {step.key for step in listed} - followed
    last_phase = {step.key for step in build(key).phases[-1].steps}
    assert loose <= last_phase


@pytest.mark.parametrize("key", BUILD_KEYS)
def test_every_sign_off_a_step_needs_is_granted_before_it(key: str) -> None:
    needs = {station.key: station.permit for station in workshop().stations}
    by_key = steps(key)
    for step in build(key).steps:
        needed = {step.permit, needs[step.station]} - {None}
        if step.grants:
            # An observed check-out happens at the machine it signs the student off for.
            needed = {step.permit} - {None} - set(step.grants)
        granted = {permit for other in before(key)[step.key] for permit in by_key[other].grants}
        assert needed <= granted, step.key


@pytest.mark.parametrize("key", BUILD_KEYS)
def test_places_fit_the_station_and_held_fixtures_fit_the_shop(key: str) -> None:
    places = {station.key: station.places for station in workshop().stations}
    fixtures = {fixture.key: fixture.count for fixture in workshop().fixtures}
    for step in build(key).steps:
        assert step.places <= places[step.station], step.key
        assert all(hold.count <= fixtures[hold.fixture] for hold in step.holds), step.key
        for hold in step.holds:
            assert (hold.hours is None) != (hold.until_step is None), step.key
            if hold.until_step:
                assert step.key in before(key)[hold.until_step]


# --- what a step shows ---------------------------------------------------------------------------


def test_every_step_shows_something_of_a_known_concept() -> None:
    for key, step in every_step():
        assert step.exposures, (key, step.key)
        assert {item.concept for item in step.exposures} <= CONCEPTS, (key, step.key)
        named = [item.concept for item in step.exposures]
        assert len(named) == len(set(named)), (key, step.key)
        assert all(item.reading for item in step.exposures), (key, step.key)


def test_no_two_steps_of_any_build_show_the_same_in_the_same_words() -> None:
    said = [item.shows.casefold() for _, step in every_step() for item in step.exposures]
    assert len(said) == len(set(said))


def test_every_concept_shows_in_some_build() -> None:
    assert {item.concept for _, step in every_step() for item in step.exposures} == CONCEPTS


@pytest.mark.parametrize("key", BUILD_KEYS)
def test_quantities_recorded_or_shown_have_a_nominal_value(key: str) -> None:
    listed = {quantity.key for quantity in build(key).quantities}
    for step in build(key).steps:
        shown = {item.quantity for item in step.exposures}
        recorded = {step.check.quantity} if step.check else set()
        assert (shown | recorded) - {None} <= listed, step.key


def test_every_hold_point_ends_in_a_check() -> None:
    for key, step in every_step():
        if step.hold_point:
            assert step.check is not None, (key, step.key)
            assert step.check.if_out, (key, step.key)


# --- safety --------------------------------------------------------------------------------------


def test_hazardous_steps_have_caution_protection_and_more_than_an_adult_in_the_room() -> None:
    for key, step in every_step():
        if step.hazard_class in HAZARDOUS:
            assert step.cautions, (key, step.key)
            assert step.hazards or step.outside_class, (key, step.key)
            assert "eyes" in step.protection, (key, step.key)
            assert step.supervision != "in-room", (key, step.key)


def test_steps_at_severe_machines_have_an_adult_at_the_machine_or_are_done_by_one() -> None:
    for key, step in every_step():
        if step.hazard_class == "severe-machine":
            assert step.supervision in {"at-the-machine", "adult-only"}, (key, step.key)
            assert not step.substitute_safe


def test_stations_at_85_dba_or_more_ask_for_hearing_protection() -> None:
    # 29 CFR 1910.95(c): the action level is an eight-hour average of 85 dBA.
    loud = {s.key for s in workshop().stations if s.level_dba is not None and s.level_dba >= 85}
    assert loud == {"bandsaw", "beltdisc", "router", "rtable", "adult"}
    for key, step in every_step():
        if step.station in loud:
            assert "hearing" in step.protection, (key, step.key)
            assert any("1910.95" in caution.source for caution in step.cautions), (key, step.key)


def test_finishing_steps_ask_for_gloves_and_machine_steps_never_do() -> None:
    for key, step in every_step():
        assert ("gloves" in step.protection) == (step.station == "finish"), (key, step.key)


def test_woodworking_machines_cite_the_public_rule() -> None:
    # 29 CFR 1910.213 is the federal rule for guarding of woodworking machinery.
    for key, step in every_step():
        if step.station in {"bandsaw", "adult"}:
            assert any("1910.213" in caution.source for caution in step.cautions), (key, step.key)


def test_wood_and_metal_dust_is_met_with_protection_and_a_public_source() -> None:
    # NIOSH recommended exposure limit for wood dust, 1 mg/m3; 29 CFR 1910.242(b) on compressed air.
    dusty = [(key, s) for key, s in every_step() if {"wood dust", "metal dust"} & set(s.hazards)]
    assert len(dusty) > 15
    for key, step in dusty:
        assert "dust" in step.protection, (key, step.key)
        assert any(
            "wood dust" in caution.source or "1910.242(b)" in caution.source
            for caution in step.cautions
        ), (key, step.key)


def test_a_substitute_never_runs_a_machine() -> None:
    safe = {station.key: station.substitute_safe for station in workshop().stations}
    for key, step in every_step():
        if step.hazard_class in {"machine", "severe-machine", "heat"}:
            assert not step.substitute_safe, (key, step.key)
            assert not safe[step.station], (key, step.key)


def test_the_box_needs_no_machine_of_a_student_and_no_material_barred_from_grades_k_to_6() -> None:
    # 15 U.S.C. 1277: art materials that need a chronic-hazard label are not for grades K-6.
    barred = {item.key for item in workshop().materials if (item.lowest_grade or 0) > 6}
    assert {"m-solder", "m-ca", "m-finish", "m-seal"} <= barred
    box = build("three-string-box")
    assert not {item.material for step in box.steps for item in step.materials} & barred
    by_students = {step.station for step in box.steps if not step.outside_class}
    assert by_students == {"class", "layout", "bench", "glue"}
    coated = [step for step in box.steps if step.hazard_class == "chemical"]
    assert coated
    assert all(any("1277" in caution.source for caution in step.cautions) for step in coated)


def test_cautions_never_speak_of_permission() -> None:
    for key, step in every_step():
        words = " ".join(
            [step.title, step.purpose, step.catch_up, *(c.text for c in step.cautions)]
        )
        assert "allowed" not in words.casefold(), (key, step.key)
        assert "permitted" not in words.casefold(), (key, step.key)


def test_drying_steps_state_conditions_and_coats_defer_to_the_label() -> None:
    for key, step in every_step():
        if step.drying is not None:
            assert step.drying.conditions, (key, step.key)
            if step.station == "finish" or {"m-glue", "m-ca"} & {
                m.material for m in step.materials
            }:
                assert "label" in step.drying.conditions, (key, step.key)


# --- building order ------------------------------------------------------------------------------


def test_milestones_of_the_electric_guitar_run_in_their_order() -> None:
    # Common practice, no source.
    assert [phase.key for phase in build("six-string-solid-body").phases] == [
        "orientation",
        "stock-and-blank",
        "body-shaping",
        "neck-and-fretboard",
        "fretting",
        "finish",
        "wiring",
        "assembly",
        "set-up",
        "acceptance",
    ]


@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        ("E08", "E14"),  # stock chosen, body sawn
        ("E18", "E32"),  # body shaped, sealed
        ("E30", "E32"),  # body smoothed, sealed
        ("E17", "E32"),  # body drilled before its finish
        ("E20", "E21"),  # slots while the board's sides are parallel, then the taper
        ("E20", "E25"),  # slots while the board is flat, then the radius
        ("E22", "E24"),  # fretboard on, neck shaped
        ("E25", "E27"),  # radius, then frets
        ("E24", "E29"),  # neck shaped, then frets levelled
        ("E27", "E29"),  # frets in, then levelled
        ("E29", "E46"),  # neck fretted, then joined
        ("E36", "E41"),  # last coat, then rubbed out
        ("E40", "E41"),  # cured, then rubbed out
        ("E41", "E47"),  # body finished, then joined
        ("E44", "E47"),  # electronics soldered, then neck and body joined
        ("E47", "E48"),  # joined, then the bridge located
        ("E48", "E49"),  # bridge located, then its holes drilled and hardware mounted
        ("E45", "E49"),  # string ground laid, then the bridge over it
        ("E49", "E50"),  # hardware mounted, then strung
        ("E50", "E51"),  # strung, then nut
        ("E51", "E52"),  # nut, then saddle height
        ("E52", "E53"),  # height, then intonation last
    ],
)
def test_the_electric_guitar_is_made_in_the_order_of_the_trade(earlier: str, later: str) -> None:
    # Common practice, no source.
    assert earlier in before("six-string-solid-body")[later]


def test_intonation_is_the_last_of_every_set_up() -> None:
    # Common practice, no source.
    last = {
        "six-string-solid-body": "E53",
        "tenor-ukulele": "U46",
        "mountain-dulcimer": "D37",
    }
    for key, step in last.items():
        phase = next(p for p in build(key).phases if step in {s.key for s in p.steps})
        assert phase.steps[-1].key == step
        assert {s.key for s in phase.steps[:-1]} <= before(key)[step]


def test_a_panel_is_planed_jointed_square_glued_left_overnight_planed_and_sanded() -> None:
    # Common practice, no source.
    electric = steps("six-string-solid-body")
    planed, jointed, glued, again = (electric[key] for key in ("E09", "E10", "E11", "E12"))
    assert jointed.after[0] == planed.key
    assert glued.after == [jointed.key]
    assert again.after == [glued.key]
    assert planed.title.startswith("Plane the faces")
    assert jointed.check is not None
    assert "90°" in jointed.check.record_as
    assert glued.drying is not None
    assert glued.drying.hours.low >= 12
    assert again.title.startswith("Plane the glued blank again and sand it to thickness")


@pytest.mark.parametrize(
    ("key", "earlier", "later"),
    [
        ("tenor-ukulele", "U12", "U11"),  # sound hole while the plate is square
        ("tenor-ukulele", "U14", "U15"),  # braces glued, then carved
        ("tenor-ukulele", "U21", "U22"),  # back, inside check, top
        ("tenor-ukulele", "U33", "U30"),  # fretboard on, then frets levelled
        ("tenor-ukulele", "U30", "U34"),  # frets dressed before the finish
        ("tenor-ukulele", "U39", "U42"),  # film cured, then the bridge glued
        ("three-string-box", "B10", "B21"),  # edges sanded before the lid closes
        ("three-string-box", "B17", "B20"),  # lines drawn before the neck is fixed
        ("three-string-box", "B26", "B27"),  # nut and saddle, then strings
        ("mountain-dulcimer", "D10", "D12"),  # slots, then frets
        ("mountain-dulcimer", "D16", "D22"),  # fretboard on the soundboard before the box closes
        ("mountain-dulcimer", "D22", "D25"),  # box closed, then frets levelled
        ("mountain-dulcimer", "D24", "D28"),  # large holes before the finish
        ("mountain-dulcimer", "D31", "D32"),  # cured, then rubbed
    ],
)
def test_the_other_instruments_are_made_in_the_order_of_the_trade(
    key: str, earlier: str, later: str
) -> None:
    # Common practice, no source.
    assert earlier in before(key)[later]


def test_the_ukulele_rim_keeps_its_mould_until_the_top_is_on() -> None:
    # Common practice, no source.
    ukulele = steps("tenor-ukulele")
    (hold,) = [hold for hold in ukulele["U18"].holds if hold.fixture == "mould"]
    assert hold.until_step == "U22"
    between = [ukulele[key] for key in ("U19", "U20", "U21")]
    assert not [hold for step in between for hold in step.holds if hold.fixture == "mould"]


def test_the_dulcimer_has_no_neck_joint_and_nothing_bent() -> None:
    used = {step.station for step in build("mountain-dulcimer").steps}
    assert "bend" not in used
    assert not any("neck" in step.title.casefold() for step in build("mountain-dulcimer").steps)


def test_the_dulcimer_frets_follow_the_diatonic_pattern() -> None:
    # Whole and half steps from the open string, 2 2 1 2 2 1 2, with 6 1/2 a semitone above 6:
    # common practice, no source.
    own = {quantity.key: quantity for quantity in build("mountain-dulcimer").quantities}
    semitones = [
        step for _, step in steps_of(own["fret_pattern"].nominal, int(own["frets"].nominal))
    ]
    assert (own["fret_pattern"].note or "").endswith(" ".join(map(str, semitones)))
    assert [step for step in semitones if step <= 12] == [2, 4, 5, 7, 9, 10, 11, 12]
    assert semitones[8:] == [step + 12 for step in (2, 4, 5, 7, 9, 10, 12)]


# --- figures -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "count", "minutes", "outside", "holds", "safe"),
    [
        # Invented estimates, copied.
        ("six-string-solid-body", 57, (1134, 1668, 2614), 20, 15, 22),
        ("tenor-ukulele", 50, (1062, 1566, 2375), 27, 13, 18),
        ("three-string-box", 32, (554, 811, 1170), 8, 6, 20),
        ("mountain-dulcimer", 40, (772, 1171, 1727), 12, 10, 15),
    ],
)
def test_totals_are_the_invented_estimates(
    key: str, count: int, minutes: tuple[int, int, int], outside: int, holds: int, safe: int
) -> None:
    listed = build(key).steps
    assert len(listed) == count
    assert sums(key) == minutes
    assert sum(step.minutes.typical for step in listed if step.outside_class) == outside
    assert sum(step.hold_point for step in listed) == holds
    assert sum(step.substitute_safe for step in listed) == safe


def test_minutes_at_the_machine_and_in_sight_of_one_electric_team_are_the_estimates() -> None:
    # Invented estimates, copied: 70 minutes at the machine, 279 in line of sight.
    listed = build("six-string-solid-body").steps
    # Observed check-outs are one student after another, and a team has two.
    by_level = {
        level: sum(
            step.minutes.typical * (2 if step.minutes_per == "student" else 1)
            for step in listed
            if step.supervision == level
        )
        for level in ("at-the-machine", "line-of-sight")
    }
    assert by_level == {"at-the-machine": 70, "line-of-sight": 279}


# Five-minute ticks of work and of the shortest sitting for steps E01 to E57 of the trial
# instance of the sample section: invented estimates, copied. Work outside class takes no ticks.
TICKS = (
    "10/2 8/2 2/1 2/2 7/2 9/2 18/2 4/2 0/2 5/2 5/5 0/2 4/2 4/2 6/2 8/4 4/2 9/2 4/2 8/2 5/2 5/5 "
    "5/2 18/2 6/2 4/2 10/2 5/2 12/2 12/2 4/2 3/2 3/2 3/2 3/2 3/2 7/2 3/2 3/2 1/1 6/2 7/2 6/2 "
    "12/2 7/2 5/2 4/2 5/2 6/2 6/2 7/2 3/2 5/2 6/2 15/2 3/2 4/2"
)
DRYING_HOURS = "E11=24 E22=24 E26=1 E31=2 E32=3 E33=3 E34=3 E35=3 E36=3 E38=3 E39=24 E40=120 E50=24"


def test_the_electric_build_has_the_ticks_of_the_trial_instance() -> None:
    listed = build("six-string-solid-body").steps
    found = [
        f"{0 if step.outside_class else math.ceil(step.minutes.typical / 5)}"
        f"/{math.ceil(step.minimum_sitting / 5)}"
        for step in listed
    ]
    assert found == TICKS.split()
    assert [
        f"{step.key}={step.drying.hours.typical:g}" for step in listed if step.drying is not None
    ] == DRYING_HOURS.split()
    assert [step.key for step in listed if step.one_sitting] == ["E11", "E22"]


def longest_chain_of_waits(key: str) -> int:
    """Waits of two hours or more, one after another, on the worst way through the network."""
    waits: dict[str, int] = {}
    for step in build(key).steps:
        own = step.drying is not None and step.drying.hours.typical >= 2
        waits[step.key] = own + max((waits[other] for other in step.after), default=0)
    return max(waits.values())


@pytest.mark.parametrize(
    ("key", "waits"),
    [
        # Invented estimates, copied; the dulcimer's "about 8-9 waits" likewise.
        ("six-string-solid-body", 9),
        ("tenor-ukulele", 13),
        ("three-string-box", 4),
        ("mountain-dulcimer", 9),
    ],
)
def test_nights_of_waiting_on_the_longest_chain(key: str, waits: int) -> None:
    assert longest_chain_of_waits(key) == waits


@pytest.mark.parametrize(
    ("key", "low", "high"),
    [
        # Invented estimates in US dollars, copied, without spares.
        ("six-string-solid-body", 155.25, 394.76),
        ("tenor-ukulele", 70.62, 181.51),
        ("three-string-box", 14.63, 36.35),
        ("mountain-dulcimer", 45.84, 107.72),
    ],
)
def test_materials_of_one_instrument_cost_the_estimate(key: str, low: float, high: float) -> None:
    prices = {item.key: item for item in workshop().materials}
    used = [item for step in build(key).steps for item in step.materials]
    assert sum(prices[i.material].cost_low * i.quantity for i in used) == pytest.approx(
        low, abs=0.01
    )
    assert sum(prices[i.material].cost_high * i.quantity for i in used) == pytest.approx(
        high, abs=0.01
    )


def test_adult_minutes_of_an_electric_with_cavities_and_outline_supplied() -> None:
    # Invented estimates, copied: 20 minutes as it stands, 78 with outline and cavities moved out.
    electric = steps("six-string-solid-body")
    moved = [
        next(way.adult_minutes for way in electric[key].ready_made if way.by == "adult")
        for key in ("E14", "E16")
    ]
    outside = sum(s.minutes.typical for s in electric.values() if s.outside_class)
    assert (outside, outside + sum(moved)) == (20, 78)


def test_every_ready_made_choice_says_what_is_lost() -> None:
    ways = [(key, step.key, way) for key, step in every_step() for way in step.ready_made]
    assert {key for key, _, _ in ways} == set(BUILD_KEYS)
    for key, step_key, way in ways:
        free = way.adult_minutes == way.cost == 0
        assert free == (way.by == "left-out"), (key, step_key)
        assert way.loses, (key, step_key)


def test_box_strings_of_three_gauges_are_pulled_alike() -> None:
    # T = mu (2 L f)^2, OpenStax University Physics 1, section 16.3 and 16.6; plain steel of
    # 7850 kg/m3; G3, D4, G4 at A4 = 440 Hz (ISO 16:1975). About 68 N each: invented estimate.
    hertz = {"G3": 195.998, "D4": 293.665, "G4": 391.995}
    tensions = [
        7850
        * math.pi
        / 4
        * (float(string.diameter.removesuffix(" in")) * 0.0254) ** 2
        * (2 * 0.584 * hertz[string.note]) ** 2
        for string in build("three-string-box").strings
    ]
    assert tensions == pytest.approx([68, 68, 68], abs=1)


# --- frameworks ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "count"), [("ccss-m", 517), ("ngss", 223)])
def test_codes_grades_and_domains_are_those_of_the_published_lists(name: str, count: int) -> None:
    # Published lists: CCSSI identifiers file and the Achievement Standards Network's export for
    # mathematics; the performance expectations at nextgenscience.org for science.
    content = framework(name)
    assert len(content.standards) == count
    with (ROOT / "tests" / "domain" / "standard_codes.csv").open(encoding="utf-8") as file:
        published = {
            row["code"]: (row["grade_low"], row["grade_high"], row["domain"])
            for row in csv.DictReader(file)
        }
    known = {s.code: (s.grade_low, s.grade_high, s.domain) for s in content.standards}
    assert PRACTICES[name] <= known.keys()
    for practice in PRACTICES[name]:
        assert known.pop(practice)[:2] == ("K", "12")
    assert known.items() <= published.items()


def test_both_frameworks_together_have_every_published_code() -> None:
    with (ROOT / "tests" / "domain" / "standard_codes.csv").open(encoding="utf-8") as file:
        published = {row["code"] for row in csv.DictReader(file)}
    held = {s.code for name in ("ccss-m", "ngss") for s in framework(name).standards}
    assert held == published | PRACTICES["ccss-m"] | PRACTICES["ngss"]


def test_frameworks_carry_the_notices_their_licences_ask_for() -> None:
    # CCSS public licence; trademark guidelines for the science standards.
    assert (
        "© Copyright 2010. National Governors Association Center for Best Practices and Council of "
        "Chief State School Officers. All rights reserved."
    ) in framework("ccss-m").notice
    notice = framework("ngss").notice
    assert "is a registered trademark of WestEd" in notice
    assert "do not endorse it" in notice
    assert "Washington, DC: The National Academies Press" in notice


def test_no_wording_of_a_standard_is_shipped() -> None:
    allowed = ("", "marked", "within")
    for name in ("ccss-m", "ngss"):
        for standard in framework(name).standards:
            first = standard.note.split(" ")[0]
            assert first in allowed, standard.code


def test_course_outcomes_are_ten_of_our_own_for_the_college_grade() -> None:
    content = framework("course-outcomes")
    assert content.key == "COLLEGE-OUTCOMES"
    assert [standard.code for standard in content.standards] == [f"ES-{n}" for n in range(1, 11)]
    assert all(standard.note and standard.grade_low == "13" for standard in content.standards)
