/* table.c - a table, row by row, into channels.
 *
 * First a look at the file's beginning tells titles, separator, names, which column is
 * what (columns.h), and the step (the time that most of the first rows are apart). Then
 * every row is read with that, and whatever differs from it is named. Reading goes on
 * after a mistake, to find others, but not for long.
 *
 * A row belongs to a stream: that of its texts (register, meter, unit) where there are
 * such columns. Each stream has a channel for each column of values, or one where a row
 * is a day. */
#include "days/table.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/quantity.h"
#include "days/columns.h"
#include "days/found.h"
#include "days/gaps.h"
#include "days/head.h"
#include "days/lines.h"
#include "days/report.h"
#include "days/times.h"

enum { LOOK_ROWS = 200, S_PER_HOUR = 3600, STREAMS_MAX = DAYS_CHANNELS_MAX, KEY_SIZE = 120 };

struct stream {
    char key[KEY_SIZE];
    int channel[DAYS_CHANNELS_MAX]; /* of the channels, by cell; [0] for all of a day */
    bool any;
    struct wall last;
};

struct reader {
    const struct days_file *file;
    struct days_dialect *dialect;
    struct days_dialect own; /* where the caller has none */
    struct days_lines lines;
    struct days_table_head head;
    struct days_columns columns;
    struct days_times times;
    int32_t step_s;
    struct stream stream[STREAMS_MAX];
    int stream_count;
    char meter[DAYS_NAME_SIZE];
    struct days_field field[DAYS_FIELDS_MAX];
    char mark;
    bool mark_is_decimal;            /* a number tells so */
    struct days_place mark_either;   /* the first number in use that could have thousands */
    char mark_seen[DAYS_QUOTE_SIZE]; /* it */
};

static struct days_place here(const struct reader *reader)
{
    return (struct days_place){reader->file->index, reader->lines.number};
}

static bool stop_line(struct reader *reader, const char *what)
{
    days_stop(reader->file->report, reader->file->path, reader->lines.number, "%s", what);
    return false;
}

/* ---- lines ---------------------------------------------------------------------------- */

enum next { NEXT_ROW, NEXT_END, NEXT_STOP };

/* Empty lines and lines that begin with # are no rows. */
static enum next next_line(struct reader *reader, const char **line, size_t *length)
{
    for (;;) {
        switch (days_lines_next(&reader->lines, line, length)) {
        case DAYS_LINES_END:
            if (!reader->lines.error)
                return NEXT_END;
            days_stop(reader->file->report, reader->file->path, 0, "cannot be read: %s",
                      strerror(reader->lines.error));
            return NEXT_STOP;
        case DAYS_LINE_TOO_LONG:
            stop_line(reader, "a line of over 8192 bytes: is this a table of days?");
            return NEXT_STOP;
        case DAYS_LINE_NOT_TEXT:
            stop_line(reader, "a NUL byte: plain text in UTF-8 is expected (UTF-16, or no text?)");
            return NEXT_STOP;
        case DAYS_LINE:
            if (*length > 0 && **line != '#' && reader->lines.number >= reader->head.row_line)
                return NEXT_ROW;
        }
    }
}

/* False: a stop about this line. */
static bool split(struct reader *reader, const char *line, size_t length)
{
    int count = days_fields_split(line, length, reader->head.separator, reader->field);
    if (count == reader->head.count)
        return true;
    if (count == DAYS_FIELDS_OPEN_QUOTE)
        return stop_line(reader, "a quotation mark is not closed on this line");
    if (count == DAYS_FIELDS_TOO_MANY)
        return stop_line(reader, "over 400 fields");
    days_stop(reader->file->report, reader->file->path, reader->lines.number,
              "%d field%s where line %zu has %d%s", count, count == 1 ? "" : "s",
              reader->head.name_line, reader->head.count,
              reader->head.separator == ',' && count > reader->head.count
                  ? " (a decimal comma needs ; or a tab between fields)"
                  : "");
    return false;
}

/* ---- looking at the step ---------------------------------------------------------------- */

static const char *read_time(struct reader *reader, struct wall *at)
{
    const struct days_columns *columns = &reader->columns;
    const struct days_field *clock = columns->clock < 0 ? NULL : &reader->field[columns->clock];
    return days_times_read(&reader->times, &reader->field[columns->time], clock, at);
}

/* The most common distance of the first rows. */
static int64_t most_common(const int64_t apart_s[], int count)
{
    int most = 0;
    int64_t common = 0;
    for (int k = 0; k < count; k++) {
        int same = 0;
        for (int i = 0; i < count; i++)
            same += llabs(apart_s[i]) == llabs(apart_s[k]);
        if (same > most) {
            most = same;
            common = llabs(apart_s[k]);
        }
    }
    return common;
}

/* Rows of other streams may have the same time. */
static int64_t look_at_steps(struct reader *reader)
{
    int64_t apart_s[LOOK_ROWS];
    int count = 0, backwards = 0;
    struct wall before = {0}, at;
    const char *line;
    size_t length;
    bool any = false;
    while (count < LOOK_ROWS && days_lines_next(&reader->lines, &line, &length) == DAYS_LINE) {
        if (reader->lines.number < reader->head.row_line ||
            days_fields_split(line, length, reader->head.separator, reader->field) !=
                reader->head.count ||
            read_time(reader, &at))
            continue;
        if (any && at.ms != before.ms) {
            backwards += at.ms < before.ms;
            apart_s[count++] = (at.ms - before.ms) / MS_PER_S;
        }
        before = at;
        any = true;
    }
    reader->times.newest_first = count > 1 && backwards * 2 > count;
    return most_common(apart_s, count);
}

static void begin_times(struct reader *reader)
{
    bool newest_first = reader->times.newest_first;
    days_times_begin(&reader->times, reader->file->options);
    reader->times.clock = reader->dialect->clock;
    reader->times.dates = reader->dialect->dates;
    reader->times.newest_first = newest_first;
}

static bool look_at_step(struct reader *reader)
{
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    begin_times(reader);
    if (reader->columns.wide) {
        reader->step_s = reader->columns.step_s;
        return true;
    }
    days_lines_again(&reader->lines);
    reader->lines.looking = true;
    int64_t step = look_at_steps(reader);
    begin_times(reader);
    if (reader->times.newest_first)
        days_found_how(reader->file->found, reader->file->path, reader->head.row_line,
                       "the newest row comes first");
    reader->step_s = step ? (int32_t)step : 1; /* told by no two rows: each will be wrong */
    if (step <= S_PER_HOUR && (step == 0 || S_PER_HOUR % step == 0))
        return true;
    quantity_write(QUANTITY_DURATION_MS, step * MS_PER_S, &text);
    days_stop(reader->file->report, reader->file->path, reader->head.row_line,
              "rows are %s apart: steps from 1 s to 1 h that divide the hour are expected", buffer);
    return false;
}

static bool look(struct reader *reader)
{
    if (!days_head_find(&reader->head, &reader->lines, reader->file))
        return false;
    const struct days_head head = {.options = reader->file->options,
                                   .path = reader->file->path,
                                   .report = reader->file->report,
                                   .line = reader->head.name_line,
                                   .name = reader->head.name,
                                   .named = reader->head.named,
                                   .row = reader->head.row,
                                   .count = reader->head.count};
    if (!days_columns_find(&reader->columns, &head) || !look_at_step(reader))
        return false;
    days_lines_again(&reader->lines);
    return true;
}

/* ---- streams -------------------------------------------------------------------------- */

static void add_key(struct reader *reader, struct text *text, int column)
{
    if (column >= 0)
        text_add(text, "%.*s|", (int)reader->field[column].length, reader->field[column].at);
}

/* The codes of Australian meters: E is taken from the network, B sent into it. */
static enum days_role role_of_stream(struct days_field text)
{
    bool code = text.length == 2 && text.at[1] >= '1' && text.at[1] <= '9';
    enum days_role role = days_role_of(text);
    if (role == DAYS_UNKNOWN && code)
        role = *text.at == 'E' ? DAYS_IMPORT : *text.at == 'B' ? DAYS_EXPORT : role;
    return role == DAYS_TIME ? DAYS_UNKNOWN : role;
}

static struct days_field base_name(const char *path)
{
    const char *slash = strrchr(path, '/'), *base = slash ? slash + 1 : path;
    const char *dot = strrchr(base, '.');
    return (struct days_field){base, dot && dot > base ? (size_t)(dot - base) : strlen(base)};
}

/* Streams in files of their own are named by these. */
static enum days_role role_of_file(const char *path)
{
    static const char words[] = "import|imported|export|exported|consumption|usage|generation|"
                                "solar|pv|feedin|feed in";
    struct days_field base = base_name(path);
    return days_name_has(base, words) ? days_role_of(base) : DAYS_UNKNOWN;
}

static struct days_field text_of(const struct reader *reader, int column)
{
    return column < 0 ? (struct days_field){"", 0} : reader->field[column];
}

static void name_channel(struct reader *reader, const struct days_cell *cell,
                         struct days_channel *like)
{
    struct text text = text_in(like->name, sizeof(like->name));
    struct days_field meter = text_of(reader, reader->columns.meter);
    struct days_field stream = text_of(reader, reader->columns.stream);
    struct days_field column = reader->columns.wide || !reader->head.named
                                   ? (struct days_field){"", 0}
                                   : reader->head.name[cell->column];
    if (reader->columns.meter >= 0 && !*reader->meter)
        days_field_quote(meter, reader->meter);
    bool other = meter.length > 0 && !days_field_is(meter, reader->meter);
    if (other)
        text_add(&text, "%.*s ", (int)meter.length, meter.at);
    if (stream.length > 0)
        column = reader->columns.cell_count > 1 && !reader->columns.wide
                     ? column
                     : (struct days_field){"", 0};
    text_add(&text, "%.*s%s%.*s", (int)stream.length, stream.at,
             stream.length > 0 && column.length > 0 ? " " : "", (int)column.length, column.at);
    if (stream.length == 0 && !reader->columns.wide && !reader->head.named)
        text_add(&text, "%d", cell->column + 1);
    if (stream.length == 0 && reader->columns.wide) {
        struct days_field base = base_name(reader->file->path);
        text_add(&text, "%.*s", (int)base.length, base.at);
    }
}

static int open_channel(struct reader *reader, const struct days_cell *cell)
{
    struct days_field stream = text_of(reader, reader->columns.stream);
    struct days_field unit = text_of(reader, reader->columns.unit);
    bool by_name = !reader->columns.wide && reader->columns.stream < 0;
    struct days_channel like = {
        .column = reader->columns.wide || stream.length > 0 ? 0 : cell->column + 1,
        .begin = {reader->file->index, by_name ? reader->head.name_line : reader->lines.number},
        .role = stream.length > 0 ? role_of_stream(stream) : cell->role,
        .unit = cell->unit,
        .step_s = reader->step_s};
    if (like.role == DAYS_UNKNOWN && stream.length > 0)
        like.role = cell->role;
    if (like.role == DAYS_UNKNOWN && stream.length == 0 &&
        (reader->columns.wide || reader->columns.cell_count == 1))
        like.role = role_of_file(reader->file->path);
    if (reader->columns.unit >= 0)
        like.unit = days_unit_of(unit, like.role);
    if (like.unit == DAYS_UNIT_BY_HEADER && reader->columns.wide)
        like.unit = days_unit_of(reader->head.name[cell->column], like.role);
    if (like.unit == DAYS_UNIT_BY_HEADER && (reader->columns.wide || stream.length > 0))
        like.unit = reader->head.title_unit;
    name_channel(reader, cell, &like);
    struct days_channel *channel = days_channel_open(reader->file->channels, &like);
    return channel ? (int)(channel - reader->file->channels->channel) : -1;
}

static struct stream *open_stream(struct reader *reader, const char *key)
{
    int cells = reader->columns.wide ? 1 : reader->columns.cell_count;
    if (reader->stream_count == STREAMS_MAX || cells > DAYS_CHANNELS_MAX) {
        stop_line(reader, "over 64 streams or columns of values");
        return NULL;
    }
    struct stream *stream = &reader->stream[reader->stream_count];
    *stream = (struct stream){.any = false};
    strcpy(stream->key, key);
    for (int k = 0; k < cells; k++) {
        stream->channel[k] = open_channel(reader, &reader->columns.cell[k]);
        if (stream->channel[k] < 0) {
            stop_line(reader, "over 64 streams or columns of values");
            return NULL;
        }
    }
    reader->stream_count++;
    return stream;
}

/* NULL: a stop is in the report. */
static struct stream *stream_of(struct reader *reader)
{
    const struct days_columns *columns = &reader->columns;
    char key[KEY_SIZE] = "";
    struct text text = text_in(key, sizeof(key));
    if (reader->stream_count > 0 && columns->stream < 0 && columns->meter < 0 && columns->unit < 0)
        return &reader->stream[0];
    add_key(reader, &text, columns->meter);
    add_key(reader, &text, columns->stream);
    add_key(reader, &text, columns->unit);
    for (int k = 0; k < reader->stream_count; k++)
        if (strcmp(reader->stream[k].key, key) == 0)
            return &reader->stream[k];
    return open_stream(reader, key);
}

static struct days_channel *channel_of(const struct reader *reader, const struct stream *stream,
                                       int cell)
{
    int index = stream->channel[reader->columns.wide ? 0 : cell];
    return &reader->file->channels->channel[index];
}

/* ---- values --------------------------------------------------------------------------- */

static float stop_number(struct reader *reader, const struct days_channel *channel,
                         struct days_field field, enum days_number wrong)
{
    char buffer[DAYS_QUOTE_SIZE];
    const char *found = days_field_quote(field, buffer);
    const char *name =
        channel->role == DAYS_UNKNOWN ? channel->name : days_role_name(channel->role);
    if (wrong == DAYS_NUMBER_OTHER_MARK)
        days_stop(reader->file->report, reader->file->path, reader->lines.number,
                  "%s: \"%s\", where the decimal mark was \"%c\" above", name, found, reader->mark);
    else
        days_stop(reader->file->report, reader->file->path, reader->lines.number,
                  "%s: \"%s\" is no number", name, found);
    return INFINITY;
}

/* A comma file's numbers have a point, and no other mark would set thousands apart. */
static void note_mark(struct reader *reader, const struct days_channel *channel,
                      struct days_field field)
{
    if (reader->head.separator == ',' || reader->mark_is_decimal)
        return;
    enum days_mark mark = days_field_mark(field);
    bool used = channel->role != DAYS_UNKNOWN;
    bool whole = !memchr(field.at, '.', field.length) && !memchr(field.at, ',', field.length);
    /* A column of codes may have 1024 whatever the others are written like. */
    reader->mark_is_decimal = mark == DAYS_MARK_DECIMAL && (used || !whole);
    if (mark != DAYS_MARK_EITHER || !used || reader->mark_either.line)
        return;
    reader->mark_either = here(reader);
    days_field_quote(field, reader->mark_seen);
}

/* No number of the file tells whether its mark sets decimals or thousands apart. */
static void doubt_mark(const struct reader *reader)
{
    if (reader->mark_either.line && !reader->mark_is_decimal)
        days_stop(reader->file->report, reader->file->path, reader->mark_either.line,
                  "\"%s\" could have decimals or thousands, and no other number tells: export it "
                  "without thousands separators, or with another count of decimals",
                  reader->mark_seen);
}

/* Nobody needs every value of what is unknown to be a number. */
static float read_value(struct reader *reader, const struct days_channel *channel,
                        struct days_field field)
{
    double value;
    enum days_number found =
        days_field_number(field, reader->head.separator != ',', &reader->mark, &value);
    if (found == DAYS_NUMBER) {
        note_mark(reader, channel, field);
        return (float)value;
    }
    if (found == DAYS_NUMBER_MISSING ||
        (channel->role == DAYS_UNKNOWN && !days_unit_is_energy(channel->unit)))
        return NAN;
    return stop_number(reader, channel, field, found);
}

static bool is_estimated(struct days_field quality)
{
    return quality.length > 0 &&
           (days_name_has(quality, "e|s|f|est|estimate|estimated|substitute|substituted|final") ||
            ((*quality.at | 0x20) == 'e' && quality.length <= 3) ||
            ((*quality.at | 0x20) == 's' && quality.length == 3));
}

static bool stop_put(struct reader *reader, const struct stream *stream, enum days_put put,
                     struct wall at)
{
    char when[DAYS_TIME_SIZE], apart_buffer[48], step_buffer[48];
    struct text apart = text_in(apart_buffer, sizeof(apart_buffer));
    struct text step = text_in(step_buffer, sizeof(step_buffer));
    days_time_text(reader->file->options->zone, at, when);
    quantity_write(QUANTITY_DURATION_MS, llabs(at.ms - stream->last.ms), &apart);
    quantity_write(QUANTITY_DURATION_MS, (int64_t)reader->step_s * MS_PER_S, &step);
    if (put == DAYS_PUT_NO_MEMORY || put == DAYS_PUT_TOO_MANY)
        return stop_line(reader, days_put_why(put));
    if (put == DAYS_PUT_TWICE && reader->dialect->clock_told)
        days_stop(reader->file->report, reader->file->path, reader->lines.number,
                  "%s comes twice, and line %zu has an hour that clocks skip: it keeps neither "
                  "standard nor local time",
                  when, reader->dialect->clock_seen.line);
    else if (put == DAYS_PUT_TWICE)
        days_stop(reader->file->report, reader->file->path, reader->lines.number, "%s comes twice",
                  when);
    else if (put == DAYS_PUT_BETWEEN)
        days_stop(reader->file->report, reader->file->path, reader->lines.number,
                  "%s is %s %s the row above it, and the step is %s", when, apart_buffer,
                  at.ms < stream->last.ms ? "before" : "after", step_buffer);
    else
        days_stop(reader->file->report, reader->file->path, reader->lines.number, "%s is %s", when,
                  days_put_why(put));
    return true;
}

/* False: no use to go on. */
static bool put(struct reader *reader, struct stream *stream, int cell, struct wall at, float value)
{
    struct days_channel *channel = channel_of(reader, stream, cell);
    enum days_put put = days_channel_put(channel, at, value, here(reader));
    bool by_time = put != DAYS_PUT_NO_MEMORY && put != DAYS_PUT_TOO_MANY;
    if (put != DAYS_PUT) /* what is wrong with its time was told for the row's first cell */
        return (cell > 0 && by_time) || stop_put(reader, stream, put, at);
    if (reader->columns.quality >= 0 && isfinite(value) &&
        is_estimated(reader->field[reader->columns.quality]))
        days_channel_estimated(channel, here(reader));
    return true;
}

/* ---- rows ----------------------------------------------------------------------------- */

enum row { ROW_ON, ROW_END, ROW_AGAIN };

/* What the row has is wrong: what it should have been is no gap to tell. */
static void refuse(struct reader *reader)
{
    int cells = reader->columns.wide ? 0 : reader->columns.cell_count;
    struct stream *stream = &reader->stream[0];
    if (reader->stream_count != 1 || !stream->any)
        return;
    int64_t step_ms = (int64_t)reader->step_s * MS_PER_S;
    stream->last.ms += reader->times.newest_first ? -step_ms : step_ms;
    for (int k = 0; k < cells; k++)
        days_channel_put(channel_of(reader, stream, k), stream->last, INFINITY, here(reader));
}

static bool is_total(const struct reader *reader)
{
    for (int k = 0; k < reader->head.count; k++)
        if (reader->field[k].length > 0)
            return days_name_has(reader->field[k], "total|totals|sum|average");
    return true;
}

/* Nothing was counted in an hour that clocks skip. */
static bool is_empty(struct reader *reader, int from, int to)
{
    for (int k = from; k < to; k++) {
        char mark = reader->mark;
        double value = 0;
        enum days_number found = days_field_number(reader->field[reader->columns.cell[k].column],
                                                   reader->head.separator != ',', &mark, &value);
        if (found == DAYS_NUMBER ? value != 0 : found != DAYS_NUMBER_MISSING)
            return false;
    }
    return true;
}

/* ROW_ON: the complaint is a stop, or was taken care of. */
static enum row complain(struct reader *reader, const char *wrong, bool empty)
{
    struct days_dialect *dialect = reader->dialect;
    char buffer[DAYS_QUOTE_SIZE];
    if (reader->times.spring_hour && empty)
        return ROW_ON;
    if (reader->times.spring_hour && !dialect->clock_told && reader->file->dialect) {
        dialect->clock = DAYS_STANDARD;
        dialect->clock_told = dialect->again = true;
        dialect->clock_seen = here(reader);
        return ROW_AGAIN;
    }
    if (reader->times.date_wrong_order && dialect->dates_tried && !reader->times.date_proven &&
        dialect->dates == DAYS_DATES_DMY) {
        dialect->dates = DAYS_DATES_MDY;
        dialect->again = true;
        return ROW_AGAIN;
    }
    if (is_total(reader)) {
        days_found_how(reader->file->found, reader->file->path, reader->lines.number,
                       "a row of totals is left out");
        return ROW_ON;
    }
    days_stop(reader->file->report, reader->file->path, reader->lines.number, "time \"%s\": %s",
              days_field_quote(reader->field[reader->columns.time], buffer), wrong);
    refuse(reader);
    return ROW_ON;
}

static enum row read_step(struct reader *reader, struct stream *stream)
{
    struct wall at;
    reader->times.any = stream->any;
    reader->times.last = stream->last;
    const char *wrong = read_time(reader, &at);
    if (wrong)
        return complain(reader, wrong, is_empty(reader, 0, reader->columns.cell_count));
    struct wall begin = at;
    if (reader->file->options->time_ends_step)
        begin.ms -= (int64_t)reader->step_s * MS_PER_S;
    for (int k = 0; k < reader->columns.cell_count; k++) {
        float value = read_value(reader, channel_of(reader, stream, k),
                                 reader->field[reader->columns.cell[k].column]);
        if (!put(reader, stream, k, begin, value))
            return ROW_END;
    }
    stream->last = at;
    stream->any = true;
    return ROW_ON;
}

static enum row read_day(struct reader *reader, struct stream *stream)
{
    const struct days_columns *columns = &reader->columns;
    int32_t day;
    const char *wrong = days_times_day(&reader->times, &reader->field[columns->time], &day);
    if (wrong)
        return complain(reader, wrong, false);
    reader->times.any = false;
    for (int k = 0; k < columns->cell_count; k++) {
        struct wall at;
        wrong = days_times_second(&reader->times, day, columns->cell[k].second, &at);
        if (wrong) {
            enum row row = complain(reader, wrong, is_empty(reader, k, k + 1));
            if (row != ROW_ON)
                return row;
            continue;
        }
        const struct days_channel *channel = channel_of(reader, stream, 0);
        float value = read_value(reader, channel, reader->field[columns->cell[k].column]);
        stream->last = at;
        if (!put(reader, stream, 0, at, value))
            return ROW_END;
    }
    return ROW_ON;
}

static enum row read_row(struct reader *reader, const char *line, size_t length)
{
    if (!split(reader, line, length)) {
        refuse(reader);
        return ROW_ON;
    }
    if (reader->field[reader->columns.time].length == 0 && is_total(reader)) {
        days_found_how(reader->file->found, reader->file->path, reader->lines.number,
                       "a row without a time is left out");
        return ROW_ON;
    }
    struct stream *stream = stream_of(reader);
    if (!stream)
        return ROW_END;
    return reader->columns.wide ? read_day(reader, stream) : read_step(reader, stream);
}

static bool read_rows(struct reader *reader)
{
    const char *line;
    size_t length;
    enum next next;
    enum row row = ROW_ON;
    while (row == ROW_ON && (next = next_line(reader, &line, &length)) == NEXT_ROW) {
        row = read_row(reader, line, length);
        if (reader->times.date_either && reader->dialect->dates_seen.line == 0)
            reader->dialect->dates_seen = here(reader);
        if (reader->file->report->stop_count >= DAYS_REPORT_MAX)
            return false;
    }
    if (reader->times.date_proven)
        reader->dialect->dates_proven = here(reader);
    if (row != ROW_AGAIN)
        doubt_mark(reader);
    return row == ROW_ON && next == NEXT_END;
}

bool days_table_read(const struct days_file *file)
{
    struct reader *reader = calloc(1, sizeof(*reader));
    if (!reader || !days_lines_open(&reader->lines, file->path)) {
        days_stop(file->report, file->path, 0, "cannot be read: %s", strerror(errno));
        free(reader);
        return false;
    }
    reader->file = file;
    reader->own =
        (struct days_dialect){.clock = file->options->clock, .dates = file->options->dates};
    reader->dialect = file->dialect ? file->dialect : &reader->own;
    bool read = look(reader) && read_rows(reader);
    days_lines_close(&reader->lines);
    free(reader);
    return read;
}
