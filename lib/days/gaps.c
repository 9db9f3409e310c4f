/* gaps.c - rows without a value.
 *
 * A run of them is one stop or notice, at the line that should have had the first, or the
 * one that came instead. Nothing with a hole in it ever comes out. What was refused
 * (INFINITY) has a stop already and is no gap to tell. */
#include "days/gaps.h"

#include <math.h>
#include <stdio.h>

#include "core/quantity.h"
#include "days/report.h"

enum { S_PER_DAY = 86400, GAP_MAX_S = 7 * S_PER_DAY };

const char *days_time_text(const struct zone *zone, struct wall wall,
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

static struct wall row_at(const struct days_gaps *gaps, size_t row)
{
    return (struct wall){gaps->days->first.ms + (int64_t)row * gaps->days->step_s * MS_PER_S};
}

static bool is_missing(const struct days *days, size_t row)
{
    return isnan(days->use_w[row]) || isnan(days->solar_w[row]) ||
           (days->draw_l && isnan(days->draw_l[row]));
}

static bool is_refused(const struct days *days, size_t row)
{
    return isinf(days->use_w[row]) || isinf(days->solar_w[row]) ||
           (days->draw_l && isinf(days->draw_l[row]));
}

/* ---- telling ---------------------------------------------------------------------------- */

/* An hour that lacks where clocks go back is usually no lost hour. */
static bool at_clock_change(const struct days_gaps *gaps, size_t from, size_t to)
{
    struct wall begin = row_at(gaps, from), change;
    return gaps->options->clock == DAYS_LOCAL &&
           zone_next_change(gaps->options->zone, (struct wall){begin.ms - MS_PER_HOUR}, &change) &&
           change.ms <= row_at(gaps, to).ms;
}

static bool tell(const struct days_gaps *gaps, size_t from, size_t to)
{
    static const char *const filled[] = {
        [DAYS_GAP_HOLDS] = "the row before goes on, without hot water",
        [DAYS_GAP_DAY_BEFORE] = "filled with the same time of another day",
    };
    char span_buffer[48];
    struct text span = text_in(span_buffer, sizeof(span_buffer));
    int64_t gap_s = (int64_t)(to - from) * gaps->days->step_s;
    struct days_place place = gaps->place(gaps->context, from);
    if (place.line == 0 && to < gaps->days->count)
        place = gaps->place(gaps->context, to);
    const char *path = gaps->paths[place.file];
    quantity_write(QUANTITY_DURATION_MS, gap_s * MS_PER_S, &span);
    if (gap_s > GAP_MAX_S) {
        days_stop(gaps->report, path, place.line,
                  "%s missing from here: too much to be filled; without it these days are no whole "
                  "year",
                  span_buffer);
        return false;
    }
    if (gaps->options->gap == DAYS_GAP_STOPS) {
        days_stop(gaps->report, path, place.line,
                  "%s missing from here: --gaps hold or --gaps day-before would fill it%s",
                  span_buffer,
                  at_clock_change(gaps, from, to)
                      ? "; clocks go back there: if the file keeps standard time all year round, "
                        "--times standard says so"
                      : "");
        return false;
    }
    days_notice(gaps->report, path, place.line, "%s missing from here: %s", span_buffer,
                filled[gaps->options->gap]);
    return true;
}

static bool tell_all(const struct days_gaps *gaps)
{
    const struct days *days = gaps->days;
    bool clear = true;
    size_t from;
    for (size_t row = 0; row < days->count;) {
        if (!is_missing(days, row)) {
            clear = clear && !is_refused(days, row);
            row++;
            continue;
        }
        for (from = row; row < days->count && is_missing(days, row);)
            row++;
        clear = tell(gaps, from, row) && clear;
    }
    return clear;
}

/* ---- filling ---------------------------------------------------------------------------- */

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

static bool fill_row(const struct days_gaps *gaps, float *values, size_t row, bool flows)
{
    if (!isnan(values[row]))
        return true;
    if (gaps->options->gap == DAYS_GAP_DAY_BEFORE)
        return fill_from_day(values, gaps->days->count, row,
                             (size_t)(S_PER_DAY / gaps->days->step_s));
    if (row == 0 && flows)
        return false;
    values[row] = flows ? values[row - 1] : 0; /* a tap is not held open */
    return true;
}

bool days_gaps_fill(const struct days_gaps *gaps)
{
    struct days *days = gaps->days;
    if (!tell_all(gaps))
        return false;
    for (size_t k = 0; k < days->count; k++)
        if (!fill_row(gaps, days->use_w, k, true) || !fill_row(gaps, days->solar_w, k, true) ||
            (days->draw_l && !fill_row(gaps, days->draw_l, k, false))) {
            char when[DAYS_TIME_SIZE];
            days_stop(gaps->report, gaps->paths[0], 0, "nothing to fill the gap at %s with",
                      days_time_text(gaps->options->zone, row_at(gaps, k), when));
            return false;
        }
    return true;
}
