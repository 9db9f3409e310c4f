/* table.c - a file of days, row by row.
 *
 * First a look at the file's beginning tells the separator, whether the first line is
 * one of names, which column is what, and the step (the time that most of the first rows
 * are apart). Then every row is read with that, and whatever differs from it is named.
 * Reading goes on after a mistake, to find others, but not for long. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/quantity.h"
#include "days/columns.h"
#include "days/doubts.h"
#include "days/lines.h"
#include "days/report.h"
#include "days/series.h"
#include "days/times.h"

enum { LOOK_ROWS = 200, S_PER_HOUR = 3600, S_PER_DAY = 86400 };

/* A trickle the wrong way is what meters show at night; more has a meaning. */
static const double TRICKLE_W = 50;
/* Beyond any doubt about units, which doubts.c is for. */
static const double POWER_MAX_W = 1e8;

struct reader {
    const char *path;
    const struct days_options *options;
    struct days_report *report;
    struct days_lines lines;
    struct days_columns columns;
    struct days_times times;
    struct days_series series;
    struct days_seen seen[DAYS_ROLE_COUNT];
    double factor[DAYS_ROLE_COUNT]; /* to W, or litres a step */
    struct days_field field[DAYS_FIELDS_MAX];
    int count; /* of fields */
    char separator, mark;
    bool header;
    size_t trickles, trickle_line;
};

/* ---- lines -------------------------------------------------------------------------- */

enum next { NEXT_ROW, NEXT_END, NEXT_STOP };

static enum next stop_line(struct reader *reader, const char *what)
{
    days_stop(reader->report, reader->path, reader->lines.number, "%s", what);
    return NEXT_STOP;
}

/* Empty lines and lines that begin with # are no rows. */
static enum next next_line(struct reader *reader, const char **line, size_t *length)
{
    for (;;) {
        switch (days_lines_next(&reader->lines, line, length)) {
        case DAYS_LINES_END:
            if (!reader->lines.error)
                return NEXT_END;
            days_stop(reader->report, reader->path, 0, "cannot be read: %s",
                      strerror(reader->lines.error));
            return NEXT_STOP;
        case DAYS_LINE_TOO_LONG:
            return stop_line(reader, "a line of over 4096 bytes: is this a table of days?");
        case DAYS_LINE_NOT_TEXT:
            return stop_line(reader, "a NUL byte: plain text in UTF-8 is expected (UTF-16, or no "
                                     "text?)");
        case DAYS_LINE:
            if (*length > 0 && **line != '#')
                return NEXT_ROW;
        }
    }
}

/* False: a stop about this line. */
static bool split(struct reader *reader, const char *line, size_t length)
{
    int count = days_fields_split(line, length, reader->separator, reader->field);
    if (count == reader->count)
        return true;
    if (count == DAYS_FIELDS_OPEN_QUOTE)
        stop_line(reader, "a quotation mark is not closed on this line");
    else if (count == DAYS_FIELDS_TOO_MANY)
        stop_line(reader, "over 400 fields");
    else
        days_stop(reader->report, reader->path, reader->lines.number,
                  "%d field%s where line 1 has %d%s", count, count == 1 ? "" : "s", reader->count,
                  reader->separator == ',' && count > reader->count
                      ? " (a decimal comma needs ; or a tab between fields)"
                      : "");
    return false;
}

/* ---- looking at the beginning ---------------------------------------------------------- */

static bool is_row(const struct reader *reader)
{
    for (int k = 0; k < reader->count; k++) {
        char mark = '\0';
        double value;
        if (days_times_looks_like_one(reader->options, reader->field[k]))
            return true;
        if (days_field_number(reader->field[k], reader->separator != ',', &mark, &value) ==
            DAYS_NUMBER)
            return true;
    }
    return false;
}

/* Names stay where they are, in the first block. */
static bool look_at_head(struct reader *reader, struct days_field head[static DAYS_FIELDS_MAX])
{
    const char *line;
    size_t length;
    enum next next = next_line(reader, &line, &length);
    if (next == NEXT_END)
        days_stop(reader->report, reader->path, 0, "there is nothing in it");
    if (next != NEXT_ROW)
        return false;
    reader->separator = days_fields_separator(line, length);
    reader->count = days_fields_split(line, length, reader->separator, reader->field);
    if (reader->count < 0)
        return split(reader, line, length);
    memcpy(head, reader->field, sizeof(reader->field));
    reader->header = !is_row(reader);
    if (!reader->header)
        return true;
    next = next_line(reader, &line, &length);
    if (next == NEXT_END)
        days_stop(reader->report, reader->path, 0, "there are no rows in it");
    return next == NEXT_ROW && split(reader, line, length);
}

static const char *read_time(struct reader *reader, struct wall *at)
{
    const struct days_columns *columns = &reader->columns;
    const struct days_field *clock =
        columns->clock_index < 0 ? NULL : &reader->field[columns->clock_index];
    return days_times_read(&reader->times, &reader->field[columns->index[DAYS_TIME]], clock, at);
}

/* The most common distance of the first rows. */
static int64_t most_common(const int64_t apart_s[], int count)
{
    int most = 0;
    int64_t common = 0;
    for (int k = 0; k < count; k++) {
        int same = 0;
        for (int i = 0; i < count; i++)
            same += apart_s[i] == apart_s[k];
        if (same > most) {
            most = same;
            common = apart_s[k];
        }
    }
    return common;
}

static int64_t look_at_steps(struct reader *reader)
{
    int64_t apart_s[LOOK_ROWS];
    int count = 0;
    struct wall before, at;
    const char *line;
    size_t length;
    bool any = !read_time(reader, &before);
    while (count < LOOK_ROWS && days_lines_next(&reader->lines, &line, &length) == DAYS_LINE) {
        if (days_fields_split(line, length, reader->separator, reader->field) != reader->count ||
            read_time(reader, &at))
            continue;
        if (any && at.ms > before.ms)
            apart_s[count++] = (at.ms - before.ms) / MS_PER_S;
        before = at;
        any = true;
    }
    return most_common(apart_s, count);
}

static bool look_at_step(struct reader *reader, int32_t *step_s)
{
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    days_times_begin(&reader->times, reader->options);
    int64_t step = look_at_steps(reader);
    days_times_begin(&reader->times, reader->options);
    *step_s = (int32_t)step;
    if (step >= 1 && step <= S_PER_HOUR && S_PER_HOUR % step == 0)
        return true;
    quantity_write(QUANTITY_DURATION_MS, step * MS_PER_S, &text);
    if (step == 0)
        return true; /* the rows themselves will tell what is wrong with their times */
    days_stop(reader->report, reader->path, reader->header ? 2 : 1,
              "rows are %s apart: steps from 1 s to 1 h that divide the hour are expected", buffer);
    return false;
}

static double factor_of(enum days_unit unit, double step_s, double array_kwp)
{
    switch (unit) {
    case DAYS_KW:
        return 1e3;
    case DAYS_WH:
        return S_PER_HOUR / step_s;
    case DAYS_KWH:
        return 1e3 * S_PER_HOUR / step_s;
    case DAYS_W_PER_KWP:
        return array_kwp;
    case DAYS_KW_PER_KWP:
        return 1e3 * array_kwp;
    case DAYS_L_PER_HOUR:
        return step_s / S_PER_HOUR;
    case DAYS_L_PER_MINUTE:
        return step_s / 60;
    case DAYS_W:
    case DAYS_L:
    case DAYS_UNIT_BY_HEADER:
        break;
    }
    return 1;
}

static void notice_doubled(const struct reader *reader)
{
    const int *index = reader->columns.index;
    static const enum days_role others[] = {DAYS_GRID, DAYS_IMPORT, DAYS_EXPORT};
    enum days_role used = index[DAYS_USE] >= 0 ? DAYS_USE : DAYS_GRID;
    if (index[used] < 0)
        return;
    for (size_t k = 0; k < sizeof(others) / sizeof(others[0]); k++)
        if (others[k] != used && index[others[k]] >= 0)
            days_notice(reader->report, reader->path, 1,
                        "column %d, %s, is not used: %s gives the household's use",
                        index[others[k]] + 1, days_role_name(others[k]), days_role_name(used));
}

static bool look(struct reader *reader, int32_t *step_s)
{
    struct days_field head[DAYS_FIELDS_MAX] = {0};
    if (!look_at_head(reader, head) ||
        !days_columns_find(&reader->columns, reader->options, head, reader->header, reader->field,
                           reader->count, reader->path, reader->report) ||
        !look_at_step(reader, step_s))
        return false;
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        reader->factor[role] =
            factor_of(reader->columns.unit[role], *step_s, reader->options->array_kwp);
    notice_doubled(reader);
    days_lines_again(&reader->lines);
    return true;
}

/* ---- values ------------------------------------------------------------------------- */

static void stop_number(struct reader *reader, enum days_role role, enum days_number wrong)
{
    char buffer[DAYS_QUOTE_SIZE];
    const char *found = days_field_quote(reader->field[reader->columns.index[role]], buffer);
    if (wrong == DAYS_NUMBER_OTHER_MARK)
        days_stop(reader->report, reader->path, reader->lines.number,
                  "%s: \"%s\", where the decimal mark was \"%c\" above", days_role_name(role),
                  found, reader->mark);
    else
        days_stop(reader->report, reader->path, reader->lines.number, "%s: \"%s\" is no number",
                  days_role_name(role), found);
}

static void see(struct reader *reader, enum days_role role, double value)
{
    struct days_seen *seen = &reader->seen[role];
    seen->count++;
    seen->sum += value;
    if (fabs(value) > seen->most) {
        seen->most = fabs(value);
        seen->most_line = reader->lines.number;
    }
}

/* Absent columns are 0, missing values NaN. */
static bool read_value(struct reader *reader, enum days_role role, double *value)
{
    int column = reader->columns.index[role];
    *value = 0;
    if (column < 0)
        return true;
    enum days_number found =
        days_field_number(reader->field[column], reader->separator != ',', &reader->mark, value);
    if (found == DAYS_NUMBER) {
        *value *= reader->factor[role];
        see(reader, role, *value);
        return true;
    }
    *value = NAN;
    if (found == DAYS_NUMBER_MISSING)
        return true;
    stop_number(reader, role, found);
    return false;
}

/* "0.31 kW" of an import column that was kWh would mislead: always W. */
static bool is_power(struct reader *reader, const char *name, double *value_w, const char *hint)
{
    if (isnan(*value_w) || (*value_w >= 0 && *value_w <= POWER_MAX_W))
        return true;
    if (*value_w < 0 && *value_w >= -TRICKLE_W) {
        reader->trickle_line = reader->trickles++ ? reader->trickle_line : reader->lines.number;
        *value_w = 0;
        return true;
    }
    days_stop(reader->report, reader->path, reader->lines.number, "%s is %.0f W: %s", name,
              *value_w, *value_w < 0 ? hint : "no house's; in which unit is it?");
    return false;
}

static bool read_use(struct reader *reader, double solar_w, double *use_w)
{
    const int *index = reader->columns.index;
    double import_w, export_w = 0;
    if (index[DAYS_USE] >= 0)
        return read_value(reader, DAYS_USE, use_w) &&
               is_power(reader, "use", use_w,
                        "a household takes power; is it the grid's net power?");
    if (index[DAYS_GRID] >= 0) {
        if (!read_value(reader, DAYS_GRID, &import_w))
            return false;
    } else if (!read_value(reader, DAYS_IMPORT, &import_w) ||
               !read_value(reader, DAYS_EXPORT, &export_w)) {
        return false;
    }
    *use_w = import_w - export_w + solar_w;
    return is_power(reader, "use (import + solar - export)", use_w,
                    index[DAYS_SOLAR] < 0 ? "solar power is missing, or import and export are "
                                            "exchanged"
                                          : "are import and export, or their signs, exchanged?");
}

static bool read_values(struct reader *reader, struct days_values *values)
{
    double use_w, solar_w, draw_l;
    if (!read_value(reader, DAYS_SOLAR, &solar_w) ||
        !is_power(reader, "solar", &solar_w, "a roof gives power; is the sign turned?") ||
        !read_use(reader, solar_w, &use_w) || !read_value(reader, DAYS_DRAW, &draw_l))
        return false;
    if (draw_l < 0) {
        stop_line(reader, "hot water cannot be less than none");
        return false;
    }
    *values = (struct days_values){(float)use_w, (float)solar_w, (float)draw_l};
    return true;
}

/* ---- rows ---------------------------------------------------------------------------- */

static bool read_row(struct reader *reader)
{
    struct days_values values;
    struct wall at;
    char buffer[DAYS_QUOTE_SIZE];
    const char *wrong = read_time(reader, &at);
    if (wrong)
        days_stop(reader->report, reader->path, reader->lines.number, "time \"%s\": %s",
                  days_field_quote(reader->field[reader->columns.index[DAYS_TIME]], buffer), wrong);
    if (!read_values(reader, &values) || wrong) {
        days_series_refuse(&reader->series);
        return true;
    }
    if (reader->options->time_ends_step)
        at.ms -= (int64_t)reader->series.days->step_s * MS_PER_S;
    return days_series_add(&reader->series, at, &values, reader->lines.number);
}

static bool worth_going_on(const struct reader *reader)
{
    return reader->report->stop_count < DAYS_REPORT_MAX;
}

static bool read_rows(struct reader *reader)
{
    const char *line;
    size_t length;
    enum next next;
    bool skip = reader->header;
    while ((next = next_line(reader, &line, &length)) == NEXT_ROW) {
        if (skip) {
            skip = false;
            continue;
        }
        if (!split(reader, line, length))
            days_series_refuse(&reader->series);
        else if (!read_row(reader))
            return false;
        if (!worth_going_on(reader))
            return false;
    }
    return next == NEXT_END && days_series_end(&reader->series);
}

static bool whole(const struct reader *reader, const struct days *days)
{
    if (days->count >= 2)
        return true;
    days_stop(reader->report, reader->path, 0, "one row is no day: at least two are expected");
    return false;
}

static bool read_open(struct reader *reader, struct days *days)
{
    if (!look(reader, &days->step_s))
        return false;
    bool with_draws = reader->columns.index[DAYS_DRAW] >= 0;
    days_times_begin(&reader->times, reader->options);
    if (days->step_s == 0)
        days->step_s = 1; /* told by no two rows: each will be wrong */
    days_series_begin(&reader->series, days, reader->options, with_draws, reader->path,
                      reader->report);
    if (!read_rows(reader) || !whole(reader, days) ||
        !days_doubt_units(reader->seen, &reader->columns, reader->options, days->step_s,
                          reader->path, reader->report))
        return false;
    if (reader->trickles > 0)
        days_notice(reader->report, reader->path, reader->trickle_line,
                    "%zu value%s of less than nothing, at most 50 W of it: taken as none",
                    reader->trickles, reader->trickles == 1 ? "" : "s");
    days_doubt_days(days, reader->options, reader->path, reader->report);
    return true;
}

bool days_read(const char *path, const struct days_options *options, struct days *days,
               struct days_report *report)
{
    struct reader reader = {.path = path, .options = options, .report = report};
    *days = (struct days){0};
    *report = (struct days_report){0};
    if (!days_lines_open(&reader.lines, path)) {
        days_stop(report, path, 0, "cannot be read: %s", strerror(errno));
        return false;
    }
    bool read = read_open(&reader, days);
    days_lines_close(&reader.lines);
    if (!read)
        days_free(days);
    return read;
}
