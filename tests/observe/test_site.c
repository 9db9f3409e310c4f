/* test_site.c - do the meters live. */
#include "observe/turns.h"

static struct bench bench;
static int32_t grid_w, solar_w;
static uint32_t sequence;

static void look(bool meter_reads, int64_t ms)
{
    bench.now.mono.ms += ms;
    bench.now.wall.ms += ms;
    sequence += meter_reads;
    bench.reading.grid.sequence = sequence;
    bench.reading.grid_power_w = grid_w;
    bench.reading.solar_power_w = solar_w;
    struct findings_input input = {.now = bench.now,
                                   .local_s = (int32_t)(bench.now.wall.ms / 1000 % 86400),
                                   .reading = &bench.reading,
                                   .loads = bench.load};
    findings_turn(&bench.settings, &bench.memory, &input);
}

static void begin(void)
{
    bench_begin(&bench);
    sequence = 1000;
    grid_w = 300;
    look(true, 1000);
}

START_TEST(test_a_meter_that_repeats_one_value_for_hours_is_stuck)
{
    begin();
    for (int k = 0; k < 30 * 60; k++)
        look(true, 1000);
    bench_nothing(&bench);
    for (int k = 0; k < 3 * 3600; k++)
        look(true, 1000);
    const struct finding *finding = bench_find(&bench, FINDING_METER_STUCK);
    ck_assert(finding);
    ck_assert_int_ge(finding->number[0], 2 * HOUR);
    ck_assert_int_eq(finding->sure_permille, 0); /* a rule: no odds were weighed */
    grid_w = 310;
    look(true, 1000);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_meter_that_is_silent_is_not_stuck)
{
    begin();
    for (int k = 0; k < 10 * 3600; k++)
        look(false, 1000);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_coarse_meter_in_a_house_that_keeps_still_at_night_is_not_stuck)
{
    begin();
    for (int night = 0; night < 10; night++) {
        for (int k = 0; k < 90 * 60; k++)
            look(true, 1000);
        grid_w ^= 100;
        look(true, 1000);
    }
    for (int k = 0; k < 3 * 3600; k++)
        look(true, 1000);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_dead_meter_makes_no_dead_element)
{
    begin();
    for (int k = 0; k < 200; k++) {
        look(true, 15 * MS_PER_MIN);
        struct experiment flat =
            bench_experiment_of(&bench, k % 2 ? EXPERIMENT_STOP : EXPERIMENT_START, 0, false);
        struct findings_input input = {.now = bench.now,
                                       .local_s = -1,
                                       .reading = &bench.reading,
                                       .experiments = &flat,
                                       .experiment_count = 1,
                                       .loads = bench.load};
        findings_turn(&bench.settings, &bench.memory, &input);
        ck_assert(!bench_find(&bench, FINDING_NO_POWER));
    }
    ck_assert(bench_find(&bench, FINDING_METER_STUCK));
}
END_TEST

/* A day of looks each minute; the sun from 6:00 to 18:00. */
static void day(int32_t noon_w)
{
    for (int minute = 0; minute < 24 * 60; minute++) {
        int32_t second = (int32_t)(bench.now.wall.ms / 1000 % 86400);
        solar_w = second >= 6 * 3600 && second < 18 * 3600 ? noon_w : 0;
        grid_w = 300 + minute % 2;
        look(true, MS_PER_MIN);
    }
}

static void begin_with_roof(void)
{
    begin();
    bench.settings.solar = true;
    bench.reading.has |= HAS_SOLAR_POWER;
    bench.reading.solar.quality = READING_FRESH;
}

START_TEST(test_a_roof_that_gives_nothing_for_two_days_of_the_houses_own_daylight_is_told)
{
    begin_with_roof();
    for (int k = 0; k < 10; k++)
        day(2000);
    day(0);
    bench_nothing(&bench); /* a storm */
    day(0);
    const struct finding *finding = bench_find(&bench, FINDING_SOLAR_GONE);
    ck_assert(finding);
    ck_assert_int_ge(finding->number[0], 6 * HOUR);
    day(2000);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_dull_day_and_a_new_house_are_no_dead_roof)
{
    begin_with_roof();
    day(0);
    day(0);
    bench_nothing(&bench);
    for (int k = 0; k < 20; k++)
        day(k % 5 == 0 ? 20 : 2000);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_without_a_clock_there_is_no_daylight)
{
    begin_with_roof();
    for (int k = 0; k < 10; k++)
        day(2000);
    for (int minute = 0; minute < 24 * 60; minute++) {
        struct findings_input input = {
            .now = bench.now, .local_s = -1, .reading = &bench.reading, .loads = bench.load};
        bench.now.mono.ms += MS_PER_MIN;
        bench.reading.solar_power_w = 0;
        findings_turn(&bench.settings, &bench.memory, &input);
    }
    ck_assert(!bench_find(&bench, FINDING_SOLAR_GONE));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_meter_that_repeats_one_value_for_hours_is_stuck,
        test_a_meter_that_is_silent_is_not_stuck,
        test_a_coarse_meter_in_a_house_that_keeps_still_at_night_is_not_stuck,
        test_a_dead_meter_makes_no_dead_element,
        test_a_roof_that_gives_nothing_for_two_days_of_the_houses_own_daylight_is_told,
        test_a_dull_day_and_a_new_house_are_no_dead_roof,
        test_without_a_clock_there_is_no_daylight,
    };
    return suite_run("site", tests, COUNT_OF(tests));
}
