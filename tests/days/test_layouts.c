/* test_layouts.c - the layouts in which retailers, distributors and inverter portals hand
 * out data, with invented numbers, and what must come of each: sums worked out here from
 * the numbers, not by the reader. The layouts are common practice, no source. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../core/suite.h"
#include "days/found.h"
#include "table.h"

enum { SLOTS = 48, FILES_MAX = 3, TEXT_SIZE = 200000 };

/* A household's half hour, in whole Wh, so that sums are exact. */
static int import_wh(int day, int slot)
{
    return slot >= 16 && slot < 34 ? 0 : 100 + 10 * day + slot;
}

static int export_wh(int day, int slot)
{
    return slot >= 16 && slot < 34 ? 500 + 20 * day + slot : 0;
}

static double sum_kwh(int (*wh)(int, int), int days)
{
    double sum = 0;
    for (int day = 0; day < days; day++)
        for (int slot = 0; slot < SLOTS; slot++)
            sum += wh(day, slot);
    return sum / 1000;
}

static double kwh_of(const float *w, const struct days *days)
{
    double sum = 0;
    for (size_t k = 0; k < days->count; k++)
        sum += (double)w[k] * days->step_s / 3.6e6;
    return sum;
}

/* ---- files ------------------------------------------------------------------------------ */

static char text[TEXT_SIZE];
static size_t text_length;

static void begin(const char *head)
{
    text_length = (size_t)snprintf(text, sizeof(text), "%s", head);
}

__attribute__((format(printf, 1, 2))) static void add(const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    text_length +=
        (size_t)vsnprintf(text + text_length, sizeof(text) - text_length, format, arguments);
    va_end(arguments);
}

struct read {
    char path[FILES_MAX][64];
    const char *paths[FILES_MAX];
    int count;
    struct days days;
    struct days_found found;
    struct days_report report;
    bool ok;
};

/* The text so far becomes a file, whose name ends in this. */
static void save(struct read *read, const char *ending)
{
    char *path = read->path[read->count];
    snprintf(path, sizeof(read->path[0]), "/tmp/sluice-XXXXXX%s", ending);
    int file = mkstemps(path, (int)strlen(ending));
    ck_assert_int_ge(file, 0);
    ck_assert_int_eq(write(file, text, text_length), (ssize_t)text_length);
    close(file);
    read->paths[read->count++] = path;
}

static void read_saved(struct read *read, const struct days_options *options)
{
    static const struct days_options plain = {.zone = &brisbane};
    read->ok = days_read_files(read->paths, read->count, options ? options : &plain, &read->days,
                               &read->found, &read->report);
    for (int k = 0; k < read->count; k++)
        unlink(read->paths[k]);
}

static struct read read_text(const struct days_options *options)
{
    struct read read = {.count = 0};
    save(&read, ".csv");
    read_saved(&read, options);
    return read;
}

static bool says(const struct read *read, bool stop, size_t line, const char *wanted)
{
    char end[16];
    snprintf(end, sizeof(end), ":%zu", line);
    for (int k = 0; k < read->report.count; k++) {
        const struct trouble *item = &read->report.item[k];
        const char *colon = strrchr(item->place, ':');
        bool there = line ? colon && strcmp(colon, end) == 0 : !colon;
        if (there && read->report.stops[k] == stop && strstr(item->text, wanted))
            return true;
    }
    return false;
}

static void expect_days_of(struct read *read, int days, enum days_view view)
{
    ck_assert_msg(read->ok, "%s: %s", read->report.item[0].place, read->report.item[0].text);
    ck_assert_uint_eq(read->days.count, (size_t)days * SLOTS);
    ck_assert_double_eq_tol(kwh_of(read->days.use_w, &read->days), sum_kwh(import_wh, days), 1e-4);
    ck_assert_double_eq_tol(kwh_of(read->days.solar_w, &read->days), sum_kwh(export_wh, days),
                            1e-4);
    ck_assert_int_eq(read->found.view, view);
    ck_assert_int_eq(read->days.at_meter, view == DAYS_VIEW_METER);
    ck_assert_double_eq_tol(read->found.use_day_kwh, sum_kwh(import_wh, days) / days, 1e-4);
    days_free(&read->days);
}

static void expect_stop_at(const struct read *read, size_t line, const char *wanted)
{
    ck_assert(!read->ok);
    ck_assert_ptr_null(read->days.use_w);
    ck_assert_msg(says(read, true, line, wanted), "wanted %zu: %s; got %s: %s", line, wanted,
                  read->report.item[0].place, read->report.item[0].text);
}

/* ---- a line for each half hour ------------------------------------------------------------ */

START_TEST(test_import_and_export_without_sun)
{
    begin("Time,Import (kWh),Export (kWh)\n");
    for (int k = 0; k < 3 * SLOTS; k++)
        add("2026-01-%d %02d:%02d,%.3f,%.3f\n", 14 + k / 48, k % 48 / 2, k % 2 * 30,
            import_wh(k / 48, k % 48) / 1e3, export_wh(k / 48, k % 48) / 1e3);
    struct read read = read_text(NULL);
    ck_assert(says(&read, false, 0, "surplus follows from what was exported"));
    ck_assert_int_eq(read.found.count, 2);
    ck_assert_int_eq(read.found.channel[1].role, DAYS_EXPORT);
    ck_assert_int_eq(read.found.channel[1].unit, DAYS_KWH);
    ck_assert_double_eq_tol(read.found.channel[1].day_kwh, sum_kwh(export_wh, 3) / 3, 1e-4);
    expect_days_of(&read, 3, DAYS_VIEW_METER);
}
END_TEST

START_TEST(test_net_in_one_column_without_sun)
{
    begin("Time,Net grid W\n");
    for (int k = 0; k < 2 * SLOTS; k++)
        add("2026-01-%d %02d:%02d,%d\n", 14 + k / 48, k % 48 / 2, k % 2 * 30,
            2 * import_wh(k / 48, k % 48) - 2 * export_wh(k / 48, k % 48));
    struct read read = read_text(NULL);
    expect_days_of(&read, 2, DAYS_VIEW_METER);
}
END_TEST

/* Retailers call import consumption, and export generation. */
START_TEST(test_consumption_that_is_nothing_in_the_sun_is_the_meters)
{
    begin("Customer: A\nAll times local\n\nDate,Start Time,End Time,Consumption kWh,Generation "
          "kWh\n");
    for (int k = 0; k < 3 * SLOTS; k++)
        add("%d/01/2026,%02d:%02d,%02d:%02d,%.3f,%.3f\n", 14 + k / 48, k % 48 / 2, k % 2 * 30,
            (k % 48 + 1) / 2 % 24, (k + 1) % 2 * 30, import_wh(k / 48, k % 48) / 1e3,
            export_wh(k / 48, k % 48) / 1e3);
    struct read read = read_text(NULL);
    ck_assert(says(&read, false, 4, "read as the grid meter's import and export"));
    ck_assert_int_eq(read.found.channel[0].role, DAYS_IMPORT);
    expect_days_of(&read, 3, DAYS_VIEW_METER);
}
END_TEST

/* An inverter's portal means by it all that the household used. */
START_TEST(test_five_minutes_of_watts_from_an_inverters_portal)
{
    double use = 0, sun = 0;
    begin("Statistical period: day\nTime,Production (W),Consumption (W)\n");
    for (int k = 0; k < 288; k++) {
        int pv = k > 80 && k < 200 ? 3000 - 20 * abs(k - 140) : 0, load = 250 + k % 7;
        add("2026-01-14 %02d:%02d,%d,%d\n", k / 12, k % 12 * 5, pv, load);
        use += load / 12e3;
        sun += pv / 12e3;
    }
    struct read read = read_text(NULL);
    ck_assert(read.ok);
    ck_assert_int_eq(read.days.step_s, 300);
    ck_assert_int_eq(read.found.view, DAYS_VIEW_HOME);
    ck_assert_double_eq_tol(kwh_of(read.days.use_w, &read.days), use, 1e-4);
    ck_assert_double_eq_tol(kwh_of(read.days.solar_w, &read.days), sun, 1e-4);
    days_free(&read.days);
}
END_TEST

START_TEST(test_newest_first_with_a_total_and_missing_marks)
{
    begin("Time;Import kWh;Export kWh\n");
    for (int k = 2 * SLOTS; k-- > 0;)
        add("2026-01-%d %02d:%02d;%.3f;%.3f\n", 14 + k / 48, k % 48 / 2, k % 2 * 30,
            import_wh(k / 48, k % 48) / 1e3, export_wh(k / 48, k % 48) / 1e3);
    add("Total;%.3f;%.3f\n", sum_kwh(import_wh, 2), sum_kwh(export_wh, 2));
    struct read read = read_text(NULL);
    expect_days_of(&read, 2, DAYS_VIEW_METER);
    begin("Time,Import kWh,Export kWh\n2026-01-14 00:00,0.3,-\n2026-01-14 00:30,n/a,0\n");
    add("2026-01-14 01:00,0.4,0\n");
    read = read_text(NULL);
    expect_stop_at(&read, 2, "1 h missing from here");
}
END_TEST

/* Semicolons and decimal commas; the sun is known. */
START_TEST(test_streams_in_rows)
{
    begin("Date,Time,Register,Usage (kWh)\n");
    for (int k = 0; k < 2 * SLOTS; k++)
        for (int stream = 0; stream < 2; stream++)
            add("2026-01-%d,%02d:%02d,%s,%.3f\n", 14 + k / 48, k % 48 / 2, k % 2 * 30,
                stream ? "B1" : "E1", (stream ? export_wh : import_wh)(k / 48, k % 48) / 1e3);
    struct read read = read_text(NULL);
    ck_assert_str_eq(read.found.channel[0].name, "E1");
    expect_days_of(&read, 2, DAYS_VIEW_METER);
}
END_TEST

/* ---- files of their own --------------------------------------------------------------------- */

static void add_stream(int (*wh)(int, int), int from_day, int to_day, const char *name)
{
    begin("Time,");
    add("%s\n", name);
    for (int k = from_day * SLOTS; k < to_day * SLOTS; k++)
        add("2026-01-%d %02d:%02d,%.3f\n", 14 + k / 48, k % 48 / 2, k % 2 * 30,
            wh(k / 48, k % 48) / 1e3);
}

START_TEST(test_streams_in_files_of_their_own)
{
    struct read read = {.count = 0};
    add_stream(import_wh, 0, 2, "kWh");
    save(&read, "-import.csv");
    add_stream(export_wh, 0, 2, "kWh");
    save(&read, "-export.csv");
    read_saved(&read, NULL);
    ck_assert_int_eq(read.found.channel[1].file, 1);
    expect_days_of(&read, 2, DAYS_VIEW_METER);
}
END_TEST

/* A month each: here days, one of them in both. */
START_TEST(test_files_that_follow_each_other_and_overlap)
{
    struct read read = {.count = 0};
    for (int k = 0; k < 2; k++) {
        add_stream(import_wh, 2 * k - k, 2 * k + 2 - k, "import kWh");
        save(&read, ".csv");
    }
    read_saved(&read, NULL);
    ck_assert(read.ok);
    ck_assert_uint_eq(read.days.count, 3 * SLOTS);
    ck_assert_double_eq_tol(kwh_of(read.days.use_w, &read.days), sum_kwh(import_wh, 3), 1e-4);
    ck_assert_int_eq(read.found.view, DAYS_VIEW_NO_SURPLUS);
    ck_assert(says(&read, false, 0, "import alone"));
    days_free(&read.days);
}
END_TEST

START_TEST(test_two_files_that_differ_about_one_time_stop)
{
    struct read read = {.count = 0};
    add_stream(import_wh, 0, 1, "import kWh");
    save(&read, ".csv");
    begin("Time,import kWh\n2026-01-14 23:00,0.2\n2026-01-14 23:30,0.3\n2026-01-15 00:00,0.4\n");
    save(&read, ".csv");
    read_saved(&read, NULL);
    expect_stop_at(&read, 2, "2026-01-14 23:00 comes twice");
}
END_TEST

/* ---- a line for each day -------------------------------------------------------------------- */

static void add_day(const char *before, int (*wh)(int, int), int day)
{
    add("%s", before);
    for (int slot = 0; slot < SLOTS; slot++)
        add(",%.3f", wh(day, slot) / 1e3);
    add("\n");
}

/* First the beginning of each half hour, then its end, then its number. */
static void begin_wide(const char *before, int kind)
{
    begin(before);
    for (int slot = 0; slot < SLOTS; slot++) {
        int end = slot + (kind == 1);
        if (kind < 2)
            add(",%02d:%02d", end / 2, end % 2 * 30);
        else
            add(",%d", slot + 1);
    }
    add("\n");
}

START_TEST(test_days_of_half_hours_with_registers)
{
    for (int kind = 0; kind < 3; kind++) {
        begin_wide("NMI,Register,Date,Unit", kind);
        for (int day = 0; day < 3; day++) {
            char before[60];
            snprintf(before, sizeof(before), "6100000001,E1,%d/01/2026,kWh", 14 + day);
            add_day(before, import_wh, day);
            snprintf(before, sizeof(before), "6100000001,B1,%d/01/2026,kWh", 14 + day);
            add_day(before, export_wh, day);
        }
        struct read read = read_text(NULL);
        ck_assert_int_eq(read.days.first.ms / 1000, 1768312800);
        expect_days_of(&read, 3, DAYS_VIEW_METER);
    }
}
END_TEST

START_TEST(test_a_controlled_load_is_left_out_and_told)
{
    begin_wide("Stream,Date,Unit", 0);
    for (int day = 0; day < 3; day++) {
        char date[30];
        snprintf(date, sizeof(date), "%d/01/2026,kWh", 14 + day);
        for (int stream = 0; stream < 3; stream++) {
            static const char *const names[] = {"Consumption,", "Generation,", "Controlled load,"};
            char before[60];
            snprintf(before, sizeof(before), "%s%s", names[stream], date);
            add_day(before, stream == 1 ? export_wh : import_wh, day);
        }
    }
    struct read read = read_text(NULL);
    ck_assert(says(&read, false, 4, "\"Controlled load\", is left out"));
    expect_days_of(&read, 3, DAYS_VIEW_METER);
}
END_TEST

START_TEST(test_two_meters_in_one_file_are_asked_about)
{
    begin_wide("NMI,Register,Date,Unit", 0);
    add_day("6100000001,E1,14/01/2026,kWh", import_wh, 0);
    add_day("6100000002,E1,14/01/2026,kWh", import_wh, 1);
    struct read read = read_text(NULL);
    expect_stop_at(&read, 3, "\"E1\" and \"6100000002 E1\" could both be import");
    const struct days_options both = {.zone = &brisbane,
                                      .column = {[DAYS_IMPORT] = {"E1+6100000002 E1", 0}}};
    begin_wide("NMI,Register,Date,Unit", 0);
    add_day("6100000001,E1,14/01/2026,kWh", import_wh, 0);
    add_day("6100000002,E1,14/01/2026,kWh", import_wh, 1);
    read = read_text(&both);
    ck_assert(read.ok);
    ck_assert_double_eq_tol(kwh_of(read.days.use_w, &read.days), sum_kwh(import_wh, 2), 1e-4);
    days_free(&read.days);
}
END_TEST

START_TEST(test_an_unknown_register_is_asked_for)
{
    begin_wide("Register,Date,Unit", 0);
    add_day("11,14/01/2026,kWh", import_wh, 0);
    struct read read = read_text(NULL);
    expect_stop_at(&read, 2, "\"11\", in kWh: what is it?");
    ck_assert_int_eq(read.found.channel[0].fate, DAYS_ASKED_FOR);
}
END_TEST

/* ---- dates ---------------------------------------------------------------------------------- */

/* Ten days of January or of ten months: only as days they follow each other. */
START_TEST(test_dates_that_follow_each_other_tell_their_order)
{
    begin("Time,Import kWh,Export kWh\n");
    for (int k = 0; k < 10 * SLOTS; k++)
        add("%02d/01/2026 %02d:%02d,%.3f,%.3f\n", 1 + k / 48, k % 48 / 2, k % 2 * 30,
            import_wh(k / 48, k % 48) / 1e3, export_wh(k / 48, k % 48) / 1e3);
    struct read read = read_text(NULL);
    ck_assert(says(&read, false, 2, "dates are read day first"));
    ck_assert_int_eq(read.days.first.ms / 1000, 1768312800 - 13 * 86400);
    expect_days_of(&read, 10, DAYS_VIEW_METER);
    begin("Time,Import kWh,Export kWh\n");
    for (int k = 0; k < 20 * SLOTS; k++)
        add("01/%02d/2026 %02d:%02d,%.3f,%.3f\n", 1 + k / 48, k % 48 / 2, k % 2 * 30,
            import_wh(k / 48, k % 48) / 1e3, export_wh(k / 48, k % 48) / 1e3);
    read = read_text(NULL);
    ck_assert_int_eq(read.days.first.ms / 1000, 1768312800 - 13 * 86400);
    expect_days_of(&read, 20, DAYS_VIEW_METER);
}
END_TEST

/* ---- faults --------------------------------------------------------------------------------- */

START_TEST(test_exchanged_columns_are_noticed_by_the_night)
{
    begin("Time,Import kWh,Export kWh\n");
    for (int k = 0; k < 4 * SLOTS; k++)
        add("2026-01-%d %02d:%02d,%.3f,%.3f\n", 14 + k / 48, k % 48 / 2, k % 2 * 30,
            export_wh(k / 48, k % 48) / 1e3, import_wh(k / 48, k % 48) / 1e3);
    struct read read = read_text(NULL);
    expect_stop_at(&read, 1, "are import and export exchanged?");
}
END_TEST

START_TEST(test_a_roof_and_an_import_without_export_are_not_enough)
{
    begin("Time,Import kWh,Solar kWh\n2026-01-14 12:00,0.1,0.4\n2026-01-14 12:30,0.1,0.4\n");
    struct read read = read_text(NULL);
    expect_stop_at(&read, 1, "import and solar, but no export");
}
END_TEST

START_TEST(test_estimated_values_are_counted)
{
    begin("Time,Import kWh,Quality\n2026-01-14 12:00,0.1,A\n2026-01-14 12:30,0.1,E\n"
          "2026-01-14 13:00,0.1,S14\n");
    struct read read = read_text(NULL);
    ck_assert(read.ok);
    ck_assert(says(&read, false, 3, "2 of 3 values are estimated"));
    ck_assert_uint_eq(read.found.channel[0].estimated, 2);
    days_free(&read.days);
}
END_TEST

START_TEST(test_an_unreadable_time_is_all_that_is_told)
{
    begin("time,use_kwh\nyesterday,0.4\ntoday,0.4\n");
    struct read read = read_text(NULL);
    expect_stop_at(&read, 2, "time \"yesterday\": it is no date");
    for (int k = 0; k < read.report.count; k++)
        ck_assert_ptr_null(strstr(read.report.item[k].text, "inf"));
}
END_TEST

START_TEST(test_files_that_are_no_text_are_named)
{
    static const struct {
        const char *bytes, *wanted;
    } rows[] = {{"PK\x03\x04rest", "save it as CSV"},
                {"%PDF-1.7\n", "this is a PDF"},
                {"\x1f\x8b\x08zip", "gunzip"},
                {"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old spreadsheet"}};
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        begin(rows[k].bytes);
        struct read read = read_text(NULL);
        expect_stop_at(&read, 0, rows[k].wanted);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_import_and_export_without_sun,
        test_net_in_one_column_without_sun,
        test_consumption_that_is_nothing_in_the_sun_is_the_meters,
        test_five_minutes_of_watts_from_an_inverters_portal,
        test_newest_first_with_a_total_and_missing_marks,
        test_streams_in_rows,
        test_streams_in_files_of_their_own,
        test_files_that_follow_each_other_and_overlap,
        test_two_files_that_differ_about_one_time_stop,
        test_days_of_half_hours_with_registers,
        test_a_controlled_load_is_left_out_and_told,
        test_two_meters_in_one_file_are_asked_about,
        test_an_unknown_register_is_asked_for,
        test_dates_that_follow_each_other_tell_their_order,
        test_exchanged_columns_are_noticed_by_the_night,
        test_a_roof_and_an_import_without_export_are_not_enough,
        test_estimated_values_are_counted,
        test_an_unreadable_time_is_all_that_is_told,
        test_files_that_are_no_text_are_named,
    };
    return suite_run("layouts of customers' tables", tests, COUNT_OF(tests));
}
