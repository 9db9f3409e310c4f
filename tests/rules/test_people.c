/* test_people.c - what people order, at the board and from afar. */
#include "bench_house.h"

#include <check.h>
#include <stdlib.h>

enum { NOON = 12 * 3600, MINUTE = 60, HOUR = 3600 };

static struct bench b;

/* ---- people ---- */

START_TEST(test_on_by_hand_runs_and_ends_by_itself)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_MANUAL);
    ck_assert_int_eq(bench_until(&b, HEATER, false, 2 * HOUR), HOUR - 1);
    ck_assert_int_eq(b.events[EVENT_HAND_ENDED], 1);
}
END_TEST

START_TEST(test_off_by_hand_is_obeyed_at_once_within_minimum_on)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    bench_pass(&b, 5);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_MANUAL);
}
END_TEST

START_TEST(test_a_run_by_hand_passes_the_hours_unless_strict)
{
    for (int strict = 0; strict < 2; strict++) {
        bench_make(&b, 1);
        b.load[HEATER].strict = strict;
        b.load[HEATER].hours =
            (struct hours){.count = 1, .span = {{9 * HOUR, 11 * HOUR, WEEKDAYS_ALL}}};
        bench_begin(&b, NOON);
        bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
        ck_assert_int_eq(bench_on(&b, HEATER), !strict);
    }
}
END_TEST

START_TEST(test_inhibit_beats_a_run_by_hand)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_order(&b, bench_command(&b, COMMAND_INHIBIT, LOAD_ALL, 0));
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_INHIBIT);
}
END_TEST

START_TEST(test_an_islanded_site_runs_nothing)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, HEATER, true, HOUR);
    b.islanded = true;
    bench_pass(&b, 1);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_ISLANDED);
}
END_TEST

/* ---- the board ---- */

START_TEST(test_a_supply_that_goes_off_is_neither_a_thermostat_nor_a_fault)
{
    for (int thermostat = 0; thermostat < 2; thermostat++) {
        bench_make(&b, 1);
        b.load[HEATER].thermostat = thermostat;
        b.rest_w = -4000;
        bench_begin(&b, NOON);
        bench_until(&b, HEATER, true, HOUR);
        bench_pass(&b, 10 * MINUTE);
        b.at[HEATER].held = HELD_NO_SUPPLY;
        bench_pass(&b, 1);
        ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_NO_SUPPLY);
        bench_pass(&b, HOUR);
        ck_assert(!bench_on(&b, HEATER));
        ck_assert(!rules_draw(&b.memory, HEATER)->has_opened);
        ck_assert_int_eq(
            b.events[EVENT_SATISFIED] + b.events[EVENT_STUCK] + b.events[EVENT_NO_DRAW], 0);
        b.at[HEATER].held = HELD_NOT;
        ck_assert_int_ge(bench_until(&b, HEATER, true, HOUR), 0);
    }
}
END_TEST

START_TEST(test_what_runs_in_hand_is_no_contact_that_stays_closed)
{
    for (int was_on = 0; was_on < 2; was_on++) {
        bench_make(&b, 1);
        b.rest_w = was_on ? -4000 : 500;
        bench_begin(&b, NOON);
        bench_pass(&b, 10 * MINUTE);
        ck_assert_int_eq(bench_on(&b, HEATER), was_on);
        b.at[HEATER].held = HELD_IN_HAND;
        bench_pass(&b, HOUR);
        ck_assert(!bench_on(&b, HEATER));
        ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_IN_HAND);
        ck_assert_int_eq(b.events[EVENT_STUCK], 0);
        ck_assert(!rules_draw(&b.memory, HEATER)->off_shown);
    }
}
END_TEST

START_TEST(test_a_floor_that_the_board_denies_says_so)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 15 * HOUR));
    bench_begin(&b, NOON);
    b.at[HEATER].held = HELD_OFF_AT_BOARD;
    int64_t denied_ms = 0;
    for (int s = 0; s < 4 * HOUR; s++) {
        bench_pass(&b, 1);
        for (int e = 0; e < b.outcome.event_count; e++)
            if (b.outcome.event[e].kind == EVENT_FLOOR_MISSED)
                denied_ms = b.outcome.event[e].denied_ms[DENIED_BOARD];
    }
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 1);
    ck_assert_int_ge(denied_ms, 2 * MS_PER_HOUR);
}
END_TEST

START_TEST(test_a_run_by_hand_waits_for_the_hours_of_the_supply)
{
    bench_make(&b, 1);
    b.load[HEATER].supply_hours = b.load[HEATER].hours =
        (struct hours){.count = 1, .span = {{13 * HOUR, 16 * HOUR, WEEKDAYS_ALL}}};
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 120));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_NO_SUPPLY);
    bench_until(&b, HEATER, true, 2 * HOUR);
    ck_assert_int_eq(bench_local(&b).second, 13 * HOUR);
}
END_TEST

START_TEST(test_a_disabled_load_still_obeys_a_hand)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    struct command disable = bench_command(&b, COMMAND_ENABLE, HEATER, 0);
    disable.flag = false;
    bench_order(&b, disable);
    ck_assert_int_eq(bench_until(&b, HEATER, true, HOUR), -1);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_DISABLED);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    ck_assert(bench_on(&b, HEATER));
}
END_TEST

static struct command test_order(bool on, int64_t seconds)
{
    return (struct command){.kind = COMMAND_TEST,
                            .load = HEATER,
                            .flag = on,
                            .until = mono_after(b.now.mono, seconds * MS_PER_S)};
}

START_TEST(test_a_test_ends_by_itself_and_leaves_the_hand_order_as_it_was)
{
    for (int by_hand = 0; by_hand < 2; by_hand++) {
        bench_make(&b, 1);
        b.load[HEATER].min_on_ms = 0;
        bench_begin(&b, NOON);
        if (by_hand)
            bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
        bench_order(&b, test_order(true, 30));
        ck_assert_int_eq(bench_reason(&b, HEATER), REASON_ON_TEST);
        ck_assert_int_eq(bench_until(&b, HEATER, false, HOUR), 29);
        ck_assert_int_eq(bench_reason(&b, HEATER), by_hand ? REASON_OFF_MANUAL : REASON_OFF_SPARE);
    }
}
END_TEST

START_TEST(test_a_test_off_is_obeyed_within_minimum_on_and_ends_where_it_is_told_to)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    ck_assert(bench_on(&b, HEATER));
    bench_order(&b, test_order(false, 60));
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_TEST);
    bench_order(&b, test_order(false, 0));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_MINIMUM_OFF);
    ck_assert_int_eq(b.loads[HEATER].hand, HAND_ON);
}
END_TEST

START_TEST(test_a_test_passes_minimum_off_but_not_that_of_a_motor)
{
    static const struct {
        bool motor, request, starts;
    } cases[] = {{false, false, true}, {true, false, false}, {false, true, false}};
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        bench_make(&b, 1);
        b.load[HEATER].motor = cases[k].motor;
        b.load[HEATER].kind = cases[k].request ? LOAD_REQUEST : LOAD_SWITCHED;
        bench_begin(&b, NOON);
        bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
        bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
        bench_pass(&b, 10);
        bench_order(&b, test_order(true, 60));
        ck_assert_int_eq(bench_on(&b, HEATER), cases[k].starts);
        ck_assert_int_eq(bench_reason(&b, HEATER),
                         cases[k].starts ? REASON_ON_TEST : REASON_OFF_MINIMUM_OFF);
    }
}
END_TEST

START_TEST(test_a_test_passes_no_inhibit_no_strict_hours_and_no_starts_per_hour)
{
    for (int k = 0; k < 3; k++) {
        bench_make(&b, 1);
        b.load[HEATER].strict = true;
        if (k == 1)
            b.load[HEATER].hours =
                (struct hours){.count = 1, .span = {{9 * HOUR, 11 * HOUR, WEEKDAYS_ALL}}};
        b.load[HEATER].starts_per_hour = 1;
        bench_begin(&b, NOON);
        if (k == 0)
            bench_order(&b, bench_command(&b, COMMAND_INHIBIT, LOAD_ALL, 0));
        if (k == 2) {
            bench_order(&b, test_order(true, 60));
            ck_assert(bench_on(&b, HEATER));
            bench_order(&b, test_order(false, 60));
            bench_pass(&b, 10);
        }
        bench_order(&b, test_order(true, 60));
        ck_assert(!bench_on(&b, HEATER));
        ck_assert_int_eq(bench_reason(&b, HEATER), k == 0   ? REASON_OFF_INHIBIT
                                                   : k == 1 ? REASON_OFF_HOURS
                                                            : REASON_OFF_STARTS);
    }
}
END_TEST

START_TEST(test_a_test_takes_no_place_in_a_group_from_a_load_that_runs)
{
    bench_make(&b, 2);
    b.settings.group_count = 1;
    b.settings.group[0].one_at_a_time = true;
    b.load[HEATER].group = b.load[PUMP].group = 0;
    b.load[HEATER].uses_spare = false;
    b.load[PUMP].min_on_ms = 0;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_until(&b, PUMP, true, HOUR);
    bench_pass(&b, MINUTE);
    bench_order(&b, test_order(true, 60));
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_GROUP);
    bench_pass(&b, 10);
    ck_assert(bench_on(&b, PUMP));
}
END_TEST

START_TEST(test_an_order_by_hand_ends_a_test)
{
    bench_make(&b, 1);
    b.load[HEATER].min_on_ms = 0;
    bench_begin(&b, NOON);
    bench_order(&b, test_order(true, 60));
    ck_assert(bench_on(&b, HEATER));
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_MANUAL);
    bench_order(&b, test_order(true, 60));
    bench_order(&b, bench_command(&b, COMMAND_AUTO, HEATER, 0));
    ck_assert_int_eq(b.loads[HEATER].test, HAND_AUTO);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_a_test_without_an_end_changes_nothing)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    struct command endless = test_order(true, 0);
    endless.until = MONO_NEVER;
    bench_order(&b, endless);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_what_is_left_of_the_rests_is_told)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    int64_t min_on_ms = b.load[HEATER].min_on_ms, min_off_ms = b.load[HEATER].min_off_ms;
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_pass(&b, 10);
    struct rests_view on = rules_rests(&b.settings, &b.memory, HEATER);
    ck_assert_int_le(on.on_ms, min_on_ms - 9 * MS_PER_S);
    ck_assert_int_gt(on.on_ms, min_on_ms - 15 * MS_PER_S);
    ck_assert_int_eq(on.off_ms, 0);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, 10);
    struct rests_view off = rules_rests(&b.settings, &b.memory, HEATER);
    ck_assert_int_eq(off.on_ms, 0);
    ck_assert_int_le(off.off_ms, min_off_ms - 9 * MS_PER_S);
    ck_assert_int_gt(off.off_ms, min_off_ms - 15 * MS_PER_S);
}
END_TEST

START_TEST(test_on_without_an_end_changes_nothing)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    struct command endless = bench_command(&b, COMMAND_ON, HEATER, 0);
    endless.until = MONO_NEVER;
    bench_order(&b, endless);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_holiday_keeps_floors_off_and_has_it_hot_on_return)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    b.load[HEATER].heat_up_ms = 4 * MS_PER_HOUR;
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    struct command away = bench_command(&b, COMMAND_HOLIDAY, LOAD_ALL, 0);
    away.back.ms = b.now.wall.ms + 48 * (int64_t)MS_PER_HOUR;
    bench_order(&b, away);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_HOLIDAY);
    int64_t waited = bench_until(&b, HEATER, true, 48 * HOUR);
    ck_assert_int_eq(waited, 48 * HOUR - 4 * HOUR - 30 * MINUTE - 1);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_ON_RETURN);
    bench_pass(&b, HOUR);
    b.at[HEATER].thermostat_open = true;
    ck_assert_int_gt(bench_until(&b, HEATER, false, 5 * MINUTE), 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_on_by_hand_runs_and_ends_by_itself,
        test_off_by_hand_is_obeyed_at_once_within_minimum_on,
        test_a_run_by_hand_passes_the_hours_unless_strict,
        test_inhibit_beats_a_run_by_hand,
        test_an_islanded_site_runs_nothing,
        test_a_supply_that_goes_off_is_neither_a_thermostat_nor_a_fault,
        test_what_runs_in_hand_is_no_contact_that_stays_closed,
        test_a_floor_that_the_board_denies_says_so,
        test_a_run_by_hand_waits_for_the_hours_of_the_supply,
        test_a_disabled_load_still_obeys_a_hand,
        test_a_test_ends_by_itself_and_leaves_the_hand_order_as_it_was,
        test_a_test_off_is_obeyed_within_minimum_on_and_ends_where_it_is_told_to,
        test_a_test_passes_minimum_off_but_not_that_of_a_motor,
        test_a_test_passes_no_inhibit_no_strict_hours_and_no_starts_per_hour,
        test_a_test_takes_no_place_in_a_group_from_a_load_that_runs,
        test_an_order_by_hand_ends_a_test,
        test_a_test_without_an_end_changes_nothing,
        test_what_is_left_of_the_rests_is_told,
        test_on_without_an_end_changes_nothing,
        test_holiday_keeps_floors_off_and_has_it_hot_on_return,
    };
    return bench_run_tests("people", tests, sizeof tests / sizeof tests[0]);
}
