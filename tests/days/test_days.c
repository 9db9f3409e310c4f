/* test_days.c - tables as loggers, inverters and retailers write them, read. */
#include "days/days.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../core/suite.h"
#include "table.h"

static int64_t first_s(const struct table *table)
{
    return table->days.first.ms / MS_PER_S;
}

/* From Python: datetime(2026,1,14,0,0,tzinfo=ZoneInfo("Australia/Brisbane")).timestamp() */
enum { BRISBANE_14_JAN = 1768312800 };

/* ---- columns, units, separators ----------------------------------------------------- */

START_TEST(test_names_and_units_are_found_in_the_header)
{
    struct table table = expect_days("time,use_kw,solar_w\n"
                                     "2026-01-14 12:00,0.25,0\n"
                                     "2026-01-14 13:00,1.5,120\n",
                                     NULL);
    ck_assert_int_eq(first_s(&table), BRISBANE_14_JAN + 12 * 3600);
    ck_assert_int_eq(table.days.step_s, 3600);
    ck_assert_uint_eq(table.days.count, 2);
    ck_assert_uint_eq(table.days.steps, 2);
    ck_assert_float_eq(table.days.use_w[0], 250);
    ck_assert_float_eq(table.days.use_w[1], 1500);
    ck_assert_float_eq(table.days.solar_w[1], 120);
    ck_assert_ptr_null(table.days.draw_l);
    ck_assert_int_eq(table.report.count, 0);
    table_free(&table);
}
END_TEST

/* What 100 (or 0.1 of a kilo) makes of a half-hour step. */
START_TEST(test_units_as_they_are_written)
{
    static const struct {
        const char *head, *value;
        float use_w;
    } rows[] = {
        {"Date/Time,House [W]", "100", 100},
        {"timestamp,\"Consumption (kW)\"", "0.1", 100},
        {"timestamp;\"Consumption; kW\"", "0,1", 100},
        {"when\tload_w", "1e2", 100},
        {"time,Load Wh", "100", 200},
        {"time,usage kWh", "0.1", 200},
        {"datetime,Used energy [kWh]", "\"+0.100\"", 200},
        {"Time, Household, Watts ", "100", 0}, /* a comma in it makes three columns */
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char text[200], mark = strpbrk(rows[k].head, ",;\t")[0];
        mark = strchr(rows[k].head, ';') ? ';' : mark;
        snprintf(text, sizeof(text), "%s\n2026-01-14 00:00%c%s\n2026-01-14 00:30%c%s\n",
                 rows[k].head, mark, rows[k].value, mark, rows[k].value);
        if (rows[k].use_w == 0) {
            expect_stop(text, NULL, 2, "2 fields where line 1 has 3");
            continue;
        }
        struct table table = expect_days(text, NULL);
        ck_assert_msg(fabsf(table.days.use_w[1] - rows[k].use_w) < 1e-3f, "%s", rows[k].head);
        table_free(&table);
    }
}
END_TEST

START_TEST(test_sun_per_kwp_times_the_array)
{
    struct days_options options = {.zone = &brisbane, .array_kwp = 6.6};
    const char *text = "time,use_kw,solar_w_per_kwp\n"
                       "2026-01-14 12:00,0.25,500\n"
                       "2026-01-14 12:30,1.5,600\n";
    struct table table = expect_days(text, &options);
    ck_assert_float_eq_tol(table.days.solar_w[0], 3300, 1e-3f);
    table_free(&table);
    options.array_kwp = 0;
    expect_stop(text, &options, 1, "say how many kWp there are with --array");
}
END_TEST

START_TEST(test_hot_water_in_litres_and_litres_an_hour)
{
    struct table litres = expect_days("time,use_w,hot water [l]\n"
                                      "2026-01-14 12:00,250,8\n2026-01-14 12:30,250,0\n",
                                      NULL);
    ck_assert_float_eq(litres.days.draw_l[0], 8);
    ck_assert_int_eq(litres.days.draw_step_s, 1800);
    ck_assert_uint_eq(litres.days.draw_count, 2);
    table_free(&litres);
    struct table flow = expect_days("time,use_w,draw l/h\n"
                                    "2026-01-14 12:00,250,8\n2026-01-14 12:30,250,0\n",
                                    NULL);
    ck_assert_float_eq(flow.days.draw_l[0], 4);
    table_free(&flow);
    struct table quick = expect_days("time,use_w,draw l/min\n"
                                     "2026-01-14 12:00,250,1\n2026-01-14 12:01,250,0\n",
                                     NULL);
    ck_assert_float_eq(quick.days.draw_l[0], 1);
    table_free(&quick);
}
END_TEST

/* Use = import + solar - export. */
START_TEST(test_use_follows_from_import_export_and_sun)
{
    struct table two = expect_days("time,Grid import [W],Grid export [W],PV [W]\n"
                                   "2026-01-14 12:00,0,1500,2000\n2026-01-14 12:30,300,0,100\n",
                                   NULL);
    ck_assert_float_eq(two.days.use_w[0], 500);
    ck_assert_float_eq(two.days.use_w[1], 400);
    table_free(&two);
    struct table one = expect_days("time,grid_kw,pv_kw\n"
                                   "2026-01-14 12:00,-1.5,2\n2026-01-14 12:30,0.3,0.1\n",
                                   NULL);
    ck_assert_float_eq(one.days.use_w[0], 500);
    table_free(&one);
    struct table none =
        expect_days("time,import_w\n2026-01-14 12:00,700\n2026-01-14 12:30,300\n", NULL);
    ck_assert_float_eq(none.days.use_w[0], 700);
    ck_assert_float_eq(none.days.solar_w[0], 0);
    table_free(&none);
}
END_TEST

START_TEST(test_columns_without_names_are_told_by_number)
{
    struct days_options options = {
        .zone = &brisbane, .column = {[DAYS_USE] = {"2", DAYS_KW}, [DAYS_SOLAR] = {"3", DAYS_W}}};
    struct table table =
        expect_days("14.01.2026 00:00;0,5;70\n14.01.2026 00:10;0,6;80\n", &options);
    ck_assert_int_eq(first_s(&table), BRISBANE_14_JAN);
    ck_assert_int_eq(table.days.step_s, 600);
    ck_assert_float_eq(table.days.use_w[0], 500);
    table_free(&table);
}
END_TEST

/* The form of a public data set: names that say nothing, none for the time. */
START_TEST(test_columns_by_name_and_the_time_by_what_is_in_it)
{
    struct days_options options = {
        .zone = &sydney, .column = {[DAYS_USE] = {"gc", DAYS_KW}, [DAYS_SOLAR] = {"GG", DAYS_KW}}};
    struct table table = expect_days(",GC,GG\n2011-07-01 00:00:00,0.392,0.0\n"
                                     "2011-07-01 00:30:00,0.48200000000000004,0.1\n",
                                     &options);
    ck_assert_float_eq_tol(table.days.use_w[1], 482, 1e-3f);
    table_free(&table);
}
END_TEST

START_TEST(test_columns_that_are_not_used_are_told)
{
    struct table table = expect_days("time,use_w,remark,grid_w\n"
                                     "2026-01-14 12:00,70,a,5\n2026-01-14 12:30,70,b,5\n",
                                     NULL);
    ck_assert(table_notices(&table, 1, "column 3, \"remark\", is not used"));
    ck_assert(table_notices(&table, 1, "column 4, grid, is not used: use gives"));
    table_free(&table);
}
END_TEST

/* A battery's power would turn the advice. */
START_TEST(test_power_that_nobody_knows_is_asked_for)
{
    const char *text = "time,use_w,battery_w\n2026-01-14 12:00,70,1\n2026-01-14 12:30,70,1\n";
    expect_stop(text, NULL, 1, "column 3, \"battery_w\", in W: what is it?");
    const struct days_options ignore = {.zone = &brisbane, .ignore = "battery_w"};
    struct table table = expect_days(text, &ignore);
    ck_assert_int_eq(table.report.count, 0);
    table_free(&table);
}
END_TEST

START_TEST(test_marks_line_ends_comments_and_empty_lines)
{
    struct table table = expect_days("\xef\xbb\xbf# a logger's remark\r\n"
                                     "time,use_w\r\n2026-01-14 00:00,70\r\n\r\n"
                                     "2026-01-14 00:30,80\r\n\r\n",
                                     NULL);
    ck_assert_uint_eq(table.days.count, 2);
    ck_assert_float_eq(table.days.use_w[1], 80);
    table_free(&table);
    struct table open_end =
        expect_days("time,use_w\n2026-01-14 00:00,70\n2026-01-14 00:30,81", NULL);
    ck_assert_float_eq(open_end.days.use_w[1], 81);
    table_free(&open_end);
}
END_TEST

/* ---- times --------------------------------------------------------------------------- */

/* All are 2026-01-14 00:00 in Brisbane. */
START_TEST(test_times_as_they_are_written)
{
    static const struct {
        const char *first, *second;
        enum days_clock clock;
        enum days_dates dates;
    } rows[] = {
        {"2026-01-14 00:00", "2026-01-14 00:01", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"2026-01-14T00:00:00.000", "2026-01-14T00:01:00.000", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"2026/01/14 0:00", "2026/01/14 0:01", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"14.1.2026 00:00", "14.1.2026 00:01", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"2026-01-13 24:00", "2026-01-14 00:01", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"14/01/2026 12:00 AM", "14/01/2026 12:01 am", DAYS_LOCAL, DAYS_DATES_DMY},
        {"01/14/2026 00:00", "01/14/2026 00:01", DAYS_LOCAL, DAYS_DATES_MDY},
        {"2026-01-13 14:00", "2026-01-13 14:01", DAYS_UTC, DAYS_DATES_BY_FORM},
        {"2026-01-13 02:00 PM", "2026-01-13 02:01 PM", DAYS_UTC, DAYS_DATES_BY_FORM},
        {"2026-01-13T14:00:00Z", "2026-01-13T14:01:00Z", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"2026-01-13 14:00 UTC", "2026-01-13 14:01 UTC", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"2026-01-14 01:00+11:00", "2026-01-14 01:01+11:00", DAYS_UTC, DAYS_DATES_BY_FORM},
        {"2026-01-13T06:00:00-0800", "2026-01-13T06:01:00-0800", DAYS_UTC, DAYS_DATES_BY_FORM},
        {"1768312800", "1768312860", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"1768312800000", "1768312860000", DAYS_LOCAL, DAYS_DATES_BY_FORM},
        {"1768312800.0", "1768312860.0", DAYS_LOCAL, DAYS_DATES_BY_FORM},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char text[200];
        struct days_options options = {
            .zone = &brisbane, .clock = rows[k].clock, .dates = rows[k].dates};
        snprintf(text, sizeof(text), "time,use_w\n%s,100\n%s,100\n", rows[k].first, rows[k].second);
        struct table table = expect_days(text, &options);
        ck_assert_msg(first_s(&table) == BRISBANE_14_JAN, "%s", rows[k].first);
        ck_assert_int_eq(table.days.step_s, 60);
        table_free(&table);
    }
}
END_TEST

START_TEST(test_date_and_time_in_two_columns)
{
    struct table table =
        expect_days("Date,Time,use_w\n2026-01-14,00:00,70\n2026-01-14,00:30,80\n", NULL);
    ck_assert_int_eq(first_s(&table), BRISBANE_14_JAN);
    table_free(&table);
}
END_TEST

START_TEST(test_times_may_end_the_step)
{
    struct days_options options = {.zone = &brisbane, .time_ends_step = true};
    struct table table =
        expect_days("time,use_w\n2026-01-14 00:30,70\n2026-01-14 01:00,80\n", &options);
    ck_assert_int_eq(first_s(&table), BRISBANE_14_JAN);
    table_free(&table);
}
END_TEST

static void expect_steps(const char *text, const struct days_options *options, size_t count)
{
    struct table table = expect_days(text, options);
    ck_assert_uint_eq(table.days.count, count);
    table_free(&table);
}

/* Sydney 2026: back on Sunday 5 April at 3:00 to 2:00, ahead on 4 October at 2:00 to 3:00. */
START_TEST(test_local_hours_that_lack_and_hours_that_come_twice)
{
    const struct days_options local = {.zone = &sydney};
    expect_steps("time,use_w\n2026-10-04 01:00,1\n2026-10-04 01:30,100\n2026-10-04 03:00,2\n"
                 "2026-10-04 03:30,2\n",
                 &local, 4);
    expect_steps("time,use_w\n2026-04-05 01:30,1\n2026-04-05 02:00,100\n2026-04-05 02:30,2\n"
                 "2026-04-05 02:00,3\n2026-04-05 02:30,4\n2026-04-05 03:00,5\n",
                 &local, 6);
}
END_TEST

START_TEST(test_ends_of_steps_around_clock_changes)
{
    const struct days_options ends = {.zone = &sydney, .time_ends_step = true};
    expect_steps("time,use_w\n2026-10-04 01:30,1\n2026-10-04 02:00,100\n2026-10-04 03:30,2\n",
                 &ends, 3);
    expect_steps("time,use_w\n2026-10-04 01:30,1\n2026-10-04 03:00,100\n2026-10-04 03:30,2\n",
                 &ends, 3);
    expect_steps("time,use_w\n2026-04-05 02:00,1\n2026-04-05 02:30,100\n2026-04-05 02:00,2\n"
                 "2026-04-05 02:30,1\n2026-04-05 03:00,1\n",
                 &ends, 5);
}
END_TEST

START_TEST(test_standard_time_has_neither)
{
    const struct days_options standard = {.zone = &sydney, .clock = DAYS_STANDARD};
    const char *spring = "time,use_w\n2026-10-04 01:30,100\n2026-10-04 02:00,2\n"
                         "2026-10-04 02:30,2\n2026-10-04 03:00,2\n";
    const char *autumn = "time,use_w\n2026-04-05 01:30,100\n2026-04-05 02:00,2\n"
                         "2026-04-05 02:30,2\n2026-04-05 03:00,2\n";
    const struct days_options local = {.zone = &sydney};
    expect_steps(spring, &standard, 4);
    expect_steps(autumn, &standard, 4);
    struct table table = expect_days(spring, &local);
    ck_assert_uint_eq(table.days.count, 4);
    ck_assert(table_notices(&table, 3, "keeps standard time all year round"));
    table_free(&table);
    expect_stop(autumn, &local, 5, "clocks go back there");
}
END_TEST

/* ---- a second file with draws --------------------------------------------------------- */

static char *year_of_draws(int minutes, int marked, int value)
{
    char *text = malloc((size_t)minutes * 7 + 1), *at = text;
    for (int k = 0; k < minutes; k++)
        at += sprintf(at, "%6d\n", k == marked ? value : 0);
    return text;
}

enum { YEAR_MINUTES = 525600 };

/* 14 January, 8:05: minute 13 * 1440 + 485. */
START_TEST(test_draws_are_laid_over_by_the_day_of_the_year)
{
    char *rows = table_rows("time,use_w\n", 24, 3600, "100");
    char *draws = year_of_draws(YEAR_MINUTES, 13 * 1440 + 485, 600);
    struct table table = expect_days(rows, NULL);
    table_read_draws(&table, draws);
    ck_assert(table.read);
    ck_assert_int_eq(table.days.draw_step_s, 60);
    ck_assert_uint_eq(table.days.draw_count, 1440);
    for (size_t k = 0; k < 1440; k++)
        ck_assert_float_eq(table.days.draw_l[k], k == 485 ? 10 : 0);
    table_free(&table);
    free(draws);
    free(rows);
}
END_TEST

/* The taps follow the clock on the wall: at 8:05 in summer time too. */
START_TEST(test_draws_follow_the_local_clock_and_may_be_shifted_by_half_a_year)
{
    char *rows = table_rows("time,use_w\n", 24, 3600, "100");
    char *draws = year_of_draws(YEAR_MINUTES, (13 + 182) * 1440 + 485, 600);
    struct table table = expect_days(rows, &(struct days_options){.zone = &sydney});
    table.options.draw_shift_day = 182;
    table_read_draws(&table, draws);
    ck_assert(table.read);
    ck_assert_float_eq(table.days.draw_l[485], 10);
    table_free(&table);
    free(draws);
    free(rows);
}
END_TEST

START_TEST(test_the_29th_of_february_draws_as_the_28th)
{
    char *draws = year_of_draws(YEAR_MINUTES, 58 * 1440, 60);
    struct table table = expect_days("time,use_w\n2028-02-28 00:00,70\n2028-02-28 01:00,80\n"
                                     "2028-02-28 02:00,80\n",
                                     NULL);
    table_read_draws(&table, draws);
    ck_assert_float_eq(table.days.draw_l[0], 1);
    table_free(&table);
    table = expect_days("time,use_w\n2028-02-29 00:00,70\n2028-02-29 01:00,80\n", NULL);
    table_read_draws(&table, draws);
    ck_assert_float_eq(table.days.draw_l[0], 1);
    table_free(&table);
    free(draws);
}
END_TEST

START_TEST(test_wrong_draws_leave_the_days_as_they_were)
{
    static const struct {
        const char *text;
        size_t line;
        const char *wanted;
    } rows[] = {
        {"0\n0\n0\n", 0, "3 lines: a year of minutes has 525600"},
        {"0\nten\n", 2, "\"ten\": one whole number"},
        {"0\n1.5\n", 2, "\"1.5\": one whole number"},
        {"0\n-4\n", 2, "not a tap's flow"},
        {"0\n60000\n", 2, "not a tap's flow"},
        {"0\n1,2\n", 2, "one whole number"},
        {"", 0, "0 lines"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        struct table table =
            expect_days("time,use_w\n2026-01-14 00:00,70\n2026-01-14 01:00,80\n", NULL);
        table_read_draws(&table, rows[k].text);
        ck_assert(!table.read);
        ck_assert_msg(strstr(table.report.item[0].text, rows[k].wanted), "%s",
                      table.report.item[0].text);
        ck_assert_ptr_null(table.days.draw_l);
        ck_assert_uint_eq(table.days.count, 2);
        table_free(&table);
    }
}
END_TEST

/* ---- even steps ------------------------------------------------------------------------ */

START_TEST(test_even_steps_keep_the_energy)
{
    float use_w[] = {100, 400, 50}, solar_w[] = {0, 1000, 10};
    uint16_t lasts[] = {30, 90, 60};
    const struct days uneven = {
        .step_s = 1, .count = 3, .use_w = use_w, .solar_w = solar_w, .lasts = lasts, .steps = 180};
    struct days even, finer;
    ck_assert(days_in_steps(&uneven, 60, &even));
    ck_assert_uint_eq(even.count, 3);
    ck_assert_ptr_null(even.lasts);
    ck_assert_float_eq(even.use_w[0], 250);
    ck_assert_float_eq(even.solar_w[0], 500);
    ck_assert_float_eq(even.use_w[1], 400);
    ck_assert_float_eq(even.use_w[2], 50);
    ck_assert(days_in_steps(&even, 20, &finer));
    ck_assert_uint_eq(finer.count, 9);
    ck_assert_float_eq(finer.use_w[2], 250);
    ck_assert_float_eq(finer.use_w[3], 400);
    days_free(&finer);
    ck_assert(!days_in_steps(&even, 90, &finer));
    days_free(&even);
}
END_TEST

START_TEST(test_a_day_of_seconds_is_read)
{
    char *rows = table_rows("time,use_w,solar_w\n", 86400, 1, "100.5,300");
    struct table table = expect_days(rows, NULL);
    ck_assert_int_eq(table.days.step_s, 1);
    ck_assert_uint_eq(table.days.count, 86400);
    ck_assert_float_eq(table.days.use_w[86399], 100.5f);
    table_free(&table);
    free(rows);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_names_and_units_are_found_in_the_header,
        test_units_as_they_are_written,
        test_sun_per_kwp_times_the_array,
        test_hot_water_in_litres_and_litres_an_hour,
        test_use_follows_from_import_export_and_sun,
        test_columns_without_names_are_told_by_number,
        test_columns_by_name_and_the_time_by_what_is_in_it,
        test_columns_that_are_not_used_are_told,
        test_power_that_nobody_knows_is_asked_for,
        test_marks_line_ends_comments_and_empty_lines,
        test_times_as_they_are_written,
        test_date_and_time_in_two_columns,
        test_times_may_end_the_step,
        test_local_hours_that_lack_and_hours_that_come_twice,
        test_ends_of_steps_around_clock_changes,
        test_standard_time_has_neither,
        test_draws_are_laid_over_by_the_day_of_the_year,
        test_draws_follow_the_local_clock_and_may_be_shifted_by_half_a_year,
        test_the_29th_of_february_draws_as_the_28th,
        test_wrong_draws_leave_the_days_as_they_were,
        test_even_steps_keep_the_energy,
        test_a_day_of_seconds_is_read,
    };
    return suite_run("days", tests, COUNT_OF(tests));
}
