/* test_household.c - days that are some other home's, another unit or column, or half a
 * year, and what is said of them. */
#include "days/household.h"

#include <math.h>
#include <stdio.h>

#include "../core/suite.h"
#include "made_days.h"

static const struct date first = {2026, 1, 1};
static struct days_report report;

static void look_at(const struct days *days, double array_kwp)
{
    struct days_halves halves;
    report = (struct days_report){0};
    ck_assert(days_halves_make(days, &brisbane, &halves));
    days_doubt_household(days, &halves, array_kwp, false, "days.csv", &report);
    days_halves_free(&halves);
    ck_assert_uint_eq(report.stop_count, 0);
}

static void look_at_made(int count, made_step *step, double array_kwp, bool at_meter)
{
    struct days days = made_days(&brisbane, first, count, 1800, step);
    days.at_meter = at_meter;
    look_at(&days, array_kwp);
    days_free(&days);
}

static bool says(const char *wanted)
{
    for (int k = 0; k < report.count; k++)
        if (strstr(report.item[k].text, wanted))
            return true;
    return false;
}

static void expect_only(const char *wanted)
{
    ck_assert_msg(report.count == (wanted ? 1 : 0) && (!wanted || says(wanted)),
                  "wanted %s; got %d, first %s", wanted ? wanted : "nothing", report.count,
                  report.count ? report.item[0].text : "-");
}

START_TEST(test_an_ordinary_year_raises_no_doubt)
{
    look_at_made(365, made_ordinary, 4.5, false);
    expect_only(NULL);
    look_at_made(365, made_ordinary, 0, false); /* no array is known */
    expect_only(NULL);
}
END_TEST

/* What is above a kilowatt, read with its separator as the decimal mark. */
static void thousands(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    *solar_w = *solar_w > 1000 ? *solar_w / 1000 : *solar_w;
}

START_TEST(test_a_sun_that_is_a_part_of_what_is_usual)
{
    look_at_made(365, thousands, 4.5, false);
    ck_assert(says("kWh a year from 4.5 kWp: "));
    ck_assert(says("of what is usual: thousands separators, kW given as W"));
    ck_assert(says("the largest half hour of the sun is 1.0 kW, and the array 4.5 kWp"));
    look_at_made(365, made_ordinary, 1, false);
    ck_assert(says("times what is usual: is the array's size right"));
    ck_assert(says("the largest half hour of the sun is 4.0 kW, and the array 1 kWp"));
    look_at_made(30, made_ordinary, 70, false);
    ck_assert(says("kWh in all from 70 kWp: a tenth of what is usual"));
}
END_TEST

static void no_sun(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    *solar_w = 0;
}

START_TEST(test_without_sun_or_export_there_is_no_surplus)
{
    look_at_made(365, no_sun, 4.5, false);
    expect_only("neither sun nor export in it: without one of them there is no surplus");
}
END_TEST

static void exchanged(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, solar_w, use_w);
}

START_TEST(test_export_at_night_is_import)
{
    look_at_made(365, exchanged, 0, true);
    ck_assert(says("% of the export is between 22:00 and 3:00: are import and export exchanged"));
    look_at_made(365, exchanged, 0, false);
    ck_assert(says("% of the sun is between 22:00 and 3:00: are the columns exchanged"));
}
END_TEST

static void follows(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    *use_w = 100 + *use_w / 10 + 0.8 * *solar_w;
}

START_TEST(test_use_that_follows_the_sun_is_no_household)
{
    look_at_made(365, follows, 4.5, false);
    ck_assert(says("use follows the sun (correlation "));
}
END_TEST

static void kilowatts(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    *use_w = *use_w / 20;
}

START_TEST(test_use_that_is_no_homes)
{
    look_at_made(365, kilowatts, 4.5, false);
    ck_assert(says("kWh a day: kW given as W, or does no one live there?"));
}
END_TEST

static void away(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    if (day >= 40 && day < 47)
        *use_w = day % 2;
    if (day == 100 && second < 4 * 3600)
        *use_w = 0;
}

START_TEST(test_hours_with_almost_no_use)
{
    look_at_made(365, away, 4.5, false);
    expect_only("7 d 4 h with almost no use (below 20 W), in 2 stretches, the longest of 7 d from "
                "10 Feb 2026 00:00");
}
END_TEST

/* By day nothing is imported: that is the roof. */
static void self_sufficient(int day, int32_t second, double *use_w, double *solar_w)
{
    double use, sun;
    made_ordinary(day, second, &use, &sun);
    *use_w = fmax(use - sun, 0);
    *solar_w = fmax(sun - use, 0);
}

START_TEST(test_no_import_while_there_is_export_is_no_gap)
{
    look_at_made(365, self_sufficient, 4.5, true);
    expect_only(NULL);
}
END_TEST

static void stuck(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    if (day >= 10 && day < 12)
        *use_w = 412;
}

START_TEST(test_a_value_that_stays_for_half_a_day)
{
    look_at_made(365, stuck, 4.5, false);
    expect_only("the same use for 2 d from 11 Jan 2026 00:00");
}
END_TEST

START_TEST(test_half_a_year_lacks_seasons)
{
    look_at_made(150, made_ordinary, 4.5, false);
    expect_only("150 days, hardly anything of Jun-Aug and Sep-Nov, not a whole year");
}
END_TEST

static void with_heater(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    *use_w += second >= 23 * 3600 || second < 3600 ? 3600 : 0;
}

START_TEST(test_night_steps_are_told_with_what_takes_them_out)
{
    look_at_made(365, with_heater, 4.5, false);
    expect_only("night steps of 3.6 kW from 23:00 on 364 of 364 nights: an existing heater, take "
                "it out? --heater-in-data \"23:00-01:00 3.6 kW\"");
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_an_ordinary_year_raises_no_doubt,
        test_a_sun_that_is_a_part_of_what_is_usual,
        test_without_sun_or_export_there_is_no_surplus,
        test_export_at_night_is_import,
        test_use_that_follows_the_sun_is_no_household,
        test_use_that_is_no_homes,
        test_hours_with_almost_no_use,
        test_no_import_while_there_is_export_is_no_gap,
        test_a_value_that_stays_for_half_a_day,
        test_half_a_year_lacks_seasons,
        test_night_steps_are_told_with_what_takes_them_out,
    };
    return suite_run("household", tests, COUNT_OF(tests));
}
