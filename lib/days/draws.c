/* draws.c - a year of hot water by minutes, laid over days.
 *
 * The second file has no times: its first minute is 1 January 0:00, and people draw
 * water by the clock on their wall. So each draw step looks up the minute of the same
 * local date, whatever the year; an hour skipped in spring is skipped here too. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "days/fields.h"
#include "days/lines.h"
#include "days/report.h"

enum { MINUTES_PER_DAY = 1440, YEAR_DAYS = 365, S_PER_MIN = 60, L_PER_HOUR_MAX = 6000 };
enum { YEAR_MINUTES = YEAR_DAYS * MINUTES_PER_DAY };

/* ---- the file ------------------------------------------------------------------- */

static bool read_flow(const char *line, size_t length, double *flow)
{
    struct days_field field[DAYS_FIELDS_MAX];
    char mark = '\0';
    return days_fields_split(line, length, ',', field) == 1 &&
           days_field_number(field[0], false, &mark, flow) == DAYS_NUMBER && !mark;
}

static bool read_line(struct days_lines *lines, const char *path, struct days_report *report,
                      const char *line, size_t length, float *flow_l_h)
{
    double flow;
    char buffer[DAYS_QUOTE_SIZE];
    const char *found = days_field_quote((struct days_field){line, length}, buffer);
    if (!read_flow(line, length, &flow)) {
        days_stop(report, path, lines->number,
                  "\"%s\": one whole number of litres per hour is expected on each line", found);
        return false;
    }
    if (flow < 0 || flow > L_PER_HOUR_MAX) {
        days_stop(report, path, lines->number, "%s litres per hour is not a tap's flow", found);
        return false;
    }
    *flow_l_h = (float)flow;
    return true;
}

/* 29 February repeats the 28th, so a leap year's extra day at the end is not needed. */
static bool read_year(struct days_lines *lines, const char *path, struct days_report *report,
                      float flow_l_h[static YEAR_MINUTES])
{
    const char *line;
    size_t length, count = 0;
    enum days_line next;
    bool clear = true;
    while ((next = days_lines_next(lines, &line, &length)) == DAYS_LINE) {
        float ignored;
        float *place = count < YEAR_MINUTES ? &flow_l_h[count] : &ignored;
        count++;
        clear = read_line(lines, path, report, line, length, place) && clear;
        if (report->stop_count >= DAYS_REPORT_MAX)
            return false;
    }
    if (next != DAYS_LINES_END)
        days_stop(report, path, lines->number, "this is no list of numbers, one a line");
    else if (lines->error)
        days_stop(report, path, 0, "cannot be read: %s", strerror(lines->error));
    else if (count != YEAR_MINUTES && count != YEAR_MINUTES + MINUTES_PER_DAY)
        days_stop(report, path, 0, "%zu lines: a year of minutes has %d (or %d)", count,
                  YEAR_MINUTES, YEAR_MINUTES + MINUTES_PER_DAY);
    else
        return clear;
    return false;
}

/* ---- laying it over -------------------------------------------------------------------- */

static int32_t day_of_year(int32_t day)
{
    static const uint16_t before[] = {0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334};
    struct date date = date_of_days(day);
    int32_t last = date.month == 2 && date.day == 29 ? 28 : date.day;
    return before[date.month - 1] + last - 1;
}

static void lay_over(struct days *days, const struct days_options *options, const float *flow_l_h)
{
    int32_t looked_up = -1, year_day = 0;
    struct wall change = days->first;
    int64_t offset_ms = 0;
    bool changes = true;
    for (size_t k = 0; k < days->draw_count; k++) {
        struct wall at = {days->first.ms + (int64_t)k * days->draw_step_s * MS_PER_S};
        if (changes && at.ms >= change.ms) { /* asking the zone for each minute is slow */
            struct local local = local_of_wall(options->zone, at);
            offset_ms = (int64_t)local.day * MS_PER_DAY + (int64_t)local.second * MS_PER_S -
                        at.ms / MS_PER_S * MS_PER_S;
            changes = zone_next_change(options->zone, at, &change);
        }
        int64_t local_ms = at.ms + offset_ms;
        int32_t day = (int32_t)(local_ms / MS_PER_DAY);
        int32_t minute = (int32_t)(local_ms % MS_PER_DAY / MS_PER_MIN);
        if (day != looked_up) {
            looked_up = day;
            year_day =
                (day_of_year(day) + options->draw_shift_day % YEAR_DAYS + YEAR_DAYS) % YEAR_DAYS;
        }
        days->draw_l[k] = flow_l_h[year_day * MINUTES_PER_DAY + minute] / 60;
    }
}

static bool add_draws(struct days *days, const struct days_options *options, const float *flow_l_h)
{
    size_t count = (size_t)((int64_t)days->steps * days->step_s / S_PER_MIN);
    float *draw_l = malloc((count ? count : 1) * sizeof(float));
    if (!draw_l)
        return false;
    free(days->draw_l);
    days->draw_l = draw_l;
    days->draw_step_s = S_PER_MIN;
    days->draw_count = count;
    lay_over(days, options, flow_l_h);
    return true;
}

static bool read_open(struct days_lines *lines, const char *path,
                      const struct days_options *options, struct days *days,
                      struct days_report *report)
{
    float *flow_l_h = malloc(YEAR_MINUTES * sizeof(float));
    days_lines_again(lines);
    bool read = flow_l_h && read_year(lines, path, report, flow_l_h);
    if (read && days->draw_l)
        days_notice(report, path, 0, "takes the place of the hot water in the first file");
    if (!flow_l_h || (read && !add_draws(days, options, flow_l_h))) {
        days_stop(report, path, 0, "out of memory");
        read = false;
    }
    free(flow_l_h);
    return read;
}

bool days_read_draws(const char *path, const struct days_options *options, struct days *days,
                     struct days_report *report)
{
    struct days_lines lines;
    if (!days_lines_open(&lines, path)) {
        days_stop(report, path, 0, "cannot be read: %s", strerror(errno));
        return false;
    }
    bool read = read_open(&lines, path, options, days, report);
    days_lines_close(&lines);
    return read;
}
