/* nem12.c - a record a line: 200 begins a stream, each 300 after it is a day of it, 400s
 * say of what quality parts of that day are, so that a day is put into its channel only
 * when the next record that is no 400 has come.
 *
 * The records' layout is the specification's; what follows here is from memory: letters
 * of suffixes and qualities, times by UTC+10 in every state, an interval named by its
 * end. Distributors hand out files of 200 and 300 records alone; spreadsheets put quotes
 * around fields and leave the last ones out. */
#include "days/nem12.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "core/text.h"
#include "days/fields.h"
#include "days/found.h"
#include "days/lines.h"
#include "days/report.h"

enum {
    AEST_S = 36000,
    S_PER_DAY = 86400,
    VALUES_MAX = 288,
    /* The fields of records, from 0. */
    NMI = 1,
    SUFFIX = 4,
    UNIT = 7,
    INTERVAL = 8,
    DATE = 1,
    VALUES = 2,
    AFTER_VALUES = 5, /* quality, reason and its text, two times */
    FROM = 1,
    TO = 2,
    QUALITY = 3,
};

/* A day of which 400s may still come. */
struct pending {
    bool any;
    struct wall begin;
    size_t line;
    float value[VALUES_MAX];
    char quality[VALUES_MAX]; /* A E F N S, V: not yet told, ' ': the file does not say */
};

struct reader {
    const struct days_file *file;
    struct days_lines lines;
    struct days_field field[DAYS_FIELDS_MAX];
    int count;
    bool any_header, open_header; /* a 100; one without its 900 */
    bool any_stream;
    bool taken;                     /* the stream is wanted, and fit to be read */
    char other_nmi[DAYS_NAME_SIZE]; /* one that is not meant */
    struct days_channel *channel;
    int intervals; /* of a day */
    double factor; /* from the file's unit to the channel's */
    struct pending day;
    size_t unsaid, null; /* intervals without a quality, and marked as null */
    size_t unsaid_line, null_line;
    size_t left_out, left_out_line; /* streams of other meters, or reactive */
};

__attribute__((format(printf, 2, 3))) static void stop(const struct reader *reader,
                                                       const char *format, ...)
{
    char buffer[TROUBLE_TEXT_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    days_stop(reader->file->report, reader->file->path, reader->lines.number, "%s", buffer);
}

/* A whole number of at most 9 digits, or -1. */
static int32_t number_of(struct days_field field)
{
    int32_t number = 0;
    if (field.length == 0 || field.length > 9)
        return -1;
    for (size_t k = 0; k < field.length; k++) {
        if (field.at[k] < '0' || field.at[k] > '9')
            return -1;
        number = number * 10 + (field.at[k] - '0');
    }
    return number;
}

/* "20250314"; false: no date there is. */
static bool read_date(struct days_field field, int32_t *day)
{
    int32_t number = field.length == 8 ? number_of(field) : -1;
    struct date date = {(int16_t)(number / 10000), (uint8_t)(number / 100 % 100),
                        (uint8_t)(number % 100)};
    if (number < 19000101 || date.month < 1 || date.month > 12)
        return false;
    *day = days_of_date(date);
    struct date again = date_of_days(*day);
    return again.month == date.month && again.day == date.day;
}

/* ---- days ------------------------------------------------------------------------------ */

static void tell_put(const struct reader *reader, enum days_put put, int interval)
{
    const struct pending *day = &reader->day;
    const struct days_channel *channel = reader->channel;
    struct date date = date_of_days((int32_t)((day->begin.ms / MS_PER_S + AEST_S) / S_PER_DAY));
    char text[128];
    snprintf(text, sizeof(text), "%04d%02d%02d, interval %d of %s", date.year, date.month, date.day,
             interval + 1, channel->name);
    const char *path = reader->file->path;
    int64_t index = (day->begin.ms - channel->first.ms) / MS_PER_S / channel->step_s + interval;
    if (put == DAYS_PUT_TWICE)
        days_stop(reader->file->report, path, day->line,
                  "%s is there already, on line %zu%s: is it the same stream twice, or a "
                  "revision? Only one of them can stay",
                  text, days_channel_place(channel, (size_t)index).line,
                  days_channel_place(channel, (size_t)index).file != reader->file->index
                      ? " of another file"
                      : "");
    else if (put == DAYS_PUT_BETWEEN)
        days_stop(reader->file->report, path, day->line, "%s begins within another interval of it",
                  text);
    else if (put == DAYS_PUT_TOO_FAR)
        days_stop(reader->file->report, path, day->line, "%s is %s", text, days_put_why(put));
    else
        days_stop(reader->file->report, path, day->line, "%s", days_put_why(put));
}

static bool is_estimated(char quality)
{
    return quality == 'E' || quality == 'F' || quality == 'S';
}

static void count_quality(struct reader *reader, int interval)
{
    struct pending *day = &reader->day;
    char quality = day->quality[interval];
    if (quality == 'N') {
        day->value[interval] = NAN;
        reader->null_line = reader->null++ ? reader->null_line : day->line;
    } else if (quality == 'V' || quality == ' ') {
        reader->unsaid_line = reader->unsaid++ ? reader->unsaid_line : day->line;
    } else if (is_estimated(quality)) {
        days_channel_estimated(reader->channel,
                               (struct days_place){reader->file->index, day->line});
    }
}

/* The day that has been read goes into its channel. False: no use to go on. */
static bool finish_day(struct reader *reader)
{
    struct pending *day = &reader->day;
    if (!day->any)
        return true;
    day->any = false;
    struct days_place place = {reader->file->index, day->line};
    for (int k = 0; k < reader->intervals; k++) {
        count_quality(reader, k);
        struct wall at = {day->begin.ms + (int64_t)k * reader->channel->step_s * MS_PER_S};
        enum days_put put = days_channel_put(reader->channel, at, day->value[k], place);
        if (put == DAYS_PUT)
            continue;
        tell_put(reader, put, k);
        return put == DAYS_PUT_TWICE;
    }
    return true;
}

static bool read_value(const struct reader *reader, int interval, float *value)
{
    struct days_field field = reader->field[VALUES + interval];
    char mark = '.', buffer[DAYS_QUOTE_SIZE];
    double number = 0;
    switch (days_field_number(field, false, &mark, &number)) {
    case DAYS_NUMBER:
        *value = (float)(number * reader->factor);
        return true;
    case DAYS_NUMBER_MISSING:
        *value = NAN;
        return true;
    default:
        stop(reader, "interval %d: \"%s\" is no number", interval + 1,
             days_field_quote(field, buffer));
        return false;
    }
}

static const char qualities[] = "AEFNSV";

/* "A", "E52": the letter counts. 0: none of them, and that is a stop. */
static char quality_of(const struct reader *reader, int index)
{
    char buffer[DAYS_QUOTE_SIZE];
    if (index >= reader->count || reader->field[index].length == 0)
        return ' ';
    if (strchr(qualities, reader->field[index].at[0]))
        return reader->field[index].at[0];
    stop(reader, "quality \"%s\": A, E, F, N, S or V is expected",
         days_field_quote(reader->field[index], buffer));
    return 0;
}

/* False: a stop. */
static bool read_values(struct reader *reader)
{
    int wanted = VALUES + reader->intervals;
    bool good = true;
    if (reader->count < wanted || reader->count > wanted + AFTER_VALUES) {
        stop(reader, "%d fields where a day of %d intervals has %d to %d", reader->count,
             reader->intervals, wanted, wanted + AFTER_VALUES);
        return false;
    }
    for (int k = 0; k < reader->intervals && good; k++)
        good = read_value(reader, k, &reader->day.value[k]);
    char quality = good ? quality_of(reader, wanted) : 0;
    memset(reader->day.quality, quality, sizeof(reader->day.quality));
    return quality;
}

static void read_day(struct reader *reader)
{
    int32_t day;
    char buffer[DAYS_QUOTE_SIZE];
    if (!reader->any_stream)
        stop(reader, "a day (300) before the first stream (200)");
    if (!reader->taken)
        return;
    if (reader->count <= DATE || !read_date(reader->field[DATE], &day)) {
        stop(reader, "date \"%s\": 20250314 is expected",
             reader->count <= DATE ? "" : days_field_quote(reader->field[DATE], buffer));
        return;
    }
    reader->day.begin.ms = ((int64_t)day * S_PER_DAY - AEST_S) * MS_PER_S;
    reader->day.line = reader->lines.number;
    reader->day.any = read_values(reader);
}

/* The quality of some intervals of the day before. */
static void read_quality(struct reader *reader)
{
    if (!reader->day.any)
        return; /* another meter's day, or one that was refused */
    int32_t from = reader->count > TO ? number_of(reader->field[FROM]) : -1;
    int32_t to = reader->count > TO ? number_of(reader->field[TO]) : -1;
    char quality = quality_of(reader, QUALITY);
    if (from < 1 || to < from || to > reader->intervals) {
        stop(reader, "qualities from one interval to another are expected, of 1 to %d",
             reader->intervals);
        return;
    }
    if (quality)
        memset(reader->day.quality + from - 1, quality, (size_t)(to - from + 1));
}

/* ---- streams --------------------------------------------------------------------------- */

static void copy_field(struct days_field field, char *buffer, size_t size)
{
    struct text text = text_in(buffer, size);
    text_add_foreign(&text, field.at, field.length);
}

static bool read_unit(struct reader *reader, struct days_channel *like)
{
    static const struct {
        const char *word;
        enum days_unit unit;
        double factor;
    } units[] = {{"KWH", DAYS_KWH, 1}, {"WH", DAYS_WH, 1}, {"MWH", DAYS_KWH, 1000}};
    for (size_t k = 0; k < sizeof(units) / sizeof(units[0]); k++)
        if (days_field_is(reader->field[UNIT], units[k].word)) {
            like->unit = units[k].unit;
            reader->factor = units[k].factor;
            return true;
        }
    return false;
}

static bool is_apparent_or_reactive(struct days_field unit)
{
    static const char *const words[] = {"KVARH", "VARH", "MVARH", "KVAH", "VAH", "MVAH"};
    for (size_t k = 0; k < sizeof(words) / sizeof(words[0]); k++)
        if (days_field_is(unit, words[k]))
            return true;
    return false;
}

/* One connection point only, all files together: which one is for a person to say. */
static bool is_wanted(struct reader *reader)
{
    const char *wanted = reader->file->options->meter;
    char *known = reader->file->channels->meter;
    char nmi[DAYS_NAME_SIZE];
    copy_field(reader->field[NMI], nmi, sizeof(nmi));
    if (wanted && strncmp(wanted, nmi, 10) != 0) { /* an 11th is a check digit */
        snprintf(reader->other_nmi, sizeof(reader->other_nmi), "%s", nmi);
        return false;
    }
    if (known[0] && strncmp(known, nmi, 10) != 0) {
        stop(reader, "a second connection point, NMI %s after %s: --meter NMI says which is meant",
             nmi, known);
        return false;
    }
    memcpy(known, nmi, sizeof(nmi));
    return true;
}

static enum days_role role_of(struct days_field suffix)
{
    switch (suffix.length > 0 ? suffix.at[0] : '\0') {
    case 'E':
        return DAYS_IMPORT;
    case 'B':
        return DAYS_EXPORT;
    default:
        return DAYS_UNKNOWN;
    }
}

static bool open_channel(struct reader *reader)
{
    struct days_channel like = {.begin = {reader->file->index, reader->lines.number},
                                .role = role_of(reader->field[SUFFIX])};
    char buffer[DAYS_QUOTE_SIZE];
    int32_t minutes = number_of(reader->field[INTERVAL]);
    if (minutes != 5 && minutes != 15 && minutes != 30) {
        stop(reader, "intervals of \"%s\" min: 5, 15 or 30 are expected",
             days_field_quote(reader->field[INTERVAL], buffer));
        return false;
    }
    if (!read_unit(reader, &like)) {
        stop(reader, "unit \"%s\": Wh, kWh or MWh is expected",
             days_field_quote(reader->field[UNIT], buffer));
        return false;
    }
    like.step_s = minutes * 60;
    reader->intervals = S_PER_DAY / like.step_s;
    copy_field(reader->field[SUFFIX], like.name, sizeof(like.name));
    reader->channel = days_channel_open(reader->file->channels, &like);
    if (!reader->channel)
        stop(reader, "over %d streams", DAYS_CHANNELS_MAX);
    return reader->channel;
}

static void leave_out(struct reader *reader)
{
    reader->left_out_line = reader->left_out++ ? reader->left_out_line : reader->lines.number;
}

static void read_stream(struct reader *reader)
{
    reader->taken = false;
    reader->any_stream = true;
    if (reader->count <= INTERVAL || reader->field[NMI].length == 0 ||
        reader->field[SUFFIX].length == 0) {
        stop(reader, "a stream (200) with NMI, suffix, unit and interval length is expected");
        return;
    }
    bool wanted = is_wanted(reader);
    if (!wanted || is_apparent_or_reactive(reader->field[UNIT]))
        leave_out(reader);
    else
        reader->taken = open_channel(reader);
}

/* ---- records --------------------------------------------------------------------------- */

static void read_header(struct reader *reader)
{
    char buffer[DAYS_QUOTE_SIZE];
    reader->any_header = reader->open_header = true;
    if (reader->count < 2 || !days_field_is(reader->field[1], "NEM12"))
        stop(reader, "\"%s\": NEM12 is expected%s",
             reader->count < 2 ? "" : days_field_quote(reader->field[1], buffer),
             reader->count > 1 && days_field_is(reader->field[1], "NEM13")
                 ? " (NEM13 has counter readings weeks apart, no days)"
                 : "");
}

/* False: no use to go on. */
static bool read_record(struct reader *reader)
{
    char buffer[DAYS_QUOTE_SIZE];
    int32_t record = number_of(reader->field[0]);
    if (record != 400 && !finish_day(reader))
        return false;
    switch (record) {
    case 100:
        read_header(reader);
        break;
    case 200:
        read_stream(reader);
        break;
    case 300:
        read_day(reader);
        break;
    case 400:
        read_quality(reader);
        break;
    case 500: /* readings by hand, and orders for them */
        break;
    case 900:
        reader->open_header = false;
        break;
    default:
        stop(reader, "\"%s\" begins no record of NEM12: 100, 200, 300, 400, 500 or 900 is expected",
             days_field_quote(reader->field[0], buffer));
    }
    return reader->file->report->stop_count < DAYS_REPORT_MAX;
}

static bool read_line(struct reader *reader, const char *line, size_t length)
{
    reader->count = days_fields_split(line, length, ',', reader->field);
    if (reader->count >= 0)
        return read_record(reader);
    stop(reader, reader->count == DAYS_FIELDS_OPEN_QUOTE
                     ? "a quotation mark is not closed on this line"
                     : "more fields than a record has");
    return true;
}

static bool read_lines(struct reader *reader)
{
    const char *line;
    size_t length;
    for (;;)
        switch (days_lines_next(&reader->lines, &line, &length)) {
        case DAYS_LINE:
            if (length > 0 && !read_line(reader, line, length))
                return false;
            break;
        case DAYS_LINES_END:
            if (!reader->lines.error)
                return finish_day(reader);
            days_stop(reader->file->report, reader->file->path, 0, "cannot be read: %s",
                      strerror(reader->lines.error));
            return false;
        case DAYS_LINE_TOO_LONG:
            stop(reader, "a line that is too long for a record");
            return false;
        case DAYS_LINE_NOT_TEXT:
            stop(reader, "a NUL byte: plain text is expected");
            return false;
        }
}

static void tell(const struct reader *reader)
{
    struct days_found *found = reader->file->found;
    const char *nmi = reader->file->channels->meter;
    const char *path = reader->file->path;
    days_found_how(found, path, 0,
                   "NEM12%s%s: times are Australian Eastern Standard Time (UTC+10) all year",
                   nmi[0] ? " of NMI " : "", nmi);
    if (reader->left_out > 0)
        days_found_how(found, path, reader->left_out_line,
                       "%zu stream%s left out: another connection point's, or not of energy",
                       reader->left_out, reader->left_out == 1 ? "" : "s");
    if (reader->null > 0)
        days_found_how(found, path, reader->null_line,
                       "%zu intervals are marked as null (N): taken as missing", reader->null);
    if (reader->unsaid > 0)
        days_found_how(found, path, reader->unsaid_line,
                       "%zu intervals have no quality: measured or estimated is unknown",
                       reader->unsaid);
    if (reader->open_header)
        days_notice(reader->file->report, path, reader->lines.number,
                    "there is no end record (900): is the file cut off?");
    if (!nmi[0] && reader->other_nmi[0])
        days_stop(reader->file->report, path, 0,
                  "there is no NMI %s in it, but %s: is it another house's file?",
                  reader->file->options->meter, reader->other_nmi);
}

bool days_nem12_read(const struct days_file *file)
{
    struct reader reader = {.file = file};
    if (!days_lines_open(&reader.lines, file->path)) {
        days_stop(file->report, file->path, 0, "cannot be read: %s", strerror(errno));
        return false;
    }
    days_lines_again(&reader.lines);
    bool read = read_lines(&reader);
    tell(&reader);
    days_lines_close(&reader.lines);
    return read;
}

/* "100,NEM12", also with quotes; or a stream at once: "200," and ten characters of NMI. */
bool days_nem12_is(const unsigned char *start, size_t length)
{
    char text[24] = "";
    size_t used = 0;
    if (length >= 3 && memcmp(start, "\xef\xbb\xbf", 3) == 0) {
        start += 3;
        length -= 3;
    }
    for (size_t k = 0; k < length && used + 1 < sizeof(text); k++)
        if (start[k] != '"' && start[k] != ' ')
            text[used++] = (char)start[k];
    if (strncmp(text, "100,NEM1", 8) == 0)
        return true;
    size_t nmi = strncmp(text, "200,", 4) == 0 ? strcspn(text + 4, ",\r\n") : 0;
    return (nmi == 10 || nmi == 11) && text[4 + nmi] == ',';
}
