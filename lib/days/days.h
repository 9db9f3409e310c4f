/* days.h - recorded days: what a household used, what its roof gave, what hot water
 * was drawn, step by step.
 *
 * Read from the files that customers have, as loggers, inverters and retailers write them:
 * a reader for each kind of file (format.h) makes channels of it (channels.h), and one
 * assembler makes days of the channels (assemble.h). Nothing is guessed silently: whatever
 * is wrong or doubtful is told with file and line, and is either a stop (no days come out)
 * or a notice (they do, and it says what was done). found.h tells what was understood.
 *
 * Stops: a number that is none, or whose mark could set decimals or thousands apart; a
 * ragged line; a time that is none, comes twice, lies between steps or over 400 days from
 * all others; an hour that clocks skip, where the file does not keep standard time all
 * year; dates of which nothing tells the day from the month; negative use or sun (less
 * than -50 W: night-time trickle counts as none); a gap, unless the options say how to
 * fill it, and always one of over a week; a column or unit that cannot be told; watts
 * taken for kilowatts or the reverse; more than memory is given to.
 * Notices: gaps that were filled, more hot water than a home's in a unit that was named,
 * a year with less than a year in it, columns that were not used, a sun far from the
 * zone's noon. */
#ifndef SLUICE_DAYS_DAYS_H
#define SLUICE_DAYS_DAYS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/trouble.h"
#include "core/zone.h"

/* Rows follow each other without gaps. A row is one step, or, where `lasts` is there,
 * several equal ones, so that a year of seconds need not be told second by second. */
struct days {
    struct wall first; /* the beginning of row 0 */
    int32_t step_s;    /* 1 s .. 1 h */
    size_t count;      /* rows */
    float *use_w;      /* [count] mean power of the household, switched loads apart */
    float *solar_w;    /* [count] mean power of the roof; all 0 where none was told */
    uint16_t *lasts;   /* [count] steps that the row lasts, > 0; NULL: one each */
    size_t steps;      /* in all rows; equals count where lasts is NULL */
    /* Hot water, in steps of its own from `first` to the end of the rows. */
    float *draw_l; /* [draw_count] litres at the tap within the draw step; NULL: not told */
    int32_t draw_step_s;
    size_t draw_count;
    /* use_w is what was imported and solar_w what was exported, as nothing else is known:
     * their difference, and so the surplus, is right; what the household took from its own
     * roof is in neither. */
    bool at_meter;
};

enum days_role {
    DAYS_TIME,
    DAYS_USE,
    DAYS_SOLAR,
    DAYS_IMPORT, /* use = import + solar - export, where there is no column of use */
    DAYS_EXPORT,
    DAYS_GRID, /* both in one column, import positive */
    DAYS_DRAW,
    DAYS_ROLE_COUNT,
    DAYS_UNKNOWN = DAYS_ROLE_COUNT,
};

enum days_unit {
    DAYS_UNIT_BY_HEADER, /* "use_kw", "PV [W]"; a header that tells none is a stop */
    DAYS_W,
    DAYS_KW,
    DAYS_WH, /* within the step */
    DAYS_KWH,
    DAYS_W_PER_KWP,
    DAYS_KW_PER_KWP,
    DAYS_L, /* within the step */
    DAYS_L_PER_HOUR,
    DAYS_L_PER_MINUTE,
};

/* What may be in files. */
enum { DAYS_NAME_SIZE = 64, DAYS_CHANNELS_MAX = 64 };

struct days_column {
    /* The channel's name in the file, or the column's number from "1"; "A+B": the sum of
     * both; NULL: by the file */
    const char *name;
    enum days_unit unit;
};

/* What a time without an offset of its own means. */
enum days_clock {
    DAYS_LOCAL,    /* the zone's clock, summer time and all */
    DAYS_STANDARD, /* the zone's standard time all year round */
    DAYS_UTC,
};

/* 03/04/2026 can be two dates. */
enum days_dates { DAYS_DATES_BY_FORM, DAYS_DATES_DMY, DAYS_DATES_MDY };

enum days_gap {
    DAYS_GAP_STOPS,
    DAYS_GAP_HOLDS,      /* the last row goes on */
    DAYS_GAP_DAY_BEFORE, /* what was at the same time a day (or days) earlier */
};

/* All zero but the zone: comma, header and units found, local times that begin the step. */
struct days_options {
    const struct zone *zone;
    struct days_column column[DAYS_ROLE_COUNT];
    const char *ignore; /* channels that are of no concern: "A+B"; NULL: none */
    const char *meter;  /* the connection point, where files name several; NULL: there is one */
    enum days_clock clock;
    enum days_dates dates;
    enum days_gap gap;
    bool time_ends_step;    /* the time told is the end of the step, not its beginning */
    double array_kwp;       /* for columns per kWp; > 0 there */
    int32_t draw_shift_day; /* files of draws: whose season is half a year off, 182 */
};

enum { DAYS_REPORT_MAX = 32 };

struct days_report {
    struct trouble item[DAYS_REPORT_MAX]; /* place is "file:line" */
    bool stops[DAYS_REPORT_MAX];
    int count;
    size_t untold; /* more than fit */
    size_t stop_count;
};

struct days_found;

/* Reads files as one: streams in files of their own, or a file for each month. Begins the
 * report, and `found`, which may be NULL. False: at least one stop, and nothing in `days`. */
bool days_read_files(const char *const paths[], int count, const struct days_options *options,
                     struct days *days, struct days_found *found, struct days_report *report);

/* The same of one file. */
bool days_read(const char *path, const struct days_options *options, struct days *days,
               struct days_report *report);

/* Adds the hot water of a second file, laid over the rows by local day of the year: one
 * whole number a line, litres per hour in each minute from 1 January 0:00, no header.
 * 29 February repeats the 28th. False: a stop, and the days are as before. */
bool days_read_draws(const char *path, const struct days_options *options, struct days *days,
                     struct days_report *report);

/* The same days in even steps (lasts is NULL): means of shorter rows, or longer rows
 * repeated; one of the steps divides the other. Energy is kept; a last part of a step is
 * left out. False: out of memory, or the steps do not fit. */
bool days_in_steps(const struct days *days, int32_t step_s, struct days *even);

/* What a sum over the days is multiplied by to be a year's. */
double days_year_factor(const struct days *days);

/* Where the sun of the days shines, by the length of days in summer. */
enum days_half { DAYS_HALF_UNKNOWN, DAYS_NORTH, DAYS_SOUTH };
enum days_half days_half_of_earth(const struct days *days, const struct zone *zone);

void days_free(struct days *days);

#endif
