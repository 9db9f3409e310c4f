#include "table.h"

#include <check.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The rules of Debian's tzdata for Australia/Sydney, America/Los_Angeles and
 * Australia/Brisbane. */
const struct zone sydney = {
    .standard_offset_s = 36000,
    .summer_offset_s = 39600,
    .has_summer = true,
    .to_summer = {'M', .month = 10, .week = 1, .weekday = 0, .at_s = 7200},
    .to_standard = {'M', .month = 4, .week = 1, .weekday = 0, .at_s = 10800}};
const struct zone losangeles = {
    .standard_offset_s = -28800,
    .summer_offset_s = -25200,
    .has_summer = true,
    .to_summer = {'M', .month = 3, .week = 2, .weekday = 0, .at_s = 7200},
    .to_standard = {'M', .month = 11, .week = 1, .weekday = 0, .at_s = 7200}};
const struct zone brisbane = {.standard_offset_s = 36000};

static void write_file(char path[static 64], const void *bytes, size_t length)
{
    strcpy(path, "/tmp/sluice-days-XXXXXX");
    int file = mkstemp(path);
    ck_assert_int_ge(file, 0);
    ck_assert_int_eq(write(file, bytes, length), (ssize_t)length);
    close(file);
}

struct table table_of_bytes(const void *bytes, size_t length)
{
    struct table table = {.options = {.zone = &brisbane}};
    write_file(table.path, bytes, length);
    return table;
}

struct table table_of(const char *text)
{
    return table_of_bytes(text, strlen(text));
}

void table_read(struct table *table)
{
    table->read = days_read(table->path, &table->options, &table->days, &table->report);
    unlink(table->path);
}

void table_read_draws(struct table *table, const char *draws_text)
{
    char path[64];
    write_file(path, draws_text, strlen(draws_text));
    table->read = days_read_draws(path, &table->options, &table->days, &table->report);
    unlink(path);
}

void table_free(struct table *table)
{
    days_free(&table->days);
}

char *table_rows(const char *head, int count, int step_s, const char *values)
{
    char *text = NULL;
    size_t size;
    FILE *to = open_memstream(&text, &size);
    fputs(head, to);
    for (int k = 0; k < count; k++) {
        int64_t second = (int64_t)k * step_s;
        struct date date =
            date_of_days(days_of_date((struct date){2026, 1, 14}) + (int32_t)(second / 86400));
        fprintf(to, "%04d-%02d-%02d %02d:%02d:%02d,%s\n", date.year, date.month, date.day,
                (int)(second / 3600 % 24), (int)(second / 60 % 60), (int)(second % 60), values);
    }
    fclose(to);
    return text;
}

static bool says(const struct table *table, bool stop, size_t line, const char *wanted)
{
    char place[96];
    snprintf(place, sizeof(place), line ? "%s:%zu" : "%s", table->path, line);
    for (int k = 0; k < table->report.count; k++)
        if (table->report.stops[k] == stop && strcmp(table->report.item[k].place, place) == 0 &&
            strstr(table->report.item[k].text, wanted))
            return true;
    return false;
}

bool table_stops(const struct table *table, size_t line, const char *wanted)
{
    return says(table, true, line, wanted);
}

bool table_notices(const struct table *table, size_t line, const char *wanted)
{
    return says(table, false, line, wanted);
}

static const char *first_of(const struct table *table)
{
    static char all[700];
    const struct trouble *first = &table->report.item[0];
    snprintf(all, sizeof(all), "%s: %s", table->report.count ? first->place : "nothing told",
             table->report.count ? first->text : "");
    return all;
}

void expect_stop(const char *text, const struct days_options *options, size_t line,
                 const char *wanted)
{
    struct table table = table_of(text);
    if (options)
        table.options = *options;
    table_read(&table);
    ck_assert_msg(!table.read, "\"%s\" was read", text);
    ck_assert_ptr_null(table.days.use_w);
    ck_assert_msg(table_stops(&table, line, wanted), "wanted line %zu: %s; got %s", line, wanted,
                  first_of(&table));
}

struct table expect_days(const char *text, const struct days_options *options)
{
    struct table table = table_of(text);
    if (options)
        table.options = *options;
    table_read(&table);
    ck_assert_msg(table.read, "not read: %s", first_of(&table));
    return table;
}
