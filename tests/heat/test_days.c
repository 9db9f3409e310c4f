/* test_days.c - days as they come: gaps in the readings, clocks that step, the days of
 * 23 and 25 hours on which summer time begins and ends. */
#include "store.h"

#include <string.h>

static struct store s;

/* A day of ticks, the local clock changed by so much at three in the morning. */
static void live_day(int32_t spare_w, int32_t change_s)
{
    int32_t day = s.local.day;
    bool changed = change_s == 0;
    while (s.local.day == day) {
        if (!changed && s.local.second == 3 * 3600) {
            s.local.second += change_s;
            changed = true;
        }
        store_tick_on(&s, spare_w);
    }
}

static int16_t newest_w(int slot)
{
    return s.memory.spare_w[s.memory.newest][slot];
}

static void begin_at_midnight(void)
{
    store_make(&s);
    heat_tick(&s.settings, &s.memory, &s.outlook, &s.local, &s.now);
}

START_TEST(test_it_says_nothing_before_it_has_seen_some_days)
{
    begin_at_midnight();
    for (int d = 0; d < HEAT_DAYS_LEAST; d++) {
        ck_assert(!heat_knows(&s.memory));
        live_day(1000, 0);
    }
    ck_assert(heat_knows(&s.memory));
    for (int slot = 0; slot < HEAT_SLOTS; slot++)
        ck_assert_int_eq(newest_w(slot), 1000);
}
END_TEST

START_TEST(test_the_oldest_day_is_forgotten_for_the_newest)
{
    begin_at_midnight();
    for (int d = 0; d < HEAT_DAYS + 2; d++)
        live_day(100 * d, 0);
    ck_assert_int_eq(s.memory.days, HEAT_DAYS);
    ck_assert_int_eq(newest_w(0), 100 * (HEAT_DAYS + 1));
    int32_t least = INT32_MAX;
    for (int d = 0; d < HEAT_DAYS; d++)
        least = s.memory.spare_w[d][0] < least ? s.memory.spare_w[d][0] : least;
    ck_assert_int_eq(least, 200);
}
END_TEST

START_TEST(test_a_day_of_23_hours_and_one_of_25_are_days)
{
    static const int32_t change_s[] = {3600, -3600, 1800, -1800}; /* Lord Howe: half an hour */
    for (size_t k = 0; k < COUNT_OF(change_s); k++) {
        begin_at_midnight();
        live_day(1500, change_s[k]);
        ck_assert_int_eq(s.memory.days, 1);
        for (int slot = 0; slot < HEAT_SLOTS; slot++)
            ck_assert_int_eq(newest_w(slot), 1500);
    }
}
END_TEST

/* Readings are missing for so many half hours from eight in the morning on. */
static void day_with_gap(int slots)
{
    begin_at_midnight();
    while (s.local.day == 20000) {
        int slot = s.local.second / HEAT_SLOT_S;
        if (slot >= 16 && slot < 16 + slots)
            store_tick_unseen(&s);
        else
            store_tick_on(&s, 800);
    }
}

START_TEST(test_a_gap_of_an_hour_or_two_is_taken_as_what_was_before)
{
    day_with_gap(4);
    ck_assert_int_eq(s.memory.days, 1);
    ck_assert_int_eq(newest_w(17), 800);
}
END_TEST

START_TEST(test_a_day_mostly_unseen_is_not_remembered)
{
    day_with_gap(20);
    ck_assert_int_eq(s.memory.days, 0);
}
END_TEST

START_TEST(test_a_clock_that_steps_by_days_leaves_shares_and_draws_whole)
{
    for (uint64_t seed = 1; seed <= 10; seed++) {
        uint64_t chance = seed;
        begin_at_midnight();
        for (int k = 0; k < 600; k++) {
            if (seeded_between(&chance, 0, 50) == 0) {
                s.local.day += (int32_t)seeded_between(&chance, -2, 40);
                s.local.second = (int32_t)seeded_between(&chance, 0, TICKS_PER_DAY - 1) * 300;
            }
            store_tick_on(&s, 1200);
            int64_t sum = 0;
            for (int g = 0; g < HEAT_LEVELS; g++)
                sum += s.memory.belief[g];
            ck_assert_msg(sum == BELIEF_WHOLE, "seed %" PRIu64, seed);
            ck_assert_int_le(s.memory.days, HEAT_DAYS);
        }
        ck_assert_int_ge(s.memory.at.day, 20000 - 60);
    }
}
END_TEST

/* ---- ticks that do not come each five minutes ------------------------------------- */

static void full_at(int32_t hour)
{
    begin_at_midnight();
    while (s.local.second < hour * 3600)
        store_tick_on(&s, 0);
    heat_full(&s.settings, &s.memory);
}

static int64_t passed_ms(void)
{
    int64_t sum = 0;
    for (int slot = 0; slot < HEAT_SLOTS; slot++)
        sum += s.memory.passed_ms[slot];
    return sum;
}

START_TEST(test_ticks_more_often_book_no_more_than_has_passed)
{
    full_at(7);
    for (int k = 0; k < 12; k++)
        store_tick_on(&s, 0);
    int64_t held_mj = heat_held_mj(&s.settings, &s.memory);
    full_at(7);
    for (int k = 1; k <= 60; k++) { /* each minute, as after clocks that step */
        s.local.second = 7 * 3600 + k * 60;
        store_tick_after(&s, MS_PER_MIN);
    }
    ck_assert_int_eq(passed_ms(), MS_PER_HOUR);
    int64_t differs_mj = llabs(heat_held_mj(&s.settings, &s.memory) - held_mj);
    ck_assert_int_lt(differs_mj, J_PER_KWH / 100 * (int64_t)MJ_PER_J);
}
END_TEST

/* 7:25 to 7:50 in one go: five minutes of one half hour and twenty of the next. */
START_TEST(test_a_gap_books_each_half_hour_by_its_part)
{
    full_at(7);
    for (int k = 0; k < 5; k++)
        store_tick_on(&s, 0);
    int64_t before_mj = heat_held_mj(&s.settings, &s.memory), lost_mj = s.memory.lost_mj;
    int64_t drawn_j = s.memory.drawn_j[14] * 5 / 30 + s.memory.drawn_j[15] * 20 / 30;
    s.local.second = 7 * 3600 + 50 * 60;
    store_tick_after(&s, 25 * MS_PER_MIN);
    ck_assert_int_eq(s.memory.passed_ms[14], 30 * MS_PER_MIN);
    ck_assert_int_eq(s.memory.passed_ms[15], 20 * MS_PER_MIN);
    int64_t fell_mj = before_mj - heat_held_mj(&s.settings, &s.memory);
    int64_t due_mj = drawn_j * MJ_PER_J + s.memory.lost_mj - lost_mj;
    ck_assert_int_le(llabs(fell_mj - due_mj), 10 * MJ_PER_J); /* of rounding, some J */
    ck_assert(s.memory.known);
}
END_TEST

/* What was heated meanwhile nobody has seen: the next opening must not call it a draw. */
START_TEST(test_after_a_gap_of_forty_minutes_what_was_drawn_is_not_learnt_from)
{
    full_at(7);
    s.local.second += 40 * 60;
    store_tick_after(&s, 40 * MS_PER_MIN);
    ck_assert(!s.memory.known);
    ck_assert_int_gt(heat_held_mj(&s.settings, &s.memory), heat_full_mj(&s.settings) / 10 * 8);
    int32_t before_j[HEAT_SLOTS];
    memcpy(before_j, s.memory.drawn_j, sizeof(before_j));
    heat_heated(&s.memory, 9 * (int64_t)J_PER_KWH * MJ_PER_J);
    heat_full(&s.settings, &s.memory);
    ck_assert(memcmp(before_j, s.memory.drawn_j, sizeof(before_j)) == 0);
    ck_assert(s.memory.known);
}
END_TEST

START_TEST(test_after_a_gap_of_hours_the_store_is_as_one_never_seen)
{
    full_at(7);
    s.local.second += 3 * 3600;
    store_tick_after(&s, 3 * MS_PER_HOUR);
    ck_assert(!s.memory.known);
    ck_assert(heat_takes(&s.memory));
    ck_assert_int_eq(s.memory.belief[HEAT_LEVELS / 2], BELIEF_WHOLE);
    ck_assert_int_eq(passed_ms(), 0);
}
END_TEST

/* ---- other prices, another tank ---------------------------------------------------- */

/* Booted without a clock at noon of the next day, and twenty minutes of sun until it is set. */
START_TEST(test_sun_seen_before_the_time_is_known_is_not_put_into_the_night_before)
{
    store_make(&s);
    for (int k = 0; k < TICKS_PER_DAY * 5 / 6; k++)
        store_tick_on(&s, -300);
    heat_spare(&s.memory, 4000, 20 * MS_PER_MIN);
    s.local.day++;
    s.local.second = 12 * 3600 + 20 * 60;
    store_tick_after(&s, 16 * MS_PER_HOUR + 20 * MS_PER_MIN);
    for (int k = 0; k < HEAT_SLOTS; k++)
        ck_assert_int_le(s.memory.spare_w[s.memory.newest][k], -300);
}
END_TEST

START_TEST(test_other_prices_hold_from_the_next_tick_and_the_old_worth_until_then)
{
    begin_at_midnight();
    for (int d = 0; d < HEAT_DAYS_LEAST; d++)
        live_day(-300, 0);
    int32_t before_micro = s.memory.worth_micro;
    ck_assert_int_gt(before_micro, 0);
    s.tariff.band[0].price_micro *= 2;
    store_tick_on(&s, -300);
    ck_assert_int_lt(s.memory.worth_micro, before_micro * 3 / 2); /* nobody has told it yet */
    heat_change(&s.settings, &s.settings, &s.memory);
    ck_assert(heat_knows(&s.memory));
    ck_assert_int_lt(s.memory.worth_micro, before_micro * 3 / 2);
    int64_t held_mj = heat_held_mj(&s.settings, &s.memory);
    store_tick_on(&s, -300);
    ck_assert_int_gt(s.memory.worth_micro, before_micro * 3 / 2);
    ck_assert_int_gt(heat_held_mj(&s.settings, &s.memory), held_mj / 2); /* as full as before */
    ck_assert(!s.memory.stale);
}
END_TEST

START_TEST(test_another_tank_begins_anew_and_the_household_does_not)
{
    full_at(7);
    struct heat_settings before = s.settings;
    int32_t drawn_j = s.memory.drawn_j[20] = 12345;
    s.settings.volume_ml /= 2;
    heat_change(&before, &s.settings, &s.memory);
    ck_assert(!s.memory.known);
    ck_assert_int_eq(s.memory.belief[HEAT_LEVELS / 2], BELIEF_WHOLE);
    ck_assert_int_eq(s.memory.drawn_j[20], drawn_j);
    store_tick_on(&s, 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_it_says_nothing_before_it_has_seen_some_days,
        test_the_oldest_day_is_forgotten_for_the_newest,
        test_a_day_of_23_hours_and_one_of_25_are_days,
        test_a_gap_of_an_hour_or_two_is_taken_as_what_was_before,
        test_a_day_mostly_unseen_is_not_remembered,
        test_a_clock_that_steps_by_days_leaves_shares_and_draws_whole,
        test_ticks_more_often_book_no_more_than_has_passed,
        test_a_gap_books_each_half_hour_by_its_part,
        test_after_a_gap_of_forty_minutes_what_was_drawn_is_not_learnt_from,
        test_after_a_gap_of_hours_the_store_is_as_one_never_seen,
        test_sun_seen_before_the_time_is_known_is_not_put_into_the_night_before,
        test_other_prices_hold_from_the_next_tick_and_the_old_worth_until_then,
        test_another_tank_begins_anew_and_the_household_does_not,
    };
    return suite_run("days", tests, COUNT_OF(tests));
}
