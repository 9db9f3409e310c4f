/* Appliances that come by the clock, and those that come when they like. */
#include "house/household.h"

#include <math.h>

#include "suite.h"

static const struct household_chance shower = {.power_w = 3600,
                                               .phases = 2,
                                               .a_day = 5,
                                               .from_s = 6 * 3600,
                                               .to_s = 22 * 3600,
                                               .least_s = 240,
                                               .most_s = 720};

static struct household_settings house_with(struct household_chance chance, uint64_t seed)
{
    return (struct household_settings){
        .phase_count = 3, .seed = seed, .chance_count = 1, .chance[0] = chance};
}

struct seen {
    long uses, seconds_on;
    double energy_j, shortest_s, longest_s, least_w, most_w;
    bool outside; /* began out of hours */
};

/* L2 over so many days; the other phases have nothing. */
static struct seen watch(const struct household_settings *settings, int days)
{
    struct household household;
    household_init(&household, settings);
    struct seen seen = {.shortest_s = INFINITY, .least_w = INFINITY};
    double run_s = 0, others_w = 0;
    for (long s = 0; s < days * 86400L; s++) {
        double w[PHASES_MAX];
        int32_t now_s = (int32_t)(s % 86400);
        household_step_w(&household, now_s, 1, w);
        others_w += w[0] + w[2];
        if (w[1] > 0 && run_s == 0) {
            seen.uses++;
            seen.outside |= now_s < settings->chance[0].from_s || now_s >= settings->chance[0].to_s;
        }
        if (w[1] > 0) {
            run_s++;
            seen.seconds_on++;
            seen.energy_j += w[1];
            seen.least_w = fmin(seen.least_w, w[1]);
            seen.most_w = fmax(seen.most_w, w[1]);
        } else if (run_s > 0) {
            seen.shortest_s = fmin(seen.shortest_s, run_s);
            seen.longest_s = fmax(seen.longest_s, run_s);
            run_s = 0;
        }
    }
    ck_assert_double_eq(others_w, 0);
    return seen;
}

/* 5 a day for 200 days: 1000, three standard deviations of a Poisson count are 95; while
 * one runs no other begins, which takes a twentieth of them. */
START_TEST(test_random_appliances_come_as_often_and_as_long_as_told)
{
    struct household_settings settings = house_with(shower, 4);
    struct seen seen = watch(&settings, 200);
    ck_assert_double_eq_tol((double)seen.uses, 950, 100);
    ck_assert_double_ge(seen.shortest_s, 240);
    ck_assert_double_le(seen.longest_s, 721);
    ck_assert_double_lt(seen.shortest_s, 260);
    ck_assert_double_gt(seen.longest_s, 700);
    ck_assert_double_eq_tol((double)seen.seconds_on / (double)seen.uses, 480, 20);
    ck_assert(!seen.outside);
    ck_assert_double_eq(seen.least_w, 3600);
    ck_assert_double_eq(seen.most_w, 3600);
}
END_TEST

START_TEST(test_chance_repeats_by_its_seed)
{
    struct household_settings one = house_with(shower, 4), other = house_with(shower, 5);
    ck_assert_double_eq(watch(&one, 5).energy_j, watch(&one, 5).energy_j);
    ck_assert_double_ne(watch(&one, 5).energy_j, watch(&other, 5).energy_j);
}
END_TEST

START_TEST(test_each_use_has_its_own_power_within_the_spread)
{
    struct household_settings settings = house_with(shower, 4);
    settings.chance[0].power_spread = 0.05;
    struct seen seen = watch(&settings, 100);
    ck_assert_double_ge(seen.least_w, 0.95 * 3600);
    ck_assert_double_le(seen.most_w, 1.05 * 3600);
    ck_assert_double_lt(seen.least_w, 0.96 * 3600);
    ck_assert_double_gt(seen.most_w, 1.04 * 3600);
}
END_TEST

START_TEST(test_a_cycling_one_goes_on_and_off_meanwhile)
{
    struct household_settings settings = house_with(shower, 4);
    settings.chance[0].on_s = 60;
    settings.chance[0].off_s = 30;
    struct seen whole = watch(
                    &(struct household_settings){
                        .phase_count = 3, .seed = 4, .chance_count = 1, .chance[0] = shower},
                    100),
                cycling = watch(&settings, 100);
    ck_assert_int_gt((int)cycling.uses, 4 * (int)whole.uses);
    ck_assert_double_le(cycling.longest_s, 72 + 1);
    double share = (double)cycling.seconds_on / (double)cycling.uses;
    ck_assert_double_eq_tol(share, 57, 4); /* 60 s, and the last cut short */
}
END_TEST

START_TEST(test_appliances_by_the_clock_keep_to_it_past_midnight)
{
    struct household_settings settings = {
        .phase_count = 1,
        .event_count = 1,
        .event[0] = {.from_s = 23 * 3600, .to_s = 3600, .power_w = 2400, .phases = 1}};
    struct household household;
    household_init(&household, &settings);
    long seconds = 0, wrong = 0;
    for (int32_t s = 0; s < 86400; s++) {
        double w[PHASES_MAX];
        household_step_w(&household, s, 1, w);
        wrong += (w[0] > 0) != (s < 3600 || s >= 23 * 3600);
        seconds += w[0] > 0;
    }
    ck_assert_int_eq((int)wrong, 0);
    ck_assert_int_eq((int)seconds, 7200);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_random_appliances_come_as_often_and_as_long_as_told,
        test_chance_repeats_by_its_seed,
        test_each_use_has_its_own_power_within_the_spread,
        test_a_cycling_one_goes_on_and_off_meanwhile,
        test_appliances_by_the_clock_keep_to_it_past_midnight,
    };
    return RUN("household", tests);
}
