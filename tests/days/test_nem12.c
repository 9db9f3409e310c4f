/* test_nem12.c - files as the specification's field table lays them out, written by hand
 * from it: AEMO, Meter Data File Format Specification NEM12 & NEM13, v1.06 (2017),
 * section 4 (records 100, 200, 300, 400, 500, 900). The letters' meanings are from memory. */
#include "days/nem12.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../core/suite.h"
#include "customer_file.h"

/* From Python: datetime(2025,3,1,tzinfo=timezone(timedelta(hours=10))).timestamp() */
enum { AEST_1_MARCH_S = 1740751200 };

#define HEADER "100,NEM12,202503020930,MDP1,RETAILER1\n"
#define END "900\n"
#define E1 "200,NEM1201009,E1B1E2,E1,E1,N1,METSER123,kWh,30,20250601\n"
#define B1 "200,NEM1201009,E1B1E2,B1,B1,N1,METSER123,kWh,30,20250601\n"
#define E2 "200,NEM1201009,E1B1E2,E2,E2,N1,METSER124,kWh,30,20250601\n"

/* A 300 record of `count` values, the first `first` and each the next 0.001 more. */
static const char *day(const char *date, int count, double first, const char *rest)
{
    static char room[8][6000];
    static int next;
    char *text = room[next++ % 8];
    int used = sprintf(text, "300,%s", date);
    for (int k = 0; k < count; k++)
        used += sprintf(text + used, ",%.3f", first + 0.001 * k);
    sprintf(text + used, "%s\n", rest);
    return text;
}

static struct customer_file file;

static void read_text(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void read_text(const char *format, ...)
{
    char *text = NULL;
    va_list arguments;
    if (!file.options.zone)
        customer_begin(&file);
    va_start(arguments, format);
    ck_assert_int_ge(vasprintf(&text, format, arguments), 0);
    va_end(arguments);
    customer_read(&file, days_nem12_read, text, strlen(text));
    free(text);
}

static void expect_read(void)
{
    ck_assert_msg(file.read && file.report.stop_count == 0, "%s", customer_told(&file));
}

static void expect_refused(size_t line, const char *wanted)
{
    ck_assert_msg(customer_stops(&file, line, wanted), "wanted line %zu: %s; got %s", line, wanted,
                  customer_told(&file));
    customer_free(&file);
    customer_begin(&file);
}

#define ACTUAL ",A,,,20250302001500,20250302003000"

START_TEST(test_streams_are_named_by_their_suffix_and_known_by_its_letter)
{
    read_text(HEADER E1 "%s" B1 "%s" E2 "%s" END, day("20250301", 48, 0.1, ACTUAL),
              day("20250301", 48, 0.2, ACTUAL), day("20250301", 48, 1, ACTUAL));
    expect_read();
    ck_assert_int_eq(file.report.count, 0);
    ck_assert_int_eq(file.channels.count, 3);
    static const struct {
        const char *name;
        enum days_role role;
        float first;
        size_t line;
    } rows[] = {
        {"E1", DAYS_IMPORT, 0.1f, 2}, {"B1", DAYS_EXPORT, 0.2f, 4}, {"E2", DAYS_IMPORT, 1, 6}};
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        const struct days_channel *channel = customer_channel(&file, rows[k].name);
        ck_assert_ptr_nonnull(channel);
        ck_assert_int_eq(channel->role, rows[k].role);
        ck_assert_int_eq(channel->unit, DAYS_KWH);
        ck_assert_int_eq(channel->step_s, 1800);
        ck_assert_uint_eq(channel->count, 48);
        ck_assert_float_eq(channel->value[0], rows[k].first);
        ck_assert_float_eq_tol(channel->value[47], rows[k].first + 0.047f, 1e-6f);
        ck_assert_uint_eq(channel->begin.line, rows[k].line);
        ck_assert_uint_eq(days_channel_place(channel, 47).line, rows[k].line + 1);
    }
    customer_free(&file);
}
END_TEST

/* Sydney has summer time on 1 March: its clocks show 1:00 when the first interval begins. */
START_TEST(test_times_are_eastern_standard_time_all_year_round)
{
    read_text(HEADER E1 "%s%s" END, day("20250301", 48, 0, ACTUAL), day("20250302", 48, 0, ACTUAL));
    expect_read();
    const struct days_channel *channel = customer_channel(&file, "E1");
    ck_assert_int_eq(channel->first.ms / MS_PER_S, AEST_1_MARCH_S);
    ck_assert_int_eq(local_of_wall(file.options.zone, channel->first).second, 3600);
    ck_assert_uint_eq(channel->count, 96);
    ck_assert(customer_says(&file, "UTC+10"));
    customer_free(&file);
}
END_TEST

/* 5 April 2025 is the night when Sydney's clocks go back: still 48 intervals a day. */
START_TEST(test_days_of_clock_changes_are_like_any_others)
{
    read_text(E1 "%s%s%s", day("20250405", 48, 0, ",A"), day("20250406", 48, 0, ",A"),
              day("20250407", 48, 0, ",A"));
    expect_read();
    const struct days_channel *channel = customer_channel(&file, "E1");
    ck_assert_uint_eq(channel->count, 144);
    for (size_t k = 0; k < channel->count; k++)
        ck_assert(!isnan(channel->value[k]));
    customer_free(&file);
}
END_TEST

START_TEST(test_intervals_of_5_and_15_minutes_and_units_of_wh_and_mwh)
{
    read_text("200,NEM1201009,,,E1,N1,M1,Wh,5,\n%s200,NEM1201009,,,B1,N1,M1,MWH,15,\n%s",
              day("20250301", 288, 20, ",A"), day("20250301", 96, 0.001, ",A"));
    expect_read();
    const struct days_channel *import = customer_channel(&file, "E1");
    const struct days_channel *export = customer_channel(&file, "B1");
    ck_assert_int_eq(import->step_s, 300);
    ck_assert_int_eq(import->unit, DAYS_WH);
    ck_assert_uint_eq(import->count, 288);
    ck_assert_int_eq(export->step_s, 900);
    ck_assert_int_eq(export->unit, DAYS_KWH);
    ck_assert_uint_eq(export->count, 96);
    ck_assert_float_eq(export->value[0], 1);
    customer_free(&file);
}
END_TEST

START_TEST(test_files_of_200_and_300_records_alone_are_read)
{
    read_text(
        "200,NEM1201009,,,E1,,,kWh,30,\r\n%s\"200\",\"NEM1201009\",,,\"B1\",,,\"kWh\",30,\r\n%s",
        day("20250301", 48, 0.1, ""), day("20250301", 48, 0.2, ",A,,,,"));
    expect_read();
    ck_assert_int_eq(file.channels.count, 2);
    ck_assert(customer_says(&file, "48 intervals have no quality"));
    ck_assert_int_eq(file.report.count, 0);
    customer_free(&file);
}
END_TEST

START_TEST(test_estimated_and_substituted_days_are_counted_and_null_ones_missing)
{
    read_text(HEADER E1 "%s%s%s%s%s" END, day("20250301", 48, 1, ACTUAL),
              day("20250302", 48, 1, ",E52,,,20250303001500,"),
              day("20250303", 48, 1, ",F14,76,,20250304001500,"),
              day("20250304", 48, 1, ",S53,,,20250305001500,"), day("20250305", 48, 0, ",N,,,,"));
    expect_read();
    const struct days_channel *channel = customer_channel(&file, "E1");
    ck_assert_uint_eq(channel->estimated, 3 * 48);
    ck_assert_uint_eq(channel->estimated_from.line, 4);
    ck_assert_uint_eq(channel->count, 5 * 48);
    ck_assert(!isnan(channel->value[4 * 48 - 1]));
    ck_assert(isnan(channel->value[4 * 48]));
    ck_assert(isnan(channel->value[5 * 48 - 1]));
    ck_assert(customer_says(&file, "48 intervals are marked as null"));
    customer_free(&file);
}
END_TEST

START_TEST(test_400_records_say_which_intervals_of_the_day_are_estimated)
{
    read_text(HEADER E1 "%s"
                        "400,1,20,A,,\n"
                        "400,21,24,E52,,\n"
                        "400,25,26,N,,\n"
                        "400,27,40,A,,\n"
                        "%s" END,
              day("20250301", 48, 1, ",V,,,20250302001500,"), day("20250302", 48, 1, ACTUAL));
    expect_read();
    const struct days_channel *channel = customer_channel(&file, "E1");
    ck_assert_uint_eq(channel->estimated, 4);
    for (size_t k = 0; k < 96; k++)
        ck_assert_int_eq(isnan(channel->value[k]) != 0, k == 24 || k == 25);
    ck_assert(customer_says(&file, "8 intervals have no quality")); /* 41 to 48 */
    customer_free(&file);
}
END_TEST

START_TEST(test_manual_readings_are_no_intervals)
{
    read_text(HEADER E1 "%s500,S,RETNSRVCEORD1,20250301154500,001123.5\n" END,
              day("20250301", 48, 1, ACTUAL));
    expect_read();
    ck_assert_uint_eq(customer_channel(&file, "E1")->count, 48);
    customer_free(&file);
}
END_TEST

START_TEST(test_a_new_meter_goes_on_with_the_stream)
{
    read_text(HEADER E1 "%s200,NEM1201009,E1,E1,E1,N1,METSER999,kWh,30,\n%s" END,
              day("20250301", 48, 1, ACTUAL), day("20250302", 48, 1, ACTUAL));
    expect_read();
    ck_assert_int_eq(file.channels.count, 1);
    ck_assert_uint_eq(file.channels.channel[0].count, 96);
    customer_free(&file);
}
END_TEST

START_TEST(test_reactive_streams_are_left_out_and_unknown_ones_shown)
{
    read_text(HEADER "200,NEM1201009,,,Q1,N1,M1,kVArh,30,\n%s"
                     "200,NEM1201009,,,D1,N1,M1,kWh,30,\n%s" END,
              day("20250301", 48, 1, ACTUAL), day("20250301", 48, 1, ACTUAL));
    expect_read();
    ck_assert_int_eq(file.channels.count, 1);
    ck_assert_int_eq(customer_channel(&file, "D1")->role, DAYS_UNKNOWN);
    ck_assert(customer_says(&file, "1 stream left out"));
    customer_free(&file);
}
END_TEST

#define OTHER "200,NEM1209999,,,E1,N1,M1,kWh,30,\n"

START_TEST(test_several_connection_points_are_refused_until_one_is_chosen)
{
    const char *first = day("20250301", 48, 1, ACTUAL), *second = day("20250301", 48, 5, ACTUAL);
    read_text(HEADER E1 "%s" OTHER "%s" END, first, second);
    expect_refused(4, "a second connection point, NMI NEM1209999 after NEM1201009: --meter NMI");
    file.options.meter = "NEM1209999";
    read_text(HEADER E1 "%s" OTHER "%s" END, first, second);
    expect_read();
    ck_assert_float_eq(customer_channel(&file, "E1")->value[0], 5);
    ck_assert(customer_says(&file, "1 stream left out"));
    customer_free(&file);
}
END_TEST

START_TEST(test_a_second_file_of_another_connection_point_is_refused_too)
{
    read_text(HEADER E1 "%s" END, day("20250301", 48, 1, ACTUAL));
    expect_read();
    read_text(HEADER OTHER "%s" END, day("20250301", 48, 1, ACTUAL));
    expect_refused(2, "a second connection point");
    file.options.meter = "NEM1200000";
    read_text(HEADER OTHER "%s" END, day("20250301", 48, 1, ACTUAL));
    expect_refused(0, "no NMI NEM1200000 in it, but NEM1209999");
    customer_free(&file);
}
END_TEST

START_TEST(test_what_is_wrong_is_told_with_its_line)
{
    const char *good = day("20250301", 48, 1, ACTUAL);
    static const struct {
        const char *before, *line, *wanted;
    } rows[] = {
        {HEADER, "300,20250301,1,2,3,A\n", "before the first stream"},
        {HEADER E1, "300,20250301,1,2,3,A\n", "6 fields where a day of 48 intervals has 50 to 55"},
        {HEADER, "200,NEM1201009,,,E1,N1,M1,kWh,7,\n", "intervals of \"7\" min"},
        {HEADER, "200,NEM1201009,,,E1,N1,M1,kWh,,\n", "intervals of \"\" min"},
        {HEADER, "200,NEM1201009,,,E1,N1,M1,GJ,30,\n", "unit \"GJ\""},
        {HEADER, "200,NEM1201009,,,,N1,M1,kWh,30,\n", "NMI, suffix, unit"},
        {HEADER E1, "301,20250301\n", "begins no record of NEM12"},
        {HEADER E1, "250,NEM1201009\n", "begins no record of NEM12"},
        {"", "100,NEM13,202503020930,A,B\n", "NEM13 has counter readings"},
        {HEADER E1, "300,20250229\n", "date \"20250229\""},
        {HEADER E1, "300,20251301\n", "date \"20251301\""},
        {HEADER E1, "300,1/3/2025\n", "date \"1/3/2025\""},
        {HEADER E1, "300\n", "date \"\""},
        {HEADER E1, "\"300,20250301\n", "a quotation mark"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        size_t line = 1;
        for (const char *at = rows[k].before; *at; at++)
            line += *at == '\n';
        read_text("%s%s", rows[k].before, rows[k].line);
        expect_refused(line, rows[k].wanted);
    }
    read_text(HEADER E1 "%s", day("20250301", 48, 1, ",X"));
    expect_refused(3, "quality \"X\"");
    read_text(HEADER E1 "%s%s" END, good, good);
    expect_refused(4, "20250301, interval 1 of E1 is there already, on line 3");
    read_text(HEADER E1 "%s400,0,3,A,,\n", good);
    expect_refused(4, "of 1 to 48");
    read_text(HEADER E1 "%s400,40,49,A,,\n", good);
    expect_refused(4, "of 1 to 48");
    read_text(HEADER E1 "300,20250301,1.000,x%s", good + strlen("300,20250301,1.000,1.001"));
    expect_refused(3, "interval 2: \"x\" is no number");
    customer_free(&file);
}
END_TEST

START_TEST(test_a_file_without_its_end_record_may_be_cut_off)
{
    read_text(HEADER E1 "%s", day("20250301", 48, 1, ACTUAL));
    expect_read();
    ck_assert(customer_notices(&file, 3, "no end record (900)"));
    customer_free(&file);
}
END_TEST

START_TEST(test_nem12_is_known_by_its_first_bytes)
{
    static const char *const are[] = {HEADER, E1, ("\xef\xbb\xbf" HEADER), "\"100\",\"NEM12\",2025",
                                      "100,NEM13,2025"};
    static const char *const others[] = {
        "",      "100,5",          "time,use_kw\n",   "200,300,400\n",
        "<?xml", "2025-03-01,200", "200,0.25,1,2,3\n"};
    for (size_t k = 0; k < COUNT_OF(are); k++)
        ck_assert_msg(days_nem12_is((const unsigned char *)are[k], strlen(are[k])), "%s", are[k]);
    for (size_t k = 0; k < COUNT_OF(others); k++)
        ck_assert_msg(!days_nem12_is((const unsigned char *)others[k], strlen(others[k])), "%s",
                      others[k]);
    customer_free(&file);
}
END_TEST

/* Spoilt in two places each, by a generator of fixed seed, and some cut off. */
START_TEST(test_spoilt_files_are_read_or_refused)
{
    char *whole = NULL;
    ck_assert_int_ge(asprintf(&whole, HEADER E1 "%s400,1,24,A,,\n400,25,48,E52,,\n" B1 "%s" END,
                              day("20250301", 48, 1, ",V,,,,"), day("20250301", 48, 2, ACTUAL)),
                     0);
    static const char marks[] = ",\n\"0129AEVN.-x \t;";
    size_t length = strlen(whole);
    char *spoilt = malloc(length + 1);
    uint64_t seed = 7;
    for (int k = 0; k < 3000; k++) {
        memcpy(spoilt, whole, length + 1);
        size_t cut = length;
        for (int times = 0; times < 2; times++) {
            spoilt[seeded_next(&seed) % length] = marks[seeded_next(&seed) % (COUNT_OF(marks) - 1)];
            if (k % 5 == 0)
                cut = seeded_next(&seed) % length;
        }
        customer_begin(&file);
        customer_read(&file, days_nem12_read, spoilt, cut);
        for (int c = 0; c < file.channels.count; c++) {
            const struct days_channel *channel = &file.channels.channel[c];
            for (size_t v = 0; v < channel->count; v++)
                ck_assert(!isinf(channel->value[v]));
        }
        ck_assert(file.read || file.report.stop_count > 0);
        customer_free(&file);
    }
    free(spoilt);
    free(whole);
    customer_free(&file);
}
END_TEST

/* As another file has them whose intervals begin at a quarter past. */
START_TEST(test_intervals_within_another_files_are_told)
{
    customer_begin(&file);
    const struct days_channel like = {
        .name = "E1", .role = DAYS_IMPORT, .unit = DAYS_KWH, .step_s = 1800, .begin = {0, 1}};
    /* From Python: datetime(2025,2,28,14,15,tzinfo=timezone.utc).timestamp() */
    const struct wall quarter_past = {1740752100 * (int64_t)MS_PER_S};
    days_channel_put(days_channel_open(&file.channels, &like), quarter_past, 1,
                     (struct days_place){0, 1});
    const char *text = day("20250301", 48, 0.1, ACTUAL);
    char whole[4000];
    int length = snprintf(whole, sizeof(whole), HEADER E1 "%s" END, text);
    customer_read(&file, days_nem12_read, whole, (size_t)length);
    ck_assert_msg(customer_stops(&file, 3, "20250301, interval 1 of E1 begins within another"),
                  "%s", customer_told(&file));
    customer_free(&file);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_streams_are_named_by_their_suffix_and_known_by_its_letter,
        test_times_are_eastern_standard_time_all_year_round,
        test_days_of_clock_changes_are_like_any_others,
        test_intervals_of_5_and_15_minutes_and_units_of_wh_and_mwh,
        test_files_of_200_and_300_records_alone_are_read,
        test_estimated_and_substituted_days_are_counted_and_null_ones_missing,
        test_400_records_say_which_intervals_of_the_day_are_estimated,
        test_manual_readings_are_no_intervals,
        test_a_new_meter_goes_on_with_the_stream,
        test_reactive_streams_are_left_out_and_unknown_ones_shown,
        test_several_connection_points_are_refused_until_one_is_chosen,
        test_a_second_file_of_another_connection_point_is_refused_too,
        test_what_is_wrong_is_told_with_its_line,
        test_a_file_without_its_end_record_may_be_cut_off,
        test_intervals_within_another_files_are_told,
        test_nem12_is_known_by_its_first_bytes,
        test_spoilt_files_are_read_or_refused,
    };
    return suite_run("nem12", tests, COUNT_OF(tests));
}
