/* test_foresee.c - what an order is said to come to is what then happens. */
#include "bench_house.h"

enum { MINUTE = 60, HOUR = 60 * MINUTE, NOON = 12 * HOUR, RUN_MIN = 60 };

static struct bench b;

static struct load_memory loads[BENCH_LOADS];
static struct decision decisions[BENCH_LOADS];

static struct foresight foresee(struct command command)
{
    struct foresight foresight = {.loads = loads, .decisions = decisions};
    struct rules_input input = {
        .reading = &b.reading, .commands = &command, .command_count = 1, .now = b.now};
    rules_foresee(&b.settings, &b.memory, &input, HEATER, &foresight);
    return foresight;
}

static struct command on_by_hand(void)
{
    return bench_command(&b, COMMAND_ON, HEATER, RUN_MIN);
}

START_TEST(test_a_run_by_hand_that_nothing_is_against_starts_at_once)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    struct foresight foresight = foresee(on_by_hand());
    ck_assert(decisions[HEATER].on);
    ck_assert_int_eq(foresight.wait_ms, 0);
    bench_order(&b, on_by_hand());
    ck_assert(bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_asking_changes_nothing)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    struct load_memory before = b.loads[HEATER];
    foresee(on_by_hand());
    ck_assert_mem_eq(&before, &b.loads[HEATER], sizeof before);
    bench_pass(&b, MINUTE);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

/* It has just been switched off: its rest is waited for, whether or not its contactor has
 * answered yet. */
START_TEST(test_a_run_in_minimum_off_is_told_with_the_moment_of_its_start)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    b.rest_w = -4000;
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
    b.rest_w = 3000;
    ck_assert_int_gt(bench_until(&b, HEATER, false, HOUR), 0);
    bench_pass(&b, 90);
    struct foresight foresight = foresee(on_by_hand());
    ck_assert(decisions[HEATER].on);
    bench_order(&b, on_by_hand());
    int64_t waited_s = 1 + bench_until(&b, HEATER, true, HOUR);
    ck_assert_int_ge(waited_s, foresight.wait_ms / MS_PER_S - 1);
    ck_assert_int_le(waited_s, foresight.wait_ms / MS_PER_S + 1);
    ck_assert_int_gt(waited_s, 3 * MINUTE);
}
END_TEST

START_TEST(test_a_run_that_ends_before_its_rest_does_is_told_as_none)
{
    bench_make(&b, 1);
    b.load[HEATER].min_off_ms = 90 * MS_PER_MIN;
    bench_begin(&b, NOON);
    b.rest_w = -4000;
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
    b.rest_w = 3000;
    ck_assert_int_gt(bench_until(&b, HEATER, false, HOUR), 0);
    bench_pass(&b, MINUTE);
    foresee(on_by_hand());
    ck_assert(!decisions[HEATER].on);
    ck_assert_int_eq(decisions[HEATER].reason.code, REASON_OFF_MINIMUM_OFF);
    bench_order(&b, on_by_hand());
    ck_assert_int_eq(bench_until(&b, HEATER, true, RUN_MIN * MINUTE), -1);
}
END_TEST

START_TEST(test_strict_hours_are_waited_for_and_others_are_not)
{
    bench_make(&b, 1);
    b.load[HEATER].hours =
        (struct hours){.count = 1, .span = {{12 * HOUR + 30 * MINUTE, 14 * HOUR, WEEKDAYS_ALL}}};
    bench_begin(&b, NOON);
    foresee(on_by_hand());
    ck_assert(decisions[HEATER].on);
    b.load[HEATER].strict = true;
    struct foresight foresight = foresee(on_by_hand());
    ck_assert(decisions[HEATER].on);
    ck_assert_int_eq(foresight.wait_ms, 30 * MS_PER_MIN - MS_PER_S);
}
END_TEST

START_TEST(test_what_keeps_a_load_off_whatever_is_ordered_is_foreseen)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    bench_order(&b, bench_command(&b, COMMAND_INHIBIT, HEATER, 0));
    foresee(on_by_hand());
    ck_assert_int_eq(decisions[HEATER].reason.code, REASON_OFF_INHIBIT);
    b.loads[HEATER].inhibited = false;
    b.loads[HEATER].health = OUTPUT_FAILED;
    foresee(on_by_hand());
    ck_assert_int_eq(decisions[HEATER].reason.code, REASON_OFF_OUTPUT);
    b.loads[HEATER].health = OUTPUT_CONFIRMED;
    b.reading.islanded = true;
    foresee(on_by_hand());
    ck_assert_int_eq(decisions[HEATER].reason.code, REASON_OFF_ISLANDED);
}
END_TEST

/* Back at 18:00, six hours ahead, of which the reserve is not counted. */
START_TEST(test_a_return_too_near_to_heat_up_is_short_by_what_is_missing)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    struct wall back = {b.now.wall.ms + 6 * MS_PER_HOUR};
    ck_assert(!rules_return(&b.settings, HEATER, b.now.wall, back).heats_up);
    b.load[HEATER].heat_up_ms = 5 * MS_PER_HOUR;
    struct return_view view = rules_return(&b.settings, HEATER, b.now.wall, back);
    ck_assert(view.heats_up);
    ck_assert_int_eq(view.short_ms, 0);
    ck_assert_int_eq(view.from.ms, b.now.wall.ms + 30 * MS_PER_MIN);
    b.load[HEATER].heat_up_ms = 8 * MS_PER_HOUR;
    view = rules_return(&b.settings, HEATER, b.now.wall, back);
    ck_assert_int_eq(view.short_ms, 2 * MS_PER_HOUR);
    ck_assert_int_eq(view.from.ms, b.now.wall.ms);
}
END_TEST

START_TEST(test_closed_hours_before_the_return_heat_nothing)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    struct wall back = {b.now.wall.ms + 6 * MS_PER_HOUR};
    b.load[HEATER].heat_up_ms = 5 * MS_PER_HOUR;
    b.load[HEATER].hours =
        (struct hours){.count = 1, .span = {{6 * HOUR, 16 * HOUR, WEEKDAYS_ALL}}};
    struct return_view view = rules_return(&b.settings, HEATER, b.now.wall, back);
    ck_assert_int_eq((view.short_ms + MS_PER_S) / MS_PER_MIN, 90); /* 12:30 to 16:00 is there */
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_run_by_hand_that_nothing_is_against_starts_at_once,
        test_asking_changes_nothing,
        test_a_run_in_minimum_off_is_told_with_the_moment_of_its_start,
        test_a_run_that_ends_before_its_rest_does_is_told_as_none,
        test_strict_hours_are_waited_for_and_others_are_not,
        test_what_keeps_a_load_off_whatever_is_ordered_is_foreseen,
        test_a_return_too_near_to_heat_up_is_short_by_what_is_missing,
        test_closed_hours_before_the_return_heat_nothing,
    };
    return bench_run_tests("foresee", tests, sizeof tests / sizeof tests[0]);
}
