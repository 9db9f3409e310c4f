/* test_days.c - days as they come: gaps in the readings, clocks that step, the days of
 * 23 and 25 hours on which summer time begins and ends. */
#include "store.h"

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
    heat_tick(&s.settings, &s.memory, &s.outlook, &s.local);
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

int main(void)
{
    const TTest *const tests[] = {
        test_it_says_nothing_before_it_has_seen_some_days,
        test_the_oldest_day_is_forgotten_for_the_newest,
        test_a_day_of_23_hours_and_one_of_25_are_days,
        test_a_gap_of_an_hour_or_two_is_taken_as_what_was_before,
        test_a_day_mostly_unseen_is_not_remembered,
        test_a_clock_that_steps_by_days_leaves_shares_and_draws_whole,
    };
    return suite_run("days", tests, COUNT_OF(tests));
}
