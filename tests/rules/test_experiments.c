/* test_experiments.c - what of each switching is told for statistics. */
#include "bench_house.h"

enum { MINUTE = 60, HOUR = 3600, NOON = 12 * 3600 };

static struct bench b;

static void house(uint16_t loads)
{
    bench_make(&b, loads);
    b.load[HEATER].thermostat = true;
    b.rest_w = 400;
}

static void begin(void)
{
    bench_begin(&b, NOON);
    bench_pass(&b, 30); /* what the house takes must be known before */
    ck_assert_int_eq(b.experiments, 0);
}

static void order(enum command_kind kind, uint16_t load)
{
    bench_order(&b, bench_command(&b, kind, load, 600));
}

static void run(int64_t seconds)
{
    order(COMMAND_ON, HEATER);
    bench_pass(&b, seconds);
}

static void stop(void)
{
    order(COMMAND_OFF, HEATER);
    bench_pass(&b, 45);
}

/* The one that was told last; there were `count` so far. */
static const struct experiment *last(int count)
{
    ck_assert_int_eq(b.experiments, count);
    ck_assert_int_le(count, BENCH_EXPERIMENTS);
    const struct experiment *experiment = &b.experiment[count - 1];
    ck_assert_uint_eq(experiment->sequence, (unsigned)count);
    return experiment;
}

static void assert_is(const struct experiment *experiment, enum experiment_kind kind,
                      enum experiment_seen seen, int32_t expected_w, int32_t step_w)
{
    ck_assert_int_eq(experiment->kind, kind);
    ck_assert_int_eq(experiment->seen, seen);
    ck_assert_int_eq(experiment->expected_w, expected_w);
    ck_assert_int_eq(experiment->step_w, step_w);
}

/* ---- by our order --------------------------------------------------------------- */

START_TEST(test_a_healthy_start_and_stop_are_told_once_each_with_their_steps)
{
    house(1);
    b.at[HEATER].draw_w = 3400;
    begin();
    int64_t ordered_ms = b.now.mono.ms;
    run(2 * MINUTE);
    const struct experiment *start = last(1);
    assert_is(start, EXPERIMENT_START, EXPERIMENT_CLEAR, 3600, 3400);
    ck_assert(!start->metered && !start->drew && !start->thought_open && !start->has_phases);
    ck_assert_int_gt(start->window_ms, 0);
    ck_assert_int_le(start->window_ms, 3 * MS_PER_S);
    ck_assert_int_eq(start->since_opened_ms, -1);
    ck_assert_int_eq(start->heated_mj, 0);
    ck_assert_int_eq(start->voltage_mv, 0);
    ck_assert_int_eq(start->at.mono.ms, ordered_ms + 2 * MS_PER_S); /* the contactor has closed */
    ck_assert_int_eq(b.now.wall.ms - start->at.wall.ms, b.now.mono.ms - start->at.mono.ms);
    stop();
    const struct experiment *end = last(2);
    assert_is(end, EXPERIMENT_STOP, EXPERIMENT_CLEAR, -3400, -3400);
    ck_assert(end->drew && !end->thought_open);
    ck_assert_int_gt(end->heated_mj, MINUTE * INT64_C(3400000));
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(b.experiments, 2);
}
END_TEST

START_TEST(test_a_dead_element_starts_and_stops_without_a_step)
{
    house(1);
    b.at[HEATER].dead = true;
    begin();
    run(4 * MINUTE);
    assert_is(last(1), EXPERIMENT_START, EXPERIMENT_CLEAR, 3600, 0);
    stop();
    const struct experiment *end = last(2);
    assert_is(end, EXPERIMENT_STOP, EXPERIMENT_CLEAR, -3600, 0);
    ck_assert(end->thought_open && !end->drew);
}
END_TEST

START_TEST(test_a_contact_that_stays_closed_shows_in_its_stop_and_in_what_follows)
{
    house(1);
    begin();
    run(10 * MINUTE);
    b.at[HEATER].welded = true;
    stop();
    const struct experiment *end = last(2);
    assert_is(end, EXPERIMENT_STOP, EXPERIMENT_CLEAR, -3600, 0);
    ck_assert(end->drew && !end->thought_open);
    b.at[HEATER].welded = false;
    bench_pass(&b, 5);
    assert_is(last(3), EXPERIMENT_FOREIGN, EXPERIMENT_CLEAR, -3600, -3600);
    ck_assert(last(3)->drew);
}
END_TEST

START_TEST(test_two_loads_that_switch_together_are_told_as_mixed)
{
    house(2);
    begin();
    b.order_given = bench_command(&b, COMMAND_ON, HEATER, 600);
    b.has_order = true;
    b.at[HEATER].answer_s = b.at[PUMP].answer_s = 3;
    bench_pass(&b, 1);
    order(COMMAND_ON, PUMP);
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(b.experiments, 2);
    for (int k = 0; k < 2; k++) {
        ck_assert_int_eq(b.experiment[k].kind, EXPERIMENT_START);
        ck_assert_int_eq(b.experiment[k].seen, EXPERIMENT_MIXED);
    }
    ck_assert_uint_ne(b.experiment[0].load, b.experiment[1].load);
}
END_TEST

START_TEST(test_without_a_meter_switching_is_unseen)
{
    house(1);
    begin();
    b.meter_silent = true;
    run(MINUTE);
    assert_is(last(1), EXPERIMENT_START, EXPERIMENT_UNSEEN, 3600, 0);
    stop();
    assert_is(last(2), EXPERIMENT_STOP, EXPERIMENT_UNSEEN, -3600, 0);
    ck_assert(!last(2)->drew);
}
END_TEST

START_TEST(test_a_start_that_a_throttled_inverter_may_make_up_for_is_unseen)
{
    house(1);
    b.throttled = true;
    b.at[HEATER].dead = true;
    begin();
    run(MINUTE);
    assert_is(last(1), EXPERIMENT_START, EXPERIMENT_UNSEEN, 3600, 0);
}
END_TEST

START_TEST(test_a_load_whose_contactor_never_closed_tells_nothing)
{
    house(1);
    begin();
    b.at[HEATER].broken = true;
    run(2 * MINUTE);
    stop();
    b.at[HEATER].broken = false;
    bench_pass(&b, 2 * MINUTE);
    ck_assert_int_eq(b.experiments, 0);
}
END_TEST

START_TEST(test_a_request_is_obeyed_in_its_own_time_and_tells_nothing)
{
    house(1);
    b.load[HEATER].kind = LOAD_REQUEST;
    begin();
    run(5 * MINUTE);
    stop();
    ck_assert_int_eq(b.experiments, 0);
}
END_TEST

START_TEST(test_a_second_start_knows_how_long_ago_the_thermostat_opened)
{
    house(1);
    begin();
    bench_opened_before(&b, HEATER);
    run(MINUTE);
    ck_assert_int_ge(last(1)->since_opened_ms, 3 * (int64_t)MS_PER_DAY);
    ck_assert_int_le(last(1)->since_opened_ms, 3 * (int64_t)MS_PER_DAY + 5 * MS_PER_MIN);
}
END_TEST

/* ---- without an order ------------------------------------------------------------- */

START_TEST(test_a_thermostat_that_opens_and_closes_is_told_with_the_heat_before_it)
{
    house(1);
    begin();
    run(20 * MINUTE);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 6 * MINUTE);
    const struct experiment *opened = last(2);
    assert_is(opened, EXPERIMENT_OPENED, EXPERIMENT_CLEAR, -3600, -3600);
    ck_assert(opened->drew && !opened->thought_open);
    ck_assert_int_eq(opened->window_ms, MS_PER_S);
    ck_assert_int_gt(opened->heated_mj, 19 * MINUTE * INT64_C(3600000));
    b.at[HEATER].thermostat_open = false;
    bench_pass(&b, 6 * MINUTE);
    const struct experiment *closed = last(3);
    assert_is(closed, EXPERIMENT_CLOSED, EXPERIMENT_CLEAR, 3600, 3600);
    ck_assert(closed->thought_open && !closed->drew);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    assert_is(last(4), EXPERIMENT_OPENED, EXPERIMENT_CLEAR, -3600, -3600);
    stop();
    assert_is(last(5), EXPERIMENT_STOP, EXPERIMENT_CLEAR, -3600, 0);
    ck_assert(last(5)->thought_open);
}
END_TEST

START_TEST(test_a_step_of_its_size_while_it_is_off_is_foreign)
{
    house(1);
    begin();
    b.rest_w += 3500; /* a kettle, or its contact */
    bench_pass(&b, 5);
    assert_is(last(1), EXPERIMENT_FOREIGN, EXPERIMENT_CLEAR, 3600, 3500);
    b.rest_w -= 3500;
    bench_pass(&b, 5);
    assert_is(last(2), EXPERIMENT_FOREIGN, EXPERIMENT_CLEAR, -3600, -3500);
    b.rest_w += 1000;
    bench_pass(&b, 5);
    ck_assert_int_eq(b.experiments, 2);
}
END_TEST

/* ---- by its own meter ---------------------------------------------------------------- */

START_TEST(test_its_own_meter_tells_each_step_whatever_else_switches)
{
    house(2);
    b.load[HEATER].metered = b.own_meters = true;
    b.at[HEATER].draw_w = 3500;
    begin();
    run(2 * MINUTE);
    assert_is(last(1), EXPERIMENT_START, EXPERIMENT_CLEAR, 3600, 3500);
    ck_assert(last(1)->metered);
    ck_assert_int_eq(last(1)->window_ms, 0);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    assert_is(last(2), EXPERIMENT_OPENED, EXPERIMENT_CLEAR, -3500, -3500);
    b.at[HEATER].thermostat_open = false;
    bench_pass(&b, 3);
    ck_assert_int_eq(last(3)->kind, EXPERIMENT_CLOSED);
    ck_assert_int_eq(last(3)->step_w, 3500);
    stop();
    assert_is(last(4), EXPERIMENT_STOP, EXPERIMENT_CLEAR, -3500, -3500);
    b.at[HEATER].welded = true;
    bench_pass(&b, 5);
    ck_assert_int_eq(last(5)->kind, EXPERIMENT_FOREIGN);
    ck_assert_int_eq(last(5)->step_w, 3500);
    ck_assert(last(5)->metered);
}
END_TEST

START_TEST(test_a_contact_that_stays_closed_shows_at_its_own_meter)
{
    house(1);
    b.load[HEATER].metered = b.own_meters = true;
    begin();
    run(2 * MINUTE);
    b.at[HEATER].welded = true;
    stop();
    assert_is(last(2), EXPERIMENT_STOP, EXPERIMENT_CLEAR, -3600, 0);
    ck_assert(last(2)->metered && last(2)->drew);
}
END_TEST

/* ---- phases ---------------------------------------------------------------------------- */

START_TEST(test_a_start_tells_the_step_of_each_phase_and_its_voltage)
{
    house(1);
    b.settings.phase_count = 3;
    b.load[HEATER].phases = 2;
    begin();
    run(MINUTE);
    assert_is(last(1), EXPERIMENT_START, EXPERIMENT_CLEAR, 3600, 3600);
    ck_assert(last(1)->has_phases);
    ck_assert_int_eq(last(1)->phase_step_w[0], 0);
    ck_assert_int_eq(last(1)->phase_step_w[1], 3600);
    ck_assert_int_eq(last(1)->phase_step_w[2], 0);
    ck_assert_int_eq(last(1)->voltage_mv, 232000);
}
END_TEST

/* ---- the house by itself ------------------------------------------------------------------ */

START_TEST(test_steps_of_the_house_itself_are_told_once_each)
{
    house(1);
    b.settings.phase_count = 3;
    begin();
    b.rest_w += 1200;
    bench_pass(&b, 1);
    ck_assert(b.outcome.observed.background.known && b.outcome.observed.background.has_phases);
    ck_assert_int_eq(b.outcome.observed.background.step_w, 1200);
    ck_assert_int_eq(b.outcome.observed.background.phase_step_w[0], 1200);
    ck_assert_int_eq(b.outcome.observed.background.phase_step_w[1], 0);
    ck_assert_int_eq(b.outcome.observed.background.spacing_ms, MS_PER_S);
    bench_pass(&b, 1);
    ck_assert(b.outcome.observed.background.known);
    ck_assert_int_eq(b.outcome.observed.background.step_w, 0);
    b.meter_held = true; /* nothing was read anew */
    bench_pass(&b, 1);
    ck_assert(!b.outcome.observed.background.known);
}
END_TEST

static void assert_no_background_is(int32_t step_w, int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        bench_pass(&b, 1);
        ck_assert(!b.outcome.observed.background.known ||
                  b.outcome.observed.background.step_w != step_w);
    }
}

START_TEST(test_no_step_of_a_load_passes_for_the_house_itself)
{
    for (int solar = 0; solar < 2; solar++) {
        house(1);
        b.settings.solar = solar > 0;
        b.solar_w = solar > 0 ? 2000 : 0;
        begin();
        order(COMMAND_ON, HEATER);
        assert_no_background_is(3600, 2 * MINUTE);
        ck_assert(b.outcome.observed.background.known);
        b.at[HEATER].thermostat_open = true;
        assert_no_background_is(-3600, 10);
        b.at[HEATER].thermostat_open = false;
        assert_no_background_is(3600, 2 * MINUTE);
        order(COMMAND_OFF, HEATER);
        assert_no_background_is(-3600, 2 * MINUTE);
        ck_assert(b.outcome.observed.background.known);
        ck_assert_int_eq(b.experiments, 4);
    }
}
END_TEST

START_TEST(test_an_edge_beside_a_slow_solar_meter_is_one_step_of_background)
{
    house(1);
    b.settings.solar = true;
    b.solar_w = 2000;
    b.solar_every_s = 5;
    begin();
    b.rest_w += 1500;
    int64_t sum_w = 0;
    for (int s = 0; s < MINUTE; s++) {
        bench_pass(&b, 1);
        sum_w += b.outcome.observed.background.known ? b.outcome.observed.background.step_w : 0;
        if (b.outcome.observed.background.known)
            ck_assert_int_eq(b.outcome.observed.background.spacing_ms, 5 * MS_PER_S);
    }
    ck_assert_int_eq(sum_w, 1500);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_healthy_start_and_stop_are_told_once_each_with_their_steps,
        test_a_dead_element_starts_and_stops_without_a_step,
        test_a_contact_that_stays_closed_shows_in_its_stop_and_in_what_follows,
        test_two_loads_that_switch_together_are_told_as_mixed,
        test_without_a_meter_switching_is_unseen,
        test_a_start_that_a_throttled_inverter_may_make_up_for_is_unseen,
        test_a_load_whose_contactor_never_closed_tells_nothing,
        test_a_request_is_obeyed_in_its_own_time_and_tells_nothing,
        test_a_second_start_knows_how_long_ago_the_thermostat_opened,
        test_a_thermostat_that_opens_and_closes_is_told_with_the_heat_before_it,
        test_a_step_of_its_size_while_it_is_off_is_foreign,
        test_its_own_meter_tells_each_step_whatever_else_switches,
        test_a_contact_that_stays_closed_shows_at_its_own_meter,
        test_a_start_tells_the_step_of_each_phase_and_its_voltage,
        test_steps_of_the_house_itself_are_told_once_each,
        test_no_step_of_a_load_passes_for_the_house_itself,
        test_an_edge_beside_a_slow_solar_meter_is_one_step_of_background,
    };
    return bench_run_tests("experiments", tests, sizeof tests / sizeof tests[0]);
}
