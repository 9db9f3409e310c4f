/* test_worth.c - what heat is worth decides (7a); the worth itself is in tests/heat. */
#include "bench_house.h"

#include <check.h>
#include <stdlib.h>

enum { NOON = 12 * 3600, MINUTE = 60, HOUR = 3600 };

static struct bench b;

static struct heat_memory heat;

/* A water heater that learns, at 0.30 a kWh and 0.05 for what is exported. */
static void begin_learning(void)
{
    bench_make(&b, 1);
    b.settings.tariff =
        (struct tariff){.count = 1, .feed_in_micro = 50000, .band = {{.price_micro = 300000}}};
    b.load[HEATER].start_permille = RULES_START_LEARNT;
    b.load[HEATER].thermostat = true;
    b.load[HEATER].water = (struct heat_settings){.volume_ml = 315000,
                                                  .set_mc = 65000,
                                                  .hysteresis_mc = 6000,
                                                  .cold_mc = 16000,
                                                  .room_mc = 20000,
                                                  .loss_mwh = 2200000,
                                                  .usable_permille = 850,
                                                  .missing_micro = 10000000};
    bench_begin(&b, NOON);
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
}

/* As if it had learnt that a kWh more in the store is worth so much, for the next day. */
static void learnt_here(int32_t worth_micro)
{
    b.memory.heat_tick = mono_after(b.now.mono, MS_PER_DAY);
    heat.reckoned = true;
    heat.worth_micro = worth_micro;
}

static void learnt_worth(int32_t worth_micro)
{
    begin_learning();
    learnt_here(worth_micro);
}

START_TEST(test_heat_is_bought_ahead_once_its_worth_passes_the_price)
{
    learnt_worth(280000);
    bench_pass(&b, MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    heat.worth_micro = 320000;
    bench_pass(&b, 1);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_ON_AHEAD);
    ck_assert_int_eq(b.decision[HEATER].reason.number[0], 300000);
    ck_assert_int_eq(b.decision[HEATER].reason.number[1], 320000);
}
END_TEST

/* 2 cents above the price to begin, as much below it to end. */
START_TEST(test_prices_a_little_apart_do_not_switch)
{
    learnt_worth(319999);
    b.rest_w = 2000; /* nothing is spare: only what is bought ahead runs */
    bench_pass(&b, MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    heat.worth_micro = 320000;
    bench_pass(&b, 1);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    heat.worth_micro = 280000;
    bench_pass(&b, HOUR);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    heat.worth_micro = 279999;
    bench_pass(&b, MINUTE);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

/* 4 kW are there for it, and neither its own 3.6 kW nor what it could give up counts twice. */
START_TEST(test_what_a_load_could_take_counts_its_own_draw_once)
{
    learnt_worth(250000);
    b.rest_w = -4000;
    ck_assert_int_ge(bench_until(&b, HEATER, true, 10 * MINUTE), 0);
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
    ck_assert_int_eq(b.loads[HEATER].could_w, 4000 - b.settings.margin_w);
}
END_TEST

START_TEST(test_heat_bought_ahead_needs_no_reading)
{
    learnt_worth(320000);
    b.meter_silent = true;
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
}
END_TEST

/* (p - w) / (p - f) = (0.30 - 0.125) / 0.25 = 0.7, and the slack of a load that is off */
START_TEST(test_worth_becomes_the_start_fraction)
{
    learnt_worth(125000 + 20000);
    b.rest_w = -2519;
    bench_pass(&b, 3 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(b.decision[HEATER].reason.number[1], 2520);
    learnt_worth(125000 + 20000);
    b.rest_w = -2520;
    ck_assert_int_gt(bench_until(&b, HEATER, true, 3 * MINUTE), 0);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
}
END_TEST

/* Between export and import there is then nothing to weigh: no fraction of its power. */
START_TEST(test_where_export_is_credited_in_full_heat_is_bought_or_left)
{
    begin_learning();
    b.settings.tariff.feed_in_micro = b.settings.tariff.band[0].price_micro;
    b.memory.calendar_until = b.memory.calendar_from; /* looked up anew */
    learnt_here(319999);
    b.rest_w = -5000;
    bench_pass(&b, 4 * MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_WORTH);
    heat.worth_micro = 320000;
    bench_pass(&b, 1);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
}
END_TEST

START_TEST(test_what_is_worth_less_than_its_feed_in_leaves_even_spare_power)
{
    learnt_worth(30000);
    b.rest_w = -5000;
    bench_pass(&b, 4 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_WORTH);
}
END_TEST

START_TEST(test_a_full_store_leaves_even_spare_power)
{
    learnt_worth(320000);
    heat.open = true;
    b.rest_w = -5000;
    bench_pass(&b, 4 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_while_the_clock_is_not_set_the_fraction_is_derived)
{
    b.now = (struct moment){.wall = {1}};
    begin_learning();
    b.now = (struct moment){b.now.mono, {1}, false};
    bench_begin(&b, NOON);
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
    heat.reckoned = true;
    heat.worth_micro = 900000;
    bench_pass(&b, MINUTE);
    ck_assert(!b.memory.trusted);
    ck_assert(!bench_on(&b, HEATER)); /* not ahead, and all of its power is needed */
    ck_assert_int_eq(b.loads[HEATER].start_permille, 1000);
    b.rest_w = -3600;
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_SPARE);
    b.now = (struct moment){0};
}
END_TEST

START_TEST(test_in_the_first_days_it_is_hot_whatever_it_costs)
{
    begin_learning();
    bench_pass(&b, 2);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_ON_LEARNING);
}
END_TEST

/* However cheap, heat ahead keeps to the load's hours; the floor of hours goes on counting. */
START_TEST(test_hours_bind_heat_ahead_and_a_floor_counts_it)
{
    learnt_worth(900000);
    b.load[HEATER].hours = (struct hours){.count = 1, .span = {{13 * 3600, 15 * 3600, 0x7f}}};
    bench_floor(&b, bench_hours_by(1, 17 * 3600));
    bench_begin(&b, NOON);
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
    b.memory.heat_tick = mono_after(b.now.mono, MS_PER_DAY);
    heat.reckoned = true;
    heat.worth_micro = 900000;
    bench_pass(&b, HOUR - MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_gt(bench_until(&b, HEATER, true, 2 * MINUTE), 0);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    ck_assert(!rules_floor(&b.settings, &b.memory, HEATER, 0).met);
    bench_pass(&b, HOUR + MINUTE); /* the hour that is promised, and none of it a floor's run */
    ck_assert(rules_floor(&b.settings, &b.memory, HEATER, 0).met);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    bench_pass(&b, HOUR);
    ck_assert(!bench_on(&b, HEATER)); /* past three in the afternoon */
}
END_TEST

/* After a restart, or for a load that learns only from now on. */
START_TEST(test_an_opening_remembered_from_before_is_no_news)
{
    begin_learning();
    b.load[HEATER].metered = true;
    b.loads[HEATER].draw.view.has_opened = true;
    b.loads[HEATER].draw.view.opened_at = b.now;
    b.now.mono.ms += 8 * MS_PER_HOUR;
    b.now.wall.ms += 8 * MS_PER_HOUR;
    rules_learn(&b.settings, &b.memory, HEATER, &heat);
    bench_pass(&b, 2);
    ck_assert(!heat.known);
    ck_assert_int_lt(heat_held_percent(&b.load[HEATER].water, &heat), 60);
}
END_TEST

START_TEST(test_what_learns_no_more_is_bought_ahead_no_more)
{
    learnt_worth(320000);
    bench_pass(&b, 2);
    ck_assert_int_eq(bench_basis(&b, HEATER), BASIS_AHEAD);
    rules_learn_no_more(&b.settings, &b.memory, HEATER);
    ck_assert(!b.memory.learns);
    bench_pass(&b, 10 * MINUTE);
    ck_assert(!bench_on(&b, HEATER));
    ck_assert_int_eq(b.loads[HEATER].start_permille, 200); /* derived: the same price all day */
}
END_TEST

START_TEST(test_what_speaks_against_running_speaks_against_heat_ahead)
{
    learnt_worth(900000);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 10));
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_MANUAL);
    learnt_worth(900000);
    bench_order(&b, bench_command(&b, COMMAND_INHIBIT, HEATER, 0));
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_INHIBIT);
    learnt_worth(900000);
    b.settings.supply_limit_ma = 15000; /* 3450 W */
    bench_pass(&b, MINUTE);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_SUPPLY);
}
END_TEST

static void heat_until_something_of_its_size_ends(void)
{
    learnt_worth(900000);
    bench_until(&b, HEATER, true, MINUTE);
    bench_pass(&b, MINUTE);
    b.rest_w = 3600; /* an oven */
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(rules_draw(&b.memory, HEATER)->state, DRAW_SEEN);
}

START_TEST(test_an_oven_that_ends_is_found_out_when_the_heater_is_switched_off)
{
    heat_until_something_of_its_size_ends();
    b.rest_w = 0;
    bench_pass(&b, 5 * MINUTE);
    ck_assert(!heat.open); /* not believed yet, whatever it looked like */
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, MINUTE);
    ck_assert(!b.loads[HEATER].draw.untold);
    ck_assert(!heat.open);
}
END_TEST

START_TEST(test_a_true_opening_is_proven_when_the_heater_is_switched_off)
{
    heat_until_something_of_its_size_ends();
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 5 * MINUTE);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, MINUTE);
    ck_assert(heat.open);
    ck_assert(heat.known);
}
END_TEST

/* 0.3 kWh, days after it was full: less than it needs. */
START_TEST(test_a_breaker_that_trips_early_in_a_run_makes_no_full_store)
{
    learnt_worth(900000);
    bench_opened_before(&b, HEATER);
    b.loads[HEATER].draw.needs_w = 400;
    bench_until(&b, HEATER, true, MINUTE);
    bench_pass(&b, 5 * MINUTE);
    b.at[HEATER].dead = true;
    bench_pass(&b, 5 * MINUTE);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, MINUTE);
    ck_assert(rules_draw(&b.memory, HEATER)->unexplained);
    ck_assert(!heat.open);
}
END_TEST

START_TEST(test_a_load_that_rests_is_not_found_drawing_nothing_before_a_meter_shows_it)
{
    learnt_worth(900000);
    bench_pass(&b, 2);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 60));
    bench_pass(&b, 10 * MINUTE);
    b.loads[HEATER].draw.satisfied = true;
    b.loads[HEATER].draw.retry_at = mono_after(b.now.mono, MS_PER_HOUR);
    b.meter_silent = true;
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    bench_pass(&b, 2 * MINUTE);
    ck_assert_int_eq(rules_draw(&b.memory, HEATER)->state, DRAW_ASSUMED);
    ck_assert(b.loads[HEATER].draw.asked); /* still */
}
END_TEST

/* Full at noon; what is worth knowing of it lets every tick say that heat is wanted. */
static void heat_for_long_after_full(void)
{
    learnt_worth(900000);
    b.memory.heat_tick = b.now.mono;
    for (int g = 0; g < HEAT_LEVELS; g++)
        for (int s = 0; s < HEAT_SLOTS; s++)
            for (int sky = 0; sky < HEAT_SKIES; sky++)
                for (int spread = 0; spread < HEAT_SPREADS; spread++)
                    heat.after[s][sky][spread][g] = (HEAT_LEVELS - g) * 400000;
    heat_full(&b.load[HEATER].water, &heat);
    heat.open = false;
    heat.shift_mj -= heat_full_mj(&b.load[HEATER].water) * 3 / 4;
    bench_until(&b, HEATER, true, MINUTE);
    bench_pass(&b, 10 * MINUTE);
    ck_assert_int_eq(rules_draw(&b.memory, HEATER)->state, DRAW_SEEN);
}

START_TEST(test_an_opening_hidden_by_an_oven_is_soon_found_out)
{
    heat_for_long_after_full();
    b.rest_w = 3600; /* in the same moment */
    b.at[HEATER].thermostat_open = true;
    ck_assert_int_gt(bench_until(&b, HEATER, false, 90 * MINUTE), 0);
    ck_assert_int_eq(bench_reason(&b, HEATER), REASON_OFF_WORTH);
    bench_pass(&b, MINUTE);
    ck_assert(heat.open);
    ck_assert(!b.loads[HEATER].draw.doubted);
}
END_TEST

START_TEST(test_a_store_that_takes_more_than_was_known_is_doubted_once_and_heats_on)
{
    heat_for_long_after_full();
    ck_assert_int_gt(bench_until(&b, HEATER, false, 90 * MINUTE), 0);
    bench_pass(&b, MINUTE);
    ck_assert(!heat.open);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 30 * MINUTE), 0);
    bench_pass(&b, 60 * MINUTE);
    ck_assert(bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_a_doubt_that_no_meter_could_settle_says_nothing)
{
    heat_for_long_after_full();
    b.meter_silent = true;
    ck_assert_int_gt(bench_until(&b, HEATER, false, 90 * MINUTE), 0);
    b.meter_silent = false;
    bench_pass(&b, MINUTE);
    ck_assert(!heat.open);
    ck_assert(!b.loads[HEATER].draw.doubted);
    ck_assert_int_gt(bench_until(&b, HEATER, true, 30 * MINUTE), 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_heat_is_bought_ahead_once_its_worth_passes_the_price,
        test_prices_a_little_apart_do_not_switch,
        test_what_a_load_could_take_counts_its_own_draw_once,
        test_heat_bought_ahead_needs_no_reading,
        test_worth_becomes_the_start_fraction,
        test_where_export_is_credited_in_full_heat_is_bought_or_left,
        test_what_is_worth_less_than_its_feed_in_leaves_even_spare_power,
        test_a_full_store_leaves_even_spare_power,
        test_while_the_clock_is_not_set_the_fraction_is_derived,
        test_in_the_first_days_it_is_hot_whatever_it_costs,
        test_hours_bind_heat_ahead_and_a_floor_counts_it,
        test_an_opening_remembered_from_before_is_no_news,
        test_what_learns_no_more_is_bought_ahead_no_more,
        test_what_speaks_against_running_speaks_against_heat_ahead,
        test_an_oven_that_ends_is_found_out_when_the_heater_is_switched_off,
        test_a_true_opening_is_proven_when_the_heater_is_switched_off,
        test_a_breaker_that_trips_early_in_a_run_makes_no_full_store,
        test_a_load_that_rests_is_not_found_drawing_nothing_before_a_meter_shows_it,
        test_an_opening_hidden_by_an_oven_is_soon_found_out,
        test_a_store_that_takes_more_than_was_known_is_doubted_once_and_heats_on,
        test_a_doubt_that_no_meter_could_settle_says_nothing,
    };
    return bench_run_tests("worth", tests, sizeof tests / sizeof tests[0]);
}
