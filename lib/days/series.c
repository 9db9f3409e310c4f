/* series.c - puts rows in their places in time, and deals with those that lack.
 *
 * A row that lacks, or lacks a value, is a hole (NaN) until the end; how it is filled is
 * for the options to say. A hole goes into the report at once,
 * as one notice or stop for a run of them. Nothing with a hole in it ever comes out. */
#include "days/series.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "core/quantity.h"
#include "days/report.h"

enum { S_PER_DAY = 86400, ROWS_FIRST = 1 << 16 };

/* Four years of seconds: a gigabyte. */
#define ROWS_MAX ((size_t)1 << 27)
#define GAP_MAX_S (7 * S_PER_DAY)

void days_series_begin(struct days_series *series, struct days *days,
                       const struct days_options *options, bool with_draws, const char *path,
                       struct days_report *report)
{
    *series = (struct days_series){
        .days = days, .options = options, .report = report, .path = path, .with_draws = with_draws};
}

/* "2026-01-14 17:00" by the zone's clock. */
enum { DAYS_TIME_SIZE = 24 };
static const char *time_text(const struct zone *zone, struct wall wall,
                             char buffer[static DAYS_TIME_SIZE])
{
    struct local local = local_of_wall(zone, wall);
    struct date date = date_of_days(local.day);
    struct text text = text_in(buffer, DAYS_TIME_SIZE);
    text_add(&text, "%04d-%02d-%02d %02d:%02d", date.year, date.month, date.day,
             local.second / 3600, local.second / 60 % 60);
    if (local.second % 60)
        text_add(&text, ":%02d", local.second % 60);
    return buffer;
}

static void write_span(struct text *text, int64_t seconds)
{
    quantity_write(QUANTITY_DURATION_MS, seconds * MS_PER_S, text);
}

/* ---- room ------------------------------------------------------------------------- */

/* Large blocks grow by moving pages, not bytes (glibc's realloc). */
static bool grow(float **values, size_t capacity)
{
    float *grown = realloc(*values, capacity * sizeof(float));
    if (grown)
        *values = grown;
    return grown;
}

static bool has_room(struct days_series *series, size_t line)
{
    struct days *days = series->days;
    if (days->count < series->capacity)
        return true;
    size_t capacity = series->capacity ? series->capacity * 2 : ROWS_FIRST;
    if (capacity > ROWS_MAX) {
        days_stop(series->report, series->path, line, "more than %zu rows", ROWS_MAX);
        return false;
    }
    if (!grow(&days->use_w, capacity) || !grow(&days->solar_w, capacity) ||
        (series->with_draws && !grow(&days->draw_l, capacity))) {
        days_stop(series->report, series->path, line, "out of memory");
        return false;
    }
    series->capacity = capacity;
    return true;
}

static bool append(struct days_series *series, const struct days_values *values, size_t line)
{
    struct days *days = series->days;
    if (!has_room(series, line))
        return false;
    days->use_w[days->count] = values->use_w;
    days->solar_w[days->count] = values->solar_w;
    if (series->with_draws)
        days->draw_l[days->count] = values->draw_l;
    days->count++;
    return true;
}

/* ---- gaps ------------------------------------------------------------------------- */

/* An hour that lacks where clocks go back is usually no lost hour. */
static bool at_clock_change(const struct days_series *series)
{
    const struct days *days = series->days;
    size_t whole = days->count - (series->gap_rows < days->count ? series->gap_rows : days->count);
    struct wall from = {days->first.ms + (int64_t)whole * days->step_s * MS_PER_S};
    struct wall change;
    return series->options->clock == DAYS_LOCAL &&
           zone_next_change(series->options->zone, (struct wall){from.ms - MS_PER_HOUR}, &change) &&
           change.ms <= from.ms + (int64_t)series->gap_rows * days->step_s * MS_PER_S;
}

static bool tell_gap(struct days_series *series)
{
    static const char *const filled[] = {
        [DAYS_GAP_HOLDS] = "the row before goes on, without hot water",
        [DAYS_GAP_DAY_BEFORE] = "filled with the same time of another day",
    };
    char span_buffer[48];
    struct text span = text_in(span_buffer, sizeof(span_buffer));
    int64_t gap_s = (int64_t)series->gap_rows * series->days->step_s;
    bool stops = series->options->gap == DAYS_GAP_STOPS || gap_s > GAP_MAX_S;
    write_span(&span, gap_s);
    if (gap_s > GAP_MAX_S)
        days_stop(series->report, series->path, series->gap_line,
                  "%s missing from here: too much to be filled; without it these "
                  "days are no whole year",
                  span_buffer);
    else if (stops)
        days_stop(series->report, series->path, series->gap_line,
                  "%s missing from here: --gaps hold or --gaps day-before would fill it%s",
                  span_buffer,
                  at_clock_change(series) ? "; clocks go back there: if the file keeps standard "
                                            "time all year round, --times standard says so"
                                          : "");
    else
        days_notice(series->report, series->path, series->gap_line, "%s missing from here: %s",
                    span_buffer, filled[series->options->gap]);
    series->broken |= stops;
    series->gap_rows = 0;
    return gap_s <= GAP_MAX_S;
}

static bool append_holes(struct days_series *series, size_t rows, size_t line)
{
    const struct days_values hole = {NAN, NAN, NAN};
    if (series->gap_rows == 0)
        series->gap_line = line;
    series->gap_rows += rows;
    if ((int64_t)series->gap_rows * series->days->step_s > GAP_MAX_S)
        return tell_gap(series);
    for (; rows > 0 && !series->broken; rows--)
        if (!append(series, &hole, line))
            return false;
    return true;
}

static bool is_whole(const struct days_series *series, const struct days_values *values)
{
    return !isnan(values->use_w) && !isnan(values->solar_w) &&
           !(series->with_draws && isnan(values->draw_l));
}

/* ---- order ------------------------------------------------------------------------ */

/* False: the row has no place. */
static bool in_order(struct days_series *series, struct wall at, size_t line)
{
    int64_t apart_s = (at.ms - series->last.ms) / MS_PER_S;
    int32_t step_s = series->days->step_s;
    char when[DAYS_TIME_SIZE], apart_buffer[48], step_buffer[48];
    struct text apart = text_in(apart_buffer, sizeof(apart_buffer));
    struct text step = text_in(step_buffer, sizeof(step_buffer));
    time_text(series->options->zone, at, when);
    write_span(&apart, apart_s < 0 ? -apart_s : apart_s);
    write_span(&step, step_s);
    if (apart_s == 0)
        days_stop(series->report, series->path, line, "%s comes twice", when);
    else if (apart_s < 0)
        days_stop(series->report, series->path, line, "%s is %s before the row above it%s", when,
                  apart_buffer,
                  series->days->count == 1 ? "; the oldest row is expected first" : "");
    else if (apart_s % step_s)
        days_stop(series->report, series->path, line,
                  "%s is %s after the row above it, and the step is %s", when, apart_buffer,
                  step_buffer);
    else
        return true;
    series->broken = true;
    return false;
}

void days_series_refuse(struct days_series *series)
{
    series->broken = true;
    series->refused++;
}

static size_t rows_missing(const struct days_series *series, struct wall at)
{
    int64_t step_ms = (int64_t)series->days->step_s * MS_PER_S;
    size_t missing = (size_t)((at.ms - series->last.ms) / step_ms - 1);
    return missing > series->refused ? missing - series->refused : 0;
}

bool days_series_add(struct days_series *series, struct wall at, const struct days_values *values,
                     size_t line)
{
    struct days *days = series->days;
    int64_t step_ms = (int64_t)days->step_s * MS_PER_S;
    if (!series->any) {
        days->first = at;
        series->any = true;
    } else if (at.ms != series->last.ms + step_ms) {
        if (!in_order(series, at, line)) {
            series->last.ms = at.ms > series->last.ms ? at.ms : series->last.ms;
            return true;
        }
        size_t missing = rows_missing(series, at);
        if (missing > 0 && !append_holes(series, missing, line))
            return false;
    }
    series->last = at;
    series->refused = 0;
    if (!is_whole(series, values)) {
        series->gap_line = series->gap_rows ? series->gap_line : line;
        series->gap_rows++;
    } else if (series->gap_rows > 0 && !tell_gap(series)) {
        return false;
    }
    return series->broken || append(series, values, line);
}

/* ---- filling ------------------------------------------------------------------------ */

/* The nearest earlier day that has a value; for the first day, the nearest later one. */
static bool fill_from_day(float *values, size_t count, size_t row, size_t day)
{
    if (row >= day) { /* already filled itself */
        values[row] = values[row - day];
        return true;
    }
    for (size_t later = row + day; later < count; later += day)
        if (!isnan(values[later])) {
            values[row] = values[later];
            return true;
        }
    return false;
}

static bool fill_row(struct days_series *series, float *values, size_t row, bool flows)
{
    if (!isnan(values[row]))
        return true;
    if (series->options->gap == DAYS_GAP_DAY_BEFORE)
        return fill_from_day(values, series->days->count, row,
                             (size_t)(S_PER_DAY / series->days->step_s));
    if (row == 0 && flows)
        return false;
    values[row] = flows ? values[row - 1] : 0; /* a tap is not held open */
    return true;
}

static bool fill(struct days_series *series)
{
    struct days *days = series->days;
    for (size_t k = 0; k < days->count; k++)
        if (!fill_row(series, days->use_w, k, true) || !fill_row(series, days->solar_w, k, true) ||
            (series->with_draws && !fill_row(series, days->draw_l, k, false))) {
            char when[DAYS_TIME_SIZE];
            struct wall at = {days->first.ms + (int64_t)k * days->step_s * MS_PER_S};
            days_stop(series->report, series->path, 0, "nothing to fill the gap at %s with",
                      time_text(series->options->zone, at, when));
            return false;
        }
    return true;
}

bool days_series_end(struct days_series *series)
{
    struct days *days = series->days;
    if (series->gap_rows > 0)
        tell_gap(series);
    if (series->broken || !fill(series))
        return false;
    days->steps = days->count;
    if (series->with_draws) {
        days->draw_step_s = days->step_s;
        days->draw_count = days->count;
    }
    return true;
}
