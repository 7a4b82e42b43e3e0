"""Kit lists: spares against SciPy's binomial distribution, dates worked by hand across holidays."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from app.domain.kit.kit_batches import AdultTask, BatchClass, ReadyMadePart, batch_of
from app.domain.kit.kit_quantities import (
    BillLine,
    ClassSize,
    KitError,
    Per,
    Purchasing,
    WorkEvent,
    arrival,
    kit_list,
    material_use,
    order_by,
    spares_for,
)

PART = BillLine("nut", "Nut blank", "ea", 1, loss_rate=0.25, cost_low=2, cost_high=4)
CLASS = ClassSize(instruments=11, students=22)


# --- spares: SciPy, and the binomial table worked by hand ----------------------------------------


@given(
    count=st.integers(0, 700),
    rate=st.floats(0.001, 0.999),
    assurance=st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99, 0.999]),
)
def test_spares_are_the_quantile_of_the_binomial_in_scipy(count, rate, assurance):
    # SciPy: scipy.stats.binom; at a probability equal to the assurance in all but rounding, the
    # neighbour is as right.
    found = spares_for(count, rate, assurance)
    assert stats.binom.cdf(found, count, rate) >= assurance - 1e-9
    assert found == 0 or stats.binom.cdf(found - 1, count, rate) < assurance + 1e-9


@pytest.mark.parametrize(
    ("teams", "expected"), [(11, [1, 2, 3, 3, 4, 5, 5]), (13, [2, 2, 3, 3, 4, 5, 6])]
)
def test_spares_for_95_percent_follow_the_table_worked_by_hand(teams, expected):
    rates = (0.03, 0.05, 0.08, 0.10, 0.15, 0.20, 0.25)
    assert [spares_for(teams, rate) for rate in rates] == expected


def test_a_rate_of_zero_needs_no_spare_and_of_one_a_spare_for_each():
    assert spares_for(11, 0) == 0
    assert spares_for(11, 1) == 11
    assert spares_for(0, 0.5) == 0


@given(st.integers(1, 60), st.floats(0.01, 0.9))
def test_more_assurance_never_needs_fewer_spares(count, rate):
    assert spares_for(count, rate, 0.8) <= spares_for(count, rate, 0.95) <= count


@pytest.mark.parametrize(
    ("count", "rate", "assurance", "words"),
    [
        (-1, 0.1, 0.95, "0 or more"),
        (11, -0.1, 0.95, "from 0 to 1"),
        (11, 1.1, 0.95, "from 0 to 1"),
        (11, float("nan"), 0.95, "from 0 to 1"),
        (11, 0.1, 1.0, "between 0 and 1"),
        (11, 0.1, 0.0, "between 0 and 1"),
    ],
)
def test_odd_rates_are_refused_in_a_sentence(count, rate, assurance, words):
    with pytest.raises(KitError, match=words):
        spares_for(count, rate, assurance)


# --- quantities and cost, by hand ------------------------------------------------------------------


def test_a_line_counts_needed_spares_stock_and_what_is_short():
    # 11 nuts and 5 spares (table above), 4 on hand: 12 short, at 2 to 4 each.
    (line,) = kit_list([PART], CLASS, {"nut": 4}).lines
    assert (line.needed, line.spares, line.on_hand, line.short) == (11, 5, 4, 12)
    assert (line.cost_low, line.cost_high, line.currency) == (24, 48, "USD")


def test_enough_stock_leaves_nothing_short_and_nothing_to_order():
    (line,) = kit_list([replace(PART, needed_on=date(2027, 1, 5))], CLASS, {"nut": 16}).lines
    assert (line.short, line.order, line.cost_high, line.order_by) == (0, 0, 0, None)


def test_quantities_count_by_instrument_student_or_class():
    bill = [
        BillLine("wire", "Fret wire", "m", 1.6),
        BillLine("tape", "Tape", "m", 3, per=Per.STUDENT),
        BillLine("glue", "Glue", "bottle", 2, per=Per.CLASS),
    ]
    needed = {line.material: line.needed for line in kit_list(bill, CLASS).lines}
    assert needed == {"wire": 17.6, "tape": 66, "glue": 2}


def test_spares_of_a_measured_material_are_whole_shares_of_it():
    # 11 teams at 8 %: 3 losses of 1.6 m; 17.6 + 4.8 = 22.4 m, bought by the 5 m coil: 25 m.
    wire = BillLine("wire", "Fret wire", "m", 1.6, loss_rate=0.08, pack_size=5, cost_high=3)
    (line,) = kit_list([wire], CLASS).lines
    assert (line.losses_provided_for, line.spares, line.short, line.order) == (3, 4.8, 22.4, 25)
    assert line.cost_high == 75


def test_a_loss_may_take_less_than_the_whole_quantity():
    # Six tuners each, one lost at a time: 11 teams at 3 % provide for 1 loss.
    tuners = BillLine("tuner", "Tuner", "ea", 6, loss_rate=0.03, spare_quantity=1)
    (line,) = kit_list([tuners], CLASS).lines
    assert (line.needed, line.spares) == (66, 1)


def test_a_whole_number_of_packs_is_not_rounded_up_by_a_rounding_error():
    dowel = BillLine("dowel", "Dowel", "m", 0.1, pack_size=0.3)
    (line,) = kit_list([dowel], ClassSize(3, 6)).lines
    assert line.order == 0.3


def test_a_material_of_several_steps_is_one_line_on_its_earliest_date():
    bill = [
        replace(PART, loss_rate=0.0, needed_on=date(2027, 3, 1), phase="Strings"),
        replace(PART, loss_rate=0.0, needed_on=date(2027, 2, 1), phase="Neck"),
    ]
    (line,) = kit_list(bill, CLASS).lines
    assert line.needed == 22
    assert line.needed_on == date(2027, 2, 1)
    assert line.phases == ("Strings", "Neck")


def test_costs_are_summed_by_currency():
    bill = [
        BillLine("a", "A", "ea", 1, cost_low=1, cost_high=2),
        BillLine("b", "B", "ea", 1, cost_low=3, cost_high=5),
        BillLine("c", "C", "ea", 1, cost_low=1.1, cost_high=1.1, currency="EUR"),
    ]
    assert kit_list(bill, CLASS).costs == {"USD": (44, 77), "EUR": (12.1, 12.1)}


def test_a_class_of_none_needs_nothing():
    (line,) = kit_list([PART], ClassSize(0, 0)).lines
    assert (line.needed, line.spares, line.order) == (0, 0, 0)


# --- dates worked by hand ----------------------------------------------------------------------------
# Closed: Thursday 26 and Friday 27 November 2026, and 21 December to 1 January.

CLOSED = frozenset(
    [date(2026, 11, 26), date(2026, 11, 27)]
    + [date(2026, 12, d) for d in range(21, 32)]
    + [date(2027, 1, 1)]
)


def test_an_order_is_counted_back_over_weekends_a_holiday_and_approval():
    # Needed Tuesday 2026-12-15, there on Monday 14; 14 days of delivery: Monday 30 November;
    # 3 open days of approval: Wednesday 25, Tuesday 24, Monday 23 (26, 27 closed, 28, 29 weekend).
    path = Purchasing(approval_days=3, closed=CLOSED)
    assert order_by(date(2026, 12, 15), 14, path) == date(2026, 11, 23)


def test_an_order_whose_day_falls_in_the_break_is_placed_before_it():
    # Needed Tuesday 2027-01-05, there on Monday 4; 10 days back is 25 December, in the break that
    # began after Friday 18 December; two open days of approval: Thursday 17, Wednesday 16.
    path = Purchasing(approval_days=2, closed=CLOSED)
    assert order_by(date(2027, 1, 5), 10, path) == date(2026, 12, 16)


def test_without_lead_time_or_approval_it_is_the_open_day_before():
    assert order_by(date(2026, 11, 30), 0, Purchasing(closed=CLOSED)) == date(2026, 11, 25)


def test_arrival_counts_forward_the_same_way():
    # Asked on Wednesday 25 November, approved after 2 open days: Monday 30, Tuesday 1 December;
    # 20 days: Monday 21 December, in the break; the next open day is Monday 4 January.
    path = Purchasing(approval_days=2, closed=CLOSED)
    assert arrival(date(2026, 11, 25), 20, path) == date(2027, 1, 4)


@given(
    needed=st.dates(date(2026, 9, 1), date(2027, 6, 30)),
    lead=st.integers(0, 90),
    approval=st.integers(0, 10),
)
def test_the_order_by_date_is_the_last_date_on_which_an_order_comes_in_time(needed, lead, approval):
    path = Purchasing(approval_days=approval, closed=CLOSED)
    due = order_by(needed, lead, path)
    assert arrival(due, lead, path) < needed
    assert arrival(due + timedelta(days=1), lead, path) >= needed
    assert due.weekday() < 5
    assert due not in CLOSED


def test_a_late_order_says_when_it_arrives_and_which_phase_waits():
    part = replace(PART, lead_days=42, needed_on=date(2027, 1, 5), phase="Neck")
    path = Purchasing(today=date(2026, 12, 1), closed=CLOSED)
    (line,) = kit_list([part], CLASS, purchasing=path).lines
    # Monday 4 January less 42 days is Monday 23 November; from 1 December it is 12 January.
    assert line.order_by == date(2026, 11, 23)
    (said,) = line.sentences
    assert said == (
        "Nut blank should have been ordered by Mon 23 Nov for Tue 5 Jan; ordered today it "
        "arrives on Tue 12 Jan, and Neck waits."
    )


def test_a_lead_time_beyond_the_term_is_said():
    part = replace(PART, lead_days=200, needed_on=date(2027, 4, 1), phase="Neck")
    path = Purchasing(today=date(2026, 12, 1), term_ends=date(2027, 5, 14))
    (line,) = kit_list([part], CLASS, purchasing=path).lines
    assert "after the term ends on Fri 14 May" in line.sentences[0]
    assert "and Neck waits" in line.sentences[0]


def test_an_order_in_time_has_no_remark():
    part = replace(PART, lead_days=14, needed_on=date(2027, 4, 1))
    path = Purchasing(today=date(2026, 12, 1), term_ends=date(2027, 5, 14))
    assert kit_list([part], CLASS, purchasing=path).sentences == ()


def test_lines_come_in_the_order_they_must_be_ordered():
    later = replace(PART, material="z", needed_on=date(2027, 3, 1))
    sooner = replace(PART, material="y", needed_on=date(2027, 2, 1))
    undated = replace(PART, material="a")
    assert [k.material for k in kit_list([undated, later, sooner], CLASS).lines] == ["y", "z", "a"]


# --- bad input ------------------------------------------------------------------------------------


def test_a_loss_rate_of_one_is_remarked_on():
    (line,) = kit_list([replace(PART, loss_rate=1.0)], CLASS).lines
    assert line.spares == 11
    assert "every team spoils one" in line.sentences[0]


def test_a_material_not_for_the_grade_is_remarked_on():
    finish = replace(PART, title="Finish", lowest_grade=7)
    assert "not to be used below grade 7" in kit_list([finish], ClassSize(5, 10, 6)).sentences[0]
    assert kit_list([finish], ClassSize(5, 10, 7)).sentences == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"quantity": 0}, "quantity of 0"),
        ({"loss_rate": 1.5}, "loss rate of 1.5"),
        ({"spare_quantity": -1}, "spare quantity"),
        ({"pack_size": 0}, "pack size"),
        ({"cost_low": 5, "cost_high": 4}, "costs 5 to 4"),
        ({"currency": ""}, "without a currency"),
        ({"lead_days": -1}, "lead time of -1"),
    ],
)
def test_an_odd_line_is_refused_in_a_sentence(change, words):
    with pytest.raises(KitError, match=words):
        kit_list([replace(PART, **change)], CLASS)


def test_an_odd_class_stock_or_office_is_refused_in_a_sentence():
    for more, words in (
        ({"size": ClassSize(-1, 0)}, "instruments"),
        ({"size": CLASS, "on_hand": {"nut": -1}}, "stock of nut"),
        ({"size": CLASS, "purchasing": Purchasing(approval_days=-1)}, "approval"),
        ({"size": CLASS, "purchasing": Purchasing(open_weekdays=())}, "no weekday"),
        ({"size": CLASS, "assurance": 1.0}, "assurance"),
    ):
        with pytest.raises(KitError, match=words):
            kit_list([PART], **more)  # type: ignore[arg-type]


def test_one_material_with_two_prices_is_refused():
    with pytest.raises(KitError, match="one set of facts"):
        kit_list([PART, replace(PART, cost_high=9)], CLASS)


def test_all_mistakes_are_told_at_once():
    with pytest.raises(KitError) as refused:
        kit_list([replace(PART, quantity=-1, pack_size=0, currency="")], CLASS, {"nut": -2})
    assert len(refused.value.sentences) == 4


# --- what was used ---------------------------------------------------------------------------------


def done(step, team, day, **more):
    return WorkEvent(step, team, 2, datetime(2027, 2, day, 12, tzinfo=UTC), **more)


STEPPED = replace(PART, step="S1")


def test_before_the_first_step_short_is_needed_and_spares_less_stock():
    (line,) = kit_list([STEPPED], CLASS, {"nut": 3}).lines
    assert line.short == line.needed + line.spares - line.on_hand == 13


def test_what_is_built_in_is_not_asked_for_again():
    # Eight of eleven are done: three to come; 3 teams at 25 % provide for 2 losses (by hand:
    # P(<= 1) = 0.84, P(<= 2) = 0.984); 4 on hand, so 1 is short.
    past = [done("S1", f"T{n}", n + 1) for n in range(8)]
    (line,) = kit_list([STEPPED], CLASS, {"nut": 4}, past=past).lines
    assert (line.needed, line.used, line.to_come, line.spares_to_come) == (11, 8, 3, 2)
    assert line.short == 1


def test_a_spoiled_part_is_used_and_still_to_come():
    past = [done("S1", "T1", 1, spoiled=True)]
    (line,) = kit_list([STEPPED], CLASS, past=past).lines
    assert (line.used, line.to_come) == (1, 11)


def test_a_class_that_is_done_needs_no_spare():
    past = [done("S1", f"T{n}", 1) for n in range(11)]
    (line,) = kit_list([STEPPED], CLASS, past=past).lines
    assert (line.to_come, line.spares_to_come, line.short, line.order) == (0, 0, 0, 0)


def test_use_counts_students_and_takes_what_is_for_the_class_once():
    bill = [
        BillLine("glove", "Gloves", "pair", 1, per=Per.STUDENT, step="S1"),
        BillLine("glue", "Glue", "bottle", 1, per=Per.CLASS, step="S1"),
        BillLine("tuner", "Tuners", "ea", 6, spare_quantity=1, step="S1"),
    ]
    events = [done("S1", "T1", 1), done("S1", "T2", 2, spoiled=True), done("S1", "T2", 3)]
    used = {}
    for use in material_use(events, bill):
        used[use.material] = used.get(use.material, 0) + use.quantity
    assert used == {"glove": 6, "glue": 1, "tuner": 13}


def test_the_order_is_due_when_the_stock_runs_out_not_when_it_is_first_used():
    # 22 on hand last through the first step (11) and the second (11); the third finds nothing.
    bill = [
        replace(
            PART, loss_rate=0, needed_on=date(2027, month, 1), phase=f"P{month}", step=f"S{month}"
        )
        for month in (2, 3, 4)
    ]
    (line,) = kit_list(bill, CLASS, {"nut": 22}).lines
    assert line.needed_on == date(2027, 2, 1)
    # Thursday 1 April: there on Wednesday 31 March.
    assert line.order_by == date(2027, 3, 31)


# --- several classes -------------------------------------------------------------------------------


def one_class(key, teams=11, version="1", **more):
    kit = kit_list([replace(PART, needed_on=date(2027, 3, 1))], ClassSize(teams, 2 * teams))
    codes = tuple(f"{key}{n:02d}" for n in range(teams))
    return BatchClass(key, key, "box", "Box", version, codes, kit, **more)


def test_spares_are_pooled_over_all_classes():
    # scipy.stats.binom: two classes of 11 at 25 % need 9 spares together, 5 each alone.
    (line,) = batch_of([one_class("A"), one_class("B")], {"nut": 4}).lines
    assert line.spares == stats.binom.ppf(0.95, 22, 0.25) == 9
    assert (line.needed, line.short) == (22, 22 + 9 - 4)
    assert (line.cost_low, line.cost_high) == (54, 108)


def test_differing_versions_of_one_build_are_refused_with_their_classes():
    with pytest.raises(KitError, match="version 1: A; version 2: B"):
        batch_of([one_class("A"), one_class("B", version="2")], {})


def test_different_builds_go_together():
    other = replace(one_class("B", version="2"), build="ukulele")
    assert batch_of([one_class("A"), other], {}).instruments == 22


def test_no_class_is_refused():
    with pytest.raises(KitError, match="at least one"):
        batch_of([], {})


def test_adult_minutes_are_summed_by_set_up_soonest_first():
    def task(step, set_up, day):
        return AdultTask("A", step, step, set_up, 11, 20, date(2027, 2, day))

    found = batch_of(
        [
            one_class("A", adult_tasks=(task("S1", "planer", 9), task("S2", "drill", 2))),
            one_class("B", adult_tasks=(task("S1", "planer", 1),)),
        ],
        {},
    )
    assert [(row.title, row.minutes) for row in found.set_ups] == [("planer", 440), ("drill", 220)]
    assert found.adult_minutes == 660


def test_what_is_bought_ready_made_is_summed_by_currency():
    # By hand: 11 panels at 28 and 13 at 6 are 308 + 78.
    panels = ReadyMadePart("A", "Panel", 11, 28)
    boards = ReadyMadePart("B", "Board", 13, 6)
    found = batch_of(
        [one_class("A", ready_made=(panels,)), one_class("B", ready_made=(boards,))], {}
    )
    assert dict(found.bought_cost) == {"USD": 386}


def test_who_gets_what_leaves_the_spares_in_the_store():
    found = batch_of([one_class("A"), one_class("B", teams=5)], {})
    assert [(row.section, row.quantity) for row in found.handouts] == [("A", 11), ("B", 5)]
