/* test_belief.c - how full the store is believed to be: shares stay shares, heat is
 * neither made nor lost, and what the thermostat says is believed. */
#include "store.h"

#include <math.h>

static struct store s;

static int64_t full_mj(void)
{
    return heat_full_mj(&s.settings);
}

static void must_be_whole(uint64_t seed, const char *what)
{
    int64_t sum = 0;
    for (int g = 0; g < HEAT_LEVELS; g++) {
        ck_assert_msg(s.memory.belief[g] >= 0, "seed %" PRIu64 " after %s", seed, what);
        sum += s.memory.belief[g];
    }
    ck_assert_msg(sum == BELIEF_WHOLE, "seed %" PRIu64 " after %s: %" PRId64, seed, what, sum);
}

START_TEST(test_shares_are_never_negative_and_always_the_whole)
{
    for (uint64_t seed = 1; seed <= 8; seed++) {
        uint64_t chance = seed;
        store_make(&s);
        for (int k = 0; k < 1500; k++) {
            switch (seeded_between(&chance, 0, 40)) {
            case 0:
                heat_full(&s.settings, &s.memory);
                must_be_whole(seed, "it was full");
                break;
            case 1:
                heat_found(&s.settings, &s.memory, seeded_between(&chance, 0, 1));
                must_be_whole(seed, "it was switched on");
                break;
            case 2:
                heat_goes_on(&s.settings, &s.memory);
                must_be_whole(seed, "it went on drawing");
                break;
            case 3:
                heat_sensed(&s.settings, &s.memory, (int32_t)seeded_between(&chance, 5000, 95000));
                must_be_whole(seed, "a probe spoke");
                break;
            case 4:
            case 5:
            case 6:
                heat_heated(&s.memory, seeded_between(&chance, 0, 4 * J_PER_KWH) * MJ_PER_J);
                break;
            default:
                store_tick_on(&s, (int32_t)seeded_between(&chance, -500, 4000));
                must_be_whole(seed, "a tick");
            }
            ck_assert_int_ge(heat_held_mj(&s.settings, &s.memory), 0);
        }
    }
}
END_TEST

static void draws_nothing(void)
{
    for (int k = 0; k < HEAT_SLOTS; k++)
        s.memory.drawn_j[k] = 0;
}

/* The loss in a day is `loss` at 55 K over the room (AS/NZS 4692.2 tests it so); taken in
 * proportion to what the store, mixed, is over the room: dT/dt = -(T - room) a. */
START_TEST(test_without_draws_it_cools_as_its_nameplate_says)
{
    store_make(&s);
    draws_nothing();
    store_tick_on(&s, 0);
    heat_full(&s.settings, &s.memory);
    for (int k = 0; k < TICKS_PER_DAY; k++)
        store_tick_on(&s, 0);
    double loss_per_k = 2200.0 * 3600 / 55, mass = 315 * 4186.0; /* J a day and K; J/K */
    double warm_c = 20 + 45 * exp(-loss_per_k / mass);
    double held_j = (double)heat_held_mj(&s.settings, &s.memory) / MJ_PER_J;
    ck_assert_double_eq_tol(held_j / mass + 16, warm_c, 0.02);
}
END_TEST

START_TEST(test_the_mean_falls_by_what_is_drawn_and_rises_by_what_is_heated)
{
    store_make(&s);
    s.settings.loss_mwh = 0;
    draws_nothing();
    for (int k = 20; k < 24; k++)
        s.memory.drawn_j[k] = J_PER_KWH / 2;
    store_tick_on(&s, 0);
    heat_full(&s.settings, &s.memory);
    for (int k = 0; k < TICKS_PER_DAY - 1; k++)
        store_tick_on(&s, 0);
    int64_t held_j = (full_mj() - heat_held_mj(&s.settings, &s.memory)) / MJ_PER_J;
    ck_assert_int_le(llabs(held_j - 2 * J_PER_KWH), J_PER_KWH / 10); /* none of it is over full */
    int64_t before_mj = heat_held_mj(&s.settings, &s.memory);
    heat_heated(&s.memory, J_PER_KWH * (int64_t)MJ_PER_J);
    ck_assert_int_eq(heat_held_mj(&s.settings, &s.memory) - before_mj,
                     J_PER_KWH * (int64_t)MJ_PER_J);
}
END_TEST

/* The likeliest least and most, within a level. */
static int64_t end_mj(bool most)
{
    int end = -1;
    for (int g = 0; g < HEAT_LEVELS; g++)
        if (s.memory.belief[g] > 0 && (most || end < 0))
            end = g;
    return end * level_mj(&s.settings) + s.memory.shift_mj;
}

static void unsure_store(void)
{
    store_make(&s);
    for (int g = 0; g < HEAT_LEVELS; g++)
        s.memory.belief[g] = BELIEF_WHOLE / HEAT_LEVELS + (g < BELIEF_WHOLE % HEAT_LEVELS);
}

START_TEST(test_what_draws_has_cooled_below_its_hysteresis)
{
    unsure_store();
    heat_found(&s.settings, &s.memory, true);
    int64_t closes_mj = full_mj() / 49 * 43; /* 59 of 65 degrees, over 16 */
    ck_assert_int_le(end_mj(true), closes_mj + level_mj(&s.settings));
    ck_assert_int_lt(end_mj(false), level_mj(&s.settings));
    ck_assert(heat_takes(&s.memory));
    must_be_whole(0, "it drew");
}
END_TEST

START_TEST(test_what_does_not_draw_is_within_its_hysteresis)
{
    unsure_store();
    heat_found(&s.settings, &s.memory, false);
    int64_t closes_mj = full_mj() / 49 * 43 - full_mj() / 5; /* a tank that layers closes late */
    ck_assert_int_ge(end_mj(false), closes_mj - level_mj(&s.settings));
    ck_assert(!heat_takes(&s.memory));
    must_be_whole(0, "it did not draw");
}
END_TEST

START_TEST(test_what_goes_on_drawing_is_not_more_than_full)
{
    store_make(&s);
    heat_heated(&s.memory, 2 * full_mj());
    heat_goes_on(&s.settings, &s.memory);
    ck_assert_int_le(heat_held_mj(&s.settings, &s.memory), full_mj());
    ck_assert(heat_takes(&s.memory));
}
END_TEST

START_TEST(test_an_open_thermostat_closes_once_it_has_cooled_by_its_hysteresis)
{
    store_make(&s);
    draws_nothing();
    store_tick_on(&s, 0);
    heat_full(&s.settings, &s.memory);
    ck_assert(!heat_takes(&s.memory));
    ck_assert_int_ge(heat_held_mj(&s.settings, &s.memory), full_mj() - J_PER_KWH);
    int64_t ticks = 0;
    while (!heat_takes(&s.memory) && ticks < 10 * TICKS_PER_DAY) {
        store_tick_on(&s, 0);
        ticks++;
    }
    /* 65 to 59 degrees, at 45 to 39 K over the room: ln(45 / 39) mass / loss_per_k */
    double days = log(45.0 / 39) * 315 * 4186 / (2200 * 3600.0 / 55);
    ck_assert_double_eq_tol((double)ticks / TICKS_PER_DAY, days, 0.05 * days);
}
END_TEST

/* Half way up and cold: at most the half above is hot. Then hot: at least that half is. */
START_TEST(test_a_probe_at_a_height_rules_out_what_cannot_be)
{
    store_make(&s);
    s.settings.probed = true;
    s.settings.probe_permille = 500;
    int64_t full_mj = heat_full_mj(&s.settings), level = level_mj(&s.settings);
    heat_full(&s.settings, &s.memory);
    heat_sensed(&s.settings, &s.memory, s.settings.cold_mc);
    ck_assert_int_le(heat_held_mj(&s.settings, &s.memory), full_mj / 2 + 2 * level);
    ck_assert_int_le(s.memory.hot_mj, full_mj / 2);
    s.memory.hot_mj = 0;
    s.memory.shift_mj -= full_mj / 4;
    heat_sensed(&s.settings, &s.memory, s.settings.set_mc);
    ck_assert_int_ge(heat_held_mj(&s.settings, &s.memory), full_mj / 2 - 2 * level);
    ck_assert_int_ge(s.memory.hot_mj, full_mj / 2 - level);
}
END_TEST

/* 315 L at 49 K over the mains: 18 kWh. Nine are drawn and three heated: of twelve three are in
 * the water below the hot, of which they make 16 K over the mains; nine more make it hot. */
START_TEST(test_heat_goes_below_the_hot_water_until_that_is_warm_as_well)
{
    store_make(&s);
    s.settings.loss_mwh = 0;
    int64_t full_mj = heat_full_mj(&s.settings);
    heat_full(&s.settings, &s.memory);
    for (int k = 0; k < HEAT_SLOTS; k++)
        s.memory.drawn_j[k] = k == 0 ? (int32_t)(full_mj / 2 / MJ_PER_J) : 0;
    s.memory.at.second = 0;
    store_tick(&s.settings, &s.memory, HEAT_SLOT_S * (int64_t)MS_PER_S);
    ck_assert_int_le(llabs(s.memory.hot_mj - full_mj / 2), level_mj(&s.settings));
    s.memory.at.second = HEAT_SLOT_S;
    heat_heated(&s.memory, full_mj / 6);
    store_tick(&s.settings, &s.memory, HEAT_TICK_MS);
    ck_assert_int_le(llabs(s.memory.hot_mj - full_mj / 2), level_mj(&s.settings));
    heat_heated(&s.memory, full_mj / 6);
    store_tick(&s.settings, &s.memory, HEAT_TICK_MS);
    ck_assert_int_gt(s.memory.hot_mj, full_mj * 4 / 5);
}
END_TEST

START_TEST(test_a_probe_is_believed_as_it_stands)
{
    store_make(&s);
    heat_sensed(&s.settings, &s.memory, 40500);
    double mass = 315 * 4186.0;
    ck_assert_double_eq_tol((double)heat_held_mj(&s.settings, &s.memory) / MJ_PER_J / mass + 16,
                            40.5, 0.01);
    heat_sensed(&s.settings, &s.memory, 3000); /* colder than the mains */
    ck_assert_int_eq(heat_held_mj(&s.settings, &s.memory), 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_shares_are_never_negative_and_always_the_whole,
        test_without_draws_it_cools_as_its_nameplate_says,
        test_the_mean_falls_by_what_is_drawn_and_rises_by_what_is_heated,
        test_what_draws_has_cooled_below_its_hysteresis,
        test_what_does_not_draw_is_within_its_hysteresis,
        test_what_goes_on_drawing_is_not_more_than_full,
        test_an_open_thermostat_closes_once_it_has_cooled_by_its_hysteresis,
        test_a_probe_is_believed_as_it_stands,
        test_a_probe_at_a_height_rules_out_what_cannot_be,
        test_heat_goes_below_the_hot_water_until_that_is_warm_as_well,
    };
    return suite_run("belief", tests, COUNT_OF(tests));
}
