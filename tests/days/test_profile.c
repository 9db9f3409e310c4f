/* test_profile.c - half hours, mean days and largest half hours of days whose sums are known
 * beforehand. */
#include "days/profile.h"

#include <math.h>

#include "../core/suite.h"
#include "made_days.h"

static struct days_halves halves;
static struct days_profile profile;

static void look_at(struct days *days, const struct zone *zone)
{
    ck_assert(days_halves_make(days, zone, &halves));
    days_profile_make(&halves, &profile);
}

static void done(struct days *days)
{
    days_halves_free(&halves);
    days_free(days);
}

/* 600 W always; 3 kW of sun for one minute of two from 12:00 to 13:00. */
static void clouds(int day, int32_t second, double *use_w, double *solar_w)
{
    (void)day;
    *use_w = 600;
    *solar_w = second / 3600 == 12 && second / 60 % 2 == 0 ? 3000 : 0;
}

START_TEST(test_import_and_export_are_told_apart_before_they_are_averaged)
{
    struct days days = made_days(&brisbane, (struct date){2026, 1, 14}, 2, 60, clouds);
    look_at(&days, &brisbane);
    ck_assert_int_eq(halves.slot_s, 1800);
    ck_assert_uint_eq(halves.count, 96);
    ck_assert_double_eq_tol(halves.slot[24].w.import, 300, 1e-9);
    ck_assert_double_eq_tol(halves.slot[24].w.export, 1200, 1e-9);
    ck_assert_double_eq_tol(halves.day_kwh.use, 14.4, 1e-9);
    ck_assert_double_eq_tol(halves.day_kwh.sun, 1.5, 1e-9);
    ck_assert_double_eq_tol(halves.day_kwh.import, 14.1, 1e-9);
    ck_assert_double_eq_tol(halves.day_kwh.export, 1.2, 1e-9);
    done(&days);
}
END_TEST

START_TEST(test_at_the_meter_use_and_sun_are_not_known)
{
    struct days days = made_days(&brisbane, (struct date){2026, 1, 14}, 2, 1800, clouds);
    days.at_meter = true;
    look_at(&days, &brisbane);
    ck_assert_double_eq_tol(halves.day_kwh.import, 14.4, 1e-9);
    ck_assert_double_eq_tol(halves.day_kwh.export, 3, 1e-9);
    ck_assert(isnan(halves.day_kwh.use) && isnan(halves.day_kwh.sun));
    done(&days);
}
END_TEST

static void ramp(int day, int32_t second, double *use_w, double *solar_w)
{
    *use_w = 100 * day + second / 3600;
    *solar_w = 0;
}

START_TEST(test_the_mean_day_of_each_season_is_by_the_local_clock)
{
    /* Sydney: 25 h on 5 April, 23 h on 4 October 2026 */
    struct days days = made_days(&sydney, (struct date){2026, 1, 1}, 365, 1800, ramp);
    look_at(&days, &sydney);
    static const int lasts[DAYS_SEASONS] = {90, 92, 92, 91};
    for (int season = 0; season < DAYS_SEASONS; season++)
        ck_assert_int_eq(profile.season[season].days, lasts[season]);
    /* June to August: days 151 to 242, mean 196.5 */
    ck_assert_double_eq_tol(profile.season[2].mean_w[0].use, 19650, 1e-6);
    ck_assert_double_eq_tol(profile.season[2].mean_w[47].use, 19673, 1e-6);
    /* 2:00 comes twice on 5 April (day 94) and never on 4 October (day 276) */
    ck_assert_double_eq_tol(profile.season[1].mean_w[4].use, (92 * 10450.0 + 9400) / 93 + 2, 1e-6);
    ck_assert_double_eq_tol(profile.season[3].mean_w[4].use, (91 * 28800.0 - 27600) / 90 + 2, 1e-6);
    done(&days);
}
END_TEST

START_TEST(test_hours_are_two_half_hours_and_days_may_begin_anywhere)
{
    struct days days = made_days(&brisbane, (struct date){2026, 1, 14}, 3, 3600, ramp);
    days.first.ms += 20 * MS_PER_MIN; /* hours that begin at 20 past */
    look_at(&days, &brisbane);
    ck_assert_int_eq(halves.slot_s, 3600);
    ck_assert_uint_eq(halves.count, 73);
    ck_assert_int_eq(halves.slot[0].second, 0);
    ck_assert_int_eq(halves.slot[0].covered_s, 2400);
    ck_assert_double_eq_tol(halves.slot[1].w.use, 2 / 3.0, 1e-9); /* a third of 0, the rest of 1 */
    ck_assert_double_eq(profile.season[0].mean_w[10].use, profile.season[0].mean_w[11].use);
    done(&days);
}
END_TEST

/* One large half hour after another on day 1, one larger on day 3. */
static void peaks(int day, int32_t second, double *use_w, double *solar_w)
{
    int slot = second / 1800;
    *use_w = day == 1 && slot >= 36 && slot < 40 ? 5000 + 100 * slot
             : day == 3 && slot == 20            ? 9500
             : day == 5 && slot == 2             ? 4000
                                                 : 500;
    *solar_w = 0;
}

START_TEST(test_the_largest_half_hours_are_one_a_day)
{
    struct days days = made_days(&brisbane, (struct date){2026, 1, 14}, 7, 1800, peaks);
    look_at(&days, &brisbane);
    int32_t first = days_of_date((struct date){2026, 1, 14});
    ck_assert_double_eq(profile.import[0].w, 9500);
    ck_assert_int_eq(profile.import[0].day, first + 3);
    ck_assert_int_eq(profile.import[0].second, 36000);
    ck_assert_double_eq(profile.import[1].w, 8900);
    ck_assert_int_eq(profile.import[1].day, first + 1);
    ck_assert_double_eq(profile.import[2].w, 4000);
    ck_assert_double_eq(profile.export[0].w, 0);
    done(&days);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_import_and_export_are_told_apart_before_they_are_averaged,
        test_at_the_meter_use_and_sun_are_not_known,
        test_the_mean_day_of_each_season_is_by_the_local_clock,
        test_hours_are_two_half_hours_and_days_may_begin_anywhere,
        test_the_largest_half_hours_are_one_a_day,
    };
    return suite_run("profile", tests, COUNT_OF(tests));
}
