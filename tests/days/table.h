/* table.h - tables of days written by a test, and read. */
#ifndef SLUICE_TESTS_TRIAL_TABLE_H
#define SLUICE_TESTS_TRIAL_TABLE_H

#include "days/days.h"

/* Two zones with summer time, one on each side of the equator, and one without. */
extern const struct zone sydney, losangeles, brisbane;

struct table {
    char path[64];
    struct days_options options;
    struct days days;
    struct days_report report;
    bool read;
};

/* A file of this text; options for Brisbane. Removed when read. */
struct table table_of(const char *text);
struct table table_of_bytes(const void *bytes, size_t length);
void table_read(struct table *table);
void table_read_draws(struct table *table, const char *draws_text);
void table_free(struct table *table);

/* Rows of `step_s` from 2026-01-14 00:00 on (after `head`), each ending in `values`. */
char *table_rows(const char *head, int count, int step_s, const char *values);

/* Whether a stop (or notice) at this line says `wanted`; line 0: about the file. */
bool table_stops(const struct table *table, size_t line, const char *wanted);
bool table_notices(const struct table *table, size_t line, const char *wanted);

/* Reads the text with `options` (NULL: Brisbane's) and wants this one stop. */
void expect_stop(const char *text, const struct days_options *options, size_t line,
                 const char *wanted);
/* Reads it and wants days. */
struct table expect_days(const char *text, const struct days_options *options);

#endif
