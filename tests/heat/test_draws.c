/* test_draws.c - learning how much is drawn, from when the thermostat opens. */
#include "store.h"

#include <math.h>

enum { DAYS = 40, DAYS_LONG = 160, DAYS_MEASURED = 10 };

/* A house whose days are drawn at these times, each by chance a little more or less. */
struct household {
    int64_t kwh_permille[HEAT_SLOTS]; /* of a kWh */
};

static struct store s;

static int64_t drawn_in_slot_j(const struct household *house, int slot, uint64_t *chance)
{
    return house->kwh_permille[slot] * (J_PER_KWH / 1000) * seeded_between(chance, 700, 1300) /
           1000;
}

/* The tank itself: a store without layers, whose thermostat opens when it is full. */
struct tank {
    int64_t held_mj;
    bool on;
};

static void tank_loses(struct tank *tank, int64_t drawn_mj)
{
    double mass = 315 * 4186.0 * MJ_PER_J;
    double over_k = (double)tank->held_mj / mass + 16 - 20;
    double loss_mj = 2.2 * J_PER_KWH * MJ_PER_J * over_k / 55 / TICKS_PER_DAY;
    tank->held_mj -= drawn_mj + (int64_t)loss_mj;
    tank->held_mj = tank->held_mj < 0 ? 0 : tank->held_mj;
}

/* How steady is judged by the days remembered. What they had to spare isn't looked at here: of
 * no days at any other time, nothing is reckoned from them. */
static void opens_after(int days)
{
    s.memory.days = (uint8_t)(days < HEAT_DAYS ? days : HEAT_DAYS);
    heat_full(&s.settings, &s.memory);
    s.memory.days = 0;
}

static void tank_is_heated(struct tank *tank, int days)
{
    int64_t full_mj = heat_full_mj(&s.settings), heat_mj = 3600 * (int64_t)HEAT_TICK_MS;
    int64_t takes_mj = full_mj - tank->held_mj < heat_mj ? full_mj - tank->held_mj : heat_mj;
    tank->held_mj += takes_mj;
    heat_heated(&s.memory, takes_mj);
    if (tank->held_mj < full_mj)
        return;
    opens_after(days);
    tank->on = false;
}

static int64_t learnt_day_j(void)
{
    int64_t sum = 0;
    for (int k = 0; k < HEAT_SLOTS; k++)
        sum += s.memory.drawn_j[k];
    return sum;
}

/* Learnt by real draws of the last days, as a factor. The heater is switched on at two
 * moments of a day, the same each day or others. */
static double learn(const struct household *house, uint64_t seed, bool same_moments, int days)
{
    struct tank tank = {.held_mj = heat_full_mj(&s.settings)};
    uint64_t chance = seed;
    double real_j = 0, learnt_j = 0;
    for (int d = 0; d < days; d++) {
        int64_t first = same_moments ? 120 : seeded_between(&chance, 0, TICKS_PER_DAY / 2 - 1);
        int64_t second = same_moments ? 240 : seeded_between(&chance, TICKS_PER_DAY / 2, 287);
        for (int k = 0; k < TICKS_PER_DAY; k++) {
            int64_t drawn_j = drawn_in_slot_j(house, k / SLOT_TICKS, &chance) / SLOT_TICKS;
            tank.on |= k == first || k == second;
            tank_loses(&tank, drawn_j * MJ_PER_J);
            if (tank.on)
                tank_is_heated(&tank, d);
            store_tick_unseen(&s);
            real_j += d >= days - DAYS_MEASURED ? (double)drawn_j : 0;
        }
        learnt_j += d >= days - DAYS_MEASURED ? (double)learnt_day_j() : 0;
    }
    return learnt_j / real_j;
}

static struct household random_household(uint64_t seed, int64_t day_permille)
{
    struct household house = {{0}};
    for (int k = 0; k < 8; k++)
        house.kwh_permille[seeded_between(&seed, 12, 46)] += day_permille / 8;
    return house;
}

/* The farthest off, over households. */
static double worst_factor(uint64_t households, int days)
{
    double worst = 1;
    for (uint64_t seed = 1; seed <= households; seed++)
        for (int same = 0; same < 2; same++) {
            uint64_t chance = seed;
            struct household house = random_household(seed, seeded_between(&chance, 3000, 11000));
            store_make(&s);
            double factor = learn(&house, seed, same, days);
            worst = fabs(factor - 1) > fabs(worst - 1) ? factor : worst;
        }
    return worst;
}

/* What is left after 40 days is mostly of the usual day that it began with: from one opening
 * to the next a miss corrects by the part that was expected, so a night of which 1 kWh was
 * presumed and nothing is drawn is corrected by 1 % each time. Over twelve households it was
 * 2.7 % too much on average and 10 % at most, after 160 days 1.1 and 4.6, after 320 days 1.0
 * and 4.1. Loss, reckoned at the mean of what is believed, makes up less than 2 %. */
START_TEST(test_a_days_draws_are_learnt_whatever_their_hours)
{
    double soon = worst_factor(12, DAYS), late = worst_factor(6, DAYS_LONG);
    printf("a day's draws: at worst %.3f after %d days, %.3f after %d\n", soon, DAYS, late,
           DAYS_LONG);
    ck_assert_double_eq_tol(soon, 1, 0.105);
    ck_assert_double_eq_tol(late, 1, 0.05);
}
END_TEST

/* At first such misses look like lumps, which slows it: an eighth is left after 40 days. */
START_TEST(test_an_empty_house_is_soon_known_to_draw_little)
{
    struct household house = {{0}};
    house.kwh_permille[16] = 1;
    store_make(&s);
    int64_t before_j = learnt_day_j();
    learn(&house, 1, true, DAYS);
    ck_assert_int_lt(learnt_day_j(), before_j / 8);
}
END_TEST

START_TEST(test_what_is_learnt_is_never_negative)
{
    for (uint64_t seed = 1; seed <= 40; seed++) {
        uint64_t chance = seed;
        store_make(&s);
        for (int k = 0; k < 2000; k++) {
            store_tick_unseen(&s);
            if (seeded_between(&chance, 0, 30) > 0)
                continue;
            heat_heated(&s.memory, seeded_between(&chance, 0, 6 * J_PER_KWH) * MJ_PER_J);
            opens_after(k / TICKS_PER_DAY);
            for (int slot = 0; slot < HEAT_SLOTS; slot++)
                ck_assert_msg(s.memory.drawn_j[slot] >= 0, "seed %" PRIu64, seed);
            ck_assert_int_ge(s.memory.lump_j, 0);
        }
    }
}
END_TEST

/* A month without an opening is no month of which one knows what was drawn. */
START_TEST(test_an_opening_after_weeks_of_silence_teaches_nothing)
{
    store_make(&s);
    store_tick_on(&s, 0);
    heat_full(&s.settings, &s.memory);
    for (int k = 0; k < 15 * TICKS_PER_DAY; k++)
        store_tick_on(&s, 0);
    int64_t before_j = learnt_day_j();
    heat_heated(&s.memory, 100 * (int64_t)J_PER_KWH * MJ_PER_J);
    heat_full(&s.settings, &s.memory);
    ck_assert_int_eq(learnt_day_j(), before_j);
}
END_TEST

/* 100 kW for 13 days, and 2000 L; the sanitizers see what passes its numbers. */
START_TEST(test_heat_beyond_all_reason_is_learnt_within_its_numbers)
{
    store_make(&s);
    s.settings.volume_ml = 2000000;
    s.settings.set_mc = 90000;
    heat_begin(&s.settings, &s.memory);
    store_tick_on(&s, 0);
    for (int openings = 0; openings < 5; openings++) {
        heat_full(&s.settings, &s.memory);
        for (int k = 0; k < 13 * TICKS_PER_DAY; k++) {
            heat_heated(&s.memory, 100000 * (int64_t)HEAT_TICK_MS);
            heat_goes_on(&s.settings, &s.memory);
            store_tick_on(&s, 32000);
        }
        for (int slot = 0; slot < HEAT_SLOTS; slot++)
            ck_assert_int_ge(s.memory.drawn_j[slot], 0);
        ck_assert_int_ge(s.memory.lump_j, 0);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_days_draws_are_learnt_whatever_their_hours,
        test_an_empty_house_is_soon_known_to_draw_little,
        test_what_is_learnt_is_never_negative,
        test_an_opening_after_weeks_of_silence_teaches_nothing,
        test_heat_beyond_all_reason_is_learnt_within_its_numbers,
    };
    return suite_run("draws", tests, COUNT_OF(tests));
}
