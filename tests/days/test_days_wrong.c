/* test_days_wrong.c - tables with something wrong in them: each mistake is named with its
 * line, and nothing is repaired unless the options say how. */
#include "days/days.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../core/suite.h"
#include "table.h"

START_TEST(test_each_mistake_is_named_with_its_line)
{
    static const struct {
        const char *text;
        size_t line;
        const char *wanted;
    } rows[] = {
        {"", 0, "there is nothing in it"},
        {"\n\n", 0, "there is nothing in it"},
        {"time,use_w\n", 0, "there are no rows in it"},
        {"time,use_w\n2026-01-14 00:00,100\n", 0, "one row is no day"},
        {"time,use\n2026-01-14 00:00,100\n", 1, "the unit of column 2, \"use\", is not given"},
        {"time,solar_w\n2026-01-14 00:00,100\n", 1, "no column holds the household's use"},
        {"what,use_w\nnever,100\n", 1, "no column holds the time"},
        {"time,use_w,load_w\n2026-01-14 00:00,1,2\n", 1, "columns 2 and 3 could both be use"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,abc\n", 3, "\"abc\" is no number"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,1.5.2\n", 3, "is no number"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,\"1,234\"\n", 3, "is no number"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,1e999\n", 3, "is no number"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,0x10\n", 3, "is no number"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,100,5\n", 3,
         "3 fields where line 1 has 2 (a decimal comma needs ;"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30\n", 3, "1 field where line 1 has 2"},
        {"time,use_w\n2026-01-14 00:00,100\n\"2026-01-14 00:30,100\n", 3,
         "a quotation mark is not closed"},
        {"time;use_w\n2026-01-14 00:00;1,5\n2026-01-14 00:30;100.5\n", 3,
         "where the decimal mark was \",\" above"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,100\n2026-01-14 00:30,100\n", 4,
         "2026-01-14 00:30 comes twice"},
        {"time,use_w\n2026-01-14 00:00,1\n2026-01-14 00:30,100\n2026-01-14 01:00,2\n"
         "2026-01-14 00:00,3\n",
         5, "2026-01-14 00:00 comes twice"},
        {"time,use_w\n2026-01-14 00:00,1\n2026-01-14 00:30,100\n2026-01-14 01:00,2\n"
         "2026-01-14 01:10,3\n",
         5, "10 min after the row above it, and the step is 30 min"},
        {"time,use_w\n2026-01-14 00:00,1\n2026-01-14 00:07,100\n", 2, "rows are 7 min apart"},
        {"time,use_w\n2026-01-14 00:00,1\n2026-01-14 06:00,100\n", 2, "rows are 6 h apart"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,-300\n", 3,
         "use is -300 W: a household takes power"},
        {"time,use_w,pv_w\n2026-01-14 00:00,100,5\n2026-01-14 00:30,300,-900\n", 3,
         "solar is -900 W"},
        {"time,import_w,export_w,pv_w\n2026-01-14 00:00,100,0,0\n2026-01-14 00:30,0,900,500\n", 3,
         "are import and export, or their signs, exchanged?"},
        {"time,use_w,draw_l\n2026-01-14 00:00,100,5\n2026-01-14 00:30,300,-9\n", 3,
         "hot water cannot be less than none"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-02-30 00:30,100\n", 3, "there is no such date"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 25:30,100\n", 3,
         "there is no such time of day"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:60,100\n", 3,
         "there is no such time of day"},
        {"time,use_w\n2026-01-14 00:00,100\n,100\n", 3, "there is no time"},
        {"time,use_w\n2026-01-14 00:00,100\n14.01.26 00:30,100\n", 3, "a year of four digits"},
        {"time,use_w\n04/03/2026 00:00,100\n04/03/2026 00:30,100\n", 2, "--dates dmy"},
        {"time,use_w\n2026-01-14 00:00:00.25,1\n2026-01-14 00:00:01.25,1\n", 2,
         "whole seconds are expected"},
        {"time,use_w\n176831280,1\n176831281,1\n", 2, "Unix time has 10 digits"},
        {"time,use_w\n2026-01-14 00:00 CET,1\n2026-01-14 01:00 CET,1\n", 2,
         "nothing but an offset such as +11:00"},
        {"time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,9e9\n", 3, "in which unit is it?"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++)
        expect_stop(rows[k].text, NULL, rows[k].line, rows[k].wanted);
}
END_TEST

START_TEST(test_a_file_that_is_not_there_is_named)
{
    struct days days;
    struct days_report report;
    const struct days_options options = {.zone = &brisbane};
    ck_assert(!days_read("/nowhere/days.csv", &options, &days, &report));
    ck_assert_str_eq(report.item[0].place, "/nowhere/days.csv");
    ck_assert_ptr_nonnull(strstr(report.item[0].text, "No such file"));
    ck_assert(!days_read("/tmp", &options, &days, &report));
    ck_assert_ptr_nonnull(strstr(report.item[0].text, "directory"));
}
END_TEST

START_TEST(test_bytes_that_are_no_text_are_named)
{
    const char utf16[] = "\xff\xfet\0i\0m\0e\0,\0u\0s\0e\0\n\0";
    const char nul_later[] = "time,use_w\n2026-01-14 00:00,100\n2026-01-14 00:30,1\0\n";
    struct table table = table_of_bytes(utf16, sizeof(utf16) - 1);
    table_read(&table);
    ck_assert(table_stops(&table, 1, "a NUL byte: plain text in UTF-8 is expected"));
    table = table_of_bytes(nul_later, sizeof(nul_later) - 1);
    table_read(&table);
    ck_assert(table_stops(&table, 3, "a NUL byte"));
}
END_TEST

START_TEST(test_a_line_without_end_is_named)
{
    char *text = malloc(5000000);
    memset(text, 'x', 5000000);
    struct table table = table_of_bytes(text, 5000000);
    table_read(&table);
    ck_assert(table_stops(&table, 1, "a line of over 8192 bytes"));
    ck_assert(!table.read);
    free(text);
}
END_TEST

START_TEST(test_mistakes_are_told_together_but_not_without_end)
{
    char *rows = table_rows("time,use_w\n", 1000, 60, "-900");
    struct table table = table_of(rows);
    table_read(&table);
    ck_assert(!table.read);
    ck_assert_int_eq(table.report.count, DAYS_REPORT_MAX);
    ck_assert(table_stops(&table, 2, "use is -900 W") && table_stops(&table, 9, "use is -900 W"));
    free(rows);
}
END_TEST

/* ---- gaps ---------------------------------------------------------------------------- */

#define GAP                                                                                        \
    "time,use_w,draw_l\n2026-01-14 00:00,100,1\n2026-01-14 01:00,200,2\n2026-01-14 02:00,,\n"      \
    "2026-01-14 05:00,500,5\n2026-01-14 06:00,600,6\n"

START_TEST(test_a_gap_stops_unless_the_options_say_how_to_fill_it)
{
    expect_stop(GAP, NULL, 4, "3 h missing from here: --gaps hold or --gaps day-before");
    const struct days_options hold = {.zone = &brisbane, .gap = DAYS_GAP_HOLDS};
    struct table table = expect_days(GAP, &hold);
    const float use_w[] = {100, 200, 200, 200, 200, 500, 600};
    const float draw_l[] = {1, 2, 0, 0, 0, 5, 6};
    ck_assert_uint_eq(table.days.count, COUNT_OF(use_w));
    for (size_t k = 0; k < COUNT_OF(use_w); k++) {
        ck_assert_float_eq(table.days.use_w[k], use_w[k]);
        ck_assert_float_eq(table.days.draw_l[k], draw_l[k]);
    }
    ck_assert(table_notices(&table, 4, "3 h missing from here: the row before goes on"));
    table_free(&table);
}
END_TEST

/* Two days of hours, each hour as its number; the second lacks 6:00 to 8:00, the first
 * 9:00. */
START_TEST(test_a_gap_is_filled_from_another_day)
{
    char text[4000], *at = text;
    const struct days_options options = {.zone = &brisbane, .gap = DAYS_GAP_DAY_BEFORE};
    at += sprintf(at, "time,use_w\n");
    for (int hour = 0; hour < 48; hour++)
        if ((hour < 30 || hour > 32) && hour != 9)
            at += sprintf(at, "2026-01-%d %02d:00,%d\n", 14 + hour / 24, hour % 24, 100 + hour);
    struct table table = expect_days(text, &options);
    ck_assert_uint_eq(table.days.count, 48);
    ck_assert_float_eq(table.days.use_w[30], 106);
    ck_assert_float_eq(table.days.use_w[32], 108);
    ck_assert_float_eq(table.days.use_w[9], 133);
    ck_assert(table_notices(&table, 11, "1 h missing from here: filled with the same time"));
    table_free(&table);
}
END_TEST

START_TEST(test_a_gap_that_nothing_can_fill_stops)
{
    const struct days_options hold = {.zone = &brisbane, .gap = DAYS_GAP_HOLDS};
    const struct days_options day = {.zone = &brisbane, .gap = DAYS_GAP_DAY_BEFORE};
    expect_stop("time,use_w\n2026-01-14 00:00,NaN\n2026-01-14 01:00,100\n", &hold, 0,
                "nothing to fill the gap at 2026-01-14 00:00 with");
    expect_stop("time,use_w\n2026-01-14 00:00,100\n2026-01-14 01:00,NA\n", &day, 0,
                "nothing to fill the gap at 2026-01-14 01:00 with");
}
END_TEST

/* What was refused is not missing; what is missing beside it is. */
START_TEST(test_a_refused_row_is_no_gap)
{
    static const char *const refused[] = {"2026-01-14 01:00,abc\n", "2026-01-14 01:00,-900\n",
                                          "2026-01-14 01:00\n", "14.01.26 01:00,100\n"};
    for (size_t k = 0; k < COUNT_OF(refused); k++) {
        char text[300];
        snprintf(text, sizeof(text), "time,use_w\n2026-01-14 00:00,70\n%s%s%s", refused[k],
                 "2026-01-14 02:00,80\n2026-01-14 03:00,80\n2026-01-14 04:00,80\n",
                 "2026-01-14 07:00,80\n");
        struct table table = table_of(text);
        table_read(&table);
        ck_assert_uint_eq(table.report.stop_count, 2);
        ck_assert_int_eq(table.report.count, 2);
        ck_assert(table_stops(&table, 7, "2 h missing from here"));
    }
}
END_TEST

START_TEST(test_a_month_that_lacks_stops_whatever_the_options)
{
    const struct days_options hold = {.zone = &brisbane, .gap = DAYS_GAP_HOLDS};
    expect_stop("time,use_w\n2026-01-14 00:00,70\n2026-01-14 01:00,80\n2026-02-14 02:00,80\n",
                &hold, 4, "31 d missing from here: too much to be filled");
    expect_stop("time,use_w\n2026-01-14 00:00,70\n2026-01-14 01:00,80\n2126-01-14 02:00,80\n",
                &hold, 4, "over 400 days away");
}
END_TEST

START_TEST(test_a_year_that_is_none_is_told)
{
    char *rows = table_rows("time,use_w\n", 334 * 24, 3600, "100");
    struct table table = expect_days(rows, NULL);
    ck_assert(table_notices(&table, 0, "334 days: part of a year is missing"));
    table_free(&table);
    free(rows);
}
END_TEST

START_TEST(test_half_a_year_is_told_and_two_months_are_taken_for_none)
{
    char *half = table_rows("time,use_w\n", 182 * 24, 3600, "100");
    char *months = table_rows("time,use_w\n", 62 * 24, 3600, "100");
    struct table table = expect_days(half, NULL);
    ck_assert(table_notices(&table, 0,
                            "182 days: part of a year is missing. Figures are for these "
                            "days alone"));
    table_free(&table);
    table = expect_days(months, NULL);
    ck_assert(!table_notices(&table, 0, "part of a year"));
    table_free(&table);
    free(half);
    free(months);
}
END_TEST

START_TEST(test_whoever_says_which_is_meant_is_not_told_of_the_other)
{
    static const char rows[] = "time,import kWh,night import kWh\n2026-01-14 00:00,0.2,1\n"
                               "2026-01-14 01:00,0.2,1\n2026-01-14 02:00,0.2,1\n";
    struct days_options options = {.zone = &brisbane};
    expect_stop(rows, &options, 1, "could both be import");
    options.column[DAYS_IMPORT].name = "import kWh";
    struct table table = expect_days(rows, &options);
    ck_assert(!table_notices(&table, 1, "is not used"));
    table_free(&table);
}
END_TEST

/* ---- suspicions ------------------------------------------------------------------------ */

START_TEST(test_watts_taken_for_kilowatts_and_the_reverse)
{
    expect_stop("time,use_kw\n2026-01-14 00:00,450\n2026-01-14 01:00,2200\n", NULL, 3,
                "the file says kW, but it looks like W; --use NAME:W reads it so");
    expect_stop("time,use_w\n2026-01-14 00:00,0.45\n2026-01-14 01:00,2.2\n", NULL, 3,
                "the file says W, but it looks like kW; --use NAME:kW reads it so");
    expect_stop("time,use_kwh\n2026-01-14 00:00,450\n2026-01-14 01:00,2200\n", NULL, 3,
                "the file says kWh, but it looks like Wh");
    expect_stop("time,use_w,pv_kw\n2026-01-14 11:00,450,900\n2026-01-14 12:00,450,2200\n", NULL, 3,
                "solar: the file says kW, but it looks like W");
    expect_stop("time,use_w,pv_w\n2026-01-14 11:00,450,0.9\n2026-01-14 12:00,450,2.2\n", NULL, 3,
                "solar: the file says W, but it looks like kW");
    expect_stop("time,use_w,draw_l\n2026-01-14 11:00,450,600\n2026-01-14 12:00,450,0\n", NULL, 2,
                "which makes over 2000 l a day");
}
END_TEST

START_TEST(test_a_unit_that_an_option_tells_is_doubted_as_much)
{
    const struct days_options w = {.zone = &brisbane, .column = {[DAYS_USE] = {"use", DAYS_W}}};
    const struct days_options kw = {.zone = &brisbane, .column = {[DAYS_USE] = {"use", DAYS_KW}}};
    expect_stop("time,use\n2026-01-14 00:00,0.45\n2026-01-14 01:00,2.2\n", &w, 3,
                "the option says W, but it looks like kW; --use NAME:kW reads it so");
    expect_stop("time,use\n2026-01-14 00:00,450\n2026-01-14 01:00,2200\n", &kw, 3,
                "the option says kW, but it looks like W; --use NAME:W reads it so");
}
END_TEST

START_TEST(test_a_trickle_at_night_is_none_with_a_notice)
{
    struct table table = expect_days("time,use_w,pv_w\n2026-01-14 11:00,450,-4\n"
                                     "2026-01-14 12:00,450,700\n2026-01-14 13:00,450,-3\n",
                                     NULL);
    ck_assert_float_eq(table.days.solar_w[0], 0);
    ck_assert(table_notices(&table, 2, "2 values of less than nothing"));
    table_free(&table);
}
END_TEST

/* Noon in Brisbane is 2:00 UTC. */
START_TEST(test_a_sun_at_night_asks_for_the_zone)
{
    struct table table = expect_days("time,use_w,pv_w\n2026-01-14 01:00,450,600\n"
                                     "2026-01-14 02:00,450,700\n2026-01-14 03:00,450,600\n",
                                     NULL);
    ck_assert(
        table_notices(&table, 0, "the middle of the sun is at 02:30 by the zone's standard time"));
    table_free(&table);
}
END_TEST

/* Los Angeles in summer: an hour ahead by the clock, not by standard time; a zone that is
 * an hour and a half off its sun is not remarked on, one of two hours is. */
START_TEST(test_noon_is_by_standard_time_and_need_not_be_exact)
{
    static const struct {
        const char *at;
        bool told;
    } rows[] = {
        {"13:00", false}, {"11:00", false}, {"14:00", false}, {"15:00", true}, {"09:00", true}};
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char text[200];
        const struct days_options options = {.zone = &losangeles};
        int hour = atoi(rows[k].at);
        snprintf(text, sizeof(text),
                 "time,use_w,pv_w\n2026-07-14 %02d:00,450,0\n2026-07-14 %02d:00,450,700\n"
                 "2026-07-14 %02d:00,450,0\n",
                 hour - 1, hour, hour + 1);
        struct table table = expect_days(text, &options);
        ck_assert_msg(table_notices(&table, 0, "far from noon") == rows[k].told, "%s", rows[k].at);
        table_free(&table);
    }
}
END_TEST

/* Four months of half hours from `month` on, lit from sunrise for `lit_hours`. */
static enum days_half half_of(int month, int lit_hours)
{
    enum { ROWS = 28 * 48 };
    static float use_w[ROWS], solar_w[ROWS];
    for (int k = 0; k < ROWS; k++) {
        int from = 24 - lit_hours;
        solar_w[k] = k % 48 >= from && k % 48 < from + 2 * lit_hours ? 900 : 0;
    }
    const struct days days = {
        .first = wall_of_local(&brisbane, days_of_date((struct date){2026, (uint8_t)month, 1}), 0),
        .step_s = 1800,
        .count = ROWS,
        .steps = ROWS,
        .use_w = use_w,
        .solar_w = solar_w};
    return days_half_of_earth(&days, &brisbane);
}

START_TEST(test_long_days_tell_the_half_of_the_earth)
{
    ck_assert_int_eq(half_of(12, 14), DAYS_SOUTH);
    ck_assert_int_eq(half_of(6, 14), DAYS_NORTH);
    /* A valley's winter-like summer, an equinox and the tropics tell nothing. */
    ck_assert_int_eq(half_of(12, 10), DAYS_HALF_UNKNOWN);
    ck_assert_int_eq(half_of(9, 14), DAYS_HALF_UNKNOWN);
    ck_assert_int_eq(half_of(6, 12), DAYS_HALF_UNKNOWN);
}
END_TEST

START_TEST(test_a_misspelt_column_gets_the_nearest)
{
    const struct days_options told = {.zone = &brisbane,
                                      .column = {[DAYS_USE] = {"hosehold", DAYS_W}}};
    expect_stop("time,household\n2026-01-14 00:00,45\n2026-01-14 01:00,220\n", &told, 1,
                "no column \"hosehold\" for use; is \"household\" meant?");
}
END_TEST

START_TEST(test_units_must_fit_what_they_measure)
{
    const struct days_options told = {.zone = &brisbane, .column = {[DAYS_USE] = {"use", DAYS_L}}};
    expect_stop("time,use\n2026-01-14 00:00,45\n2026-01-14 01:00,220\n", &told, 1,
                "l is not a unit of use");
}
END_TEST

/* Whatever the bytes: days without holes, or a stop. */
START_TEST(test_any_bytes_are_read_or_refused)
{
    static const char sample[] = "time;use_kw;pv_w;draw_l\n2026-01-14 11:00;0,45;900;1\n"
                                 "2026-01-14 12:00;0,55;1e2;\"2\"\n2026-01-14T13:00Z;1;;\r\n";
    static const char spice[] = ",;\t\"\n\r.-+eE0:9ZTN/#";
    uint64_t seed = 7;
    for (int round = 0; round < 3000; round++) {
        char bytes[sizeof(sample)];
        memcpy(bytes, sample, sizeof(sample));
        for (int64_t k = seeded_between(&seed, 1, 6); k > 0; k--)
            bytes[seeded_between(&seed, 0, (int64_t)sizeof(sample) - 2)] =
                k == 1 ? (char)seeded_next(&seed)
                       : spice[seeded_between(&seed, 0, sizeof(spice) - 2)];
        struct table table = table_of_bytes(bytes, sizeof(sample) - 1);
        table.options.gap = (enum days_gap)(round % 3);
        table_read(&table);
        ck_assert_msg(table.read == (table.report.stop_count == 0), "round %d", round);
        for (size_t k = 0; k < table.days.count; k++)
            ck_assert(table.days.use_w[k] >= 0 && table.days.solar_w[k] >= 0);
        table_free(&table);
    }
}
END_TEST

/* 1.234 is 1234 where thousands are set apart, and a thousandth of it where decimals are. */
START_TEST(test_a_mark_that_could_set_thousands_apart_stops)
{
    static const char head[] = "time;use_w\n2026-01-14 00:00;100\n";
    static const char *const settled[] = {"12.5", "0.834",  "1234",   "1234.567",
                                          ".5",   "1.2345", "1.234e0"};
    char text[300];
    snprintf(text, sizeof(text),
             "%s2026-01-14 01:00;1.234\n2026-01-14 02:00;834\n2026-01-14 03:00;2.834\n", head);
    expect_stop(text, NULL, 3, "\"1.234\" could have decimals or thousands");
    expect_stop("time;use_w;state\n2026-01-14 00:00;100;1024\n2026-01-14 01:00;1.234;1024\n", NULL,
                3, "\"1.234\" could have decimals or thousands");
    for (size_t k = 0; k < COUNT_OF(settled); k++) {
        snprintf(text, sizeof(text), "%s2026-01-14 01:00;1.234\n2026-01-14 02:00;%s\n", head,
                 settled[k]);
        struct table table = expect_days(text, NULL);
        ck_assert_double_eq_tol((double)table.days.use_w[1], 1.234, 1e-6);
        table_free(&table);
    }
}
END_TEST

/* Less than a hundred bytes would have had half a gigabyte. */
START_TEST(test_a_row_years_away_is_refused)
{
    expect_stop("time,use_w,solar_w\n2022-01-01 00:00:00,1,0\n2022-01-01 00:00:01,1,0\n"
                "2026-01-01 00:00:00,1,0\n",
                NULL, 4, "2026-01-01 00:00 is over 400 days away from the others");
}
END_TEST

/* A pipe's bytes come only once, and one that nobody writes to is not waited for. */
START_TEST(test_a_pipe_is_told_to_be_no_regular_file)
{
    struct table table = {.options = {.zone = &brisbane}};
    strcpy(table.path, "/tmp/sluice-pipe-XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(table.path));
    char pipe[80];
    snprintf(pipe, sizeof(pipe), "%s/pipe", table.path);
    ck_assert_int_eq(mkfifo(pipe, 0600), 0);
    table.read = days_read(pipe, &table.options, &table.days, &table.report);
    unlink(pipe);
    rmdir(table.path);
    ck_assert(!table.read);
    ck_assert_ptr_nonnull(strstr(table.report.item[0].text, "a regular file is expected"));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_each_mistake_is_named_with_its_line,
        test_a_file_that_is_not_there_is_named,
        test_a_mark_that_could_set_thousands_apart_stops,
        test_a_row_years_away_is_refused,
        test_a_pipe_is_told_to_be_no_regular_file,
        test_bytes_that_are_no_text_are_named,
        test_a_line_without_end_is_named,
        test_mistakes_are_told_together_but_not_without_end,
        test_a_gap_stops_unless_the_options_say_how_to_fill_it,
        test_a_gap_is_filled_from_another_day,
        test_a_gap_that_nothing_can_fill_stops,
        test_a_refused_row_is_no_gap,
        test_a_month_that_lacks_stops_whatever_the_options,
        test_a_year_that_is_none_is_told,
        test_half_a_year_is_told_and_two_months_are_taken_for_none,
        test_whoever_says_which_is_meant_is_not_told_of_the_other,
        test_watts_taken_for_kilowatts_and_the_reverse,
        test_a_unit_that_an_option_tells_is_doubted_as_much,
        test_a_trickle_at_night_is_none_with_a_notice,
        test_a_sun_at_night_asks_for_the_zone,
        test_noon_is_by_standard_time_and_need_not_be_exact,
        test_long_days_tell_the_half_of_the_earth,
        test_a_misspelt_column_gets_the_nearest,
        test_units_must_fit_what_they_measure,
        test_any_bytes_are_read_or_refused,
    };
    return suite_run("days with mistakes", tests, COUNT_OF(tests));
}
