/* espi.c - the file is read twice: once for what it says of itself (espi_feed.c), and once
 * for the values, each of which goes into its channel at once. Of the file itself no more
 * is in memory than a block. */
#include "days/espi.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "days/espi_feed.h"
#include "days/fields.h"
#include "days/found.h"
#include "days/report.h"
#include "days/xml.h"

/* Of ESPI's lists, from memory. */
enum {
    SERVICE_ELECTRICITY = 0,
    UNIT_W = 38,
    UNIT_WH = 72,
    FLOW_FORWARD = 1, /* delivered to the customer */
    FLOW_NET = 4,
    FLOW_REVERSE = 19, /* received from the customer */
    BEHAVIOUR_BULK = 1,
    BEHAVIOUR_CUMULATIVE = 3, /* these two are a counter's state */
    QUALITY_BY_REFERENCE_DAY = 8,
    QUALITY_INTERPOLATED = 9,
    QUALITY_PROJECTED = 12,
    STEP_MAX_S = 3600,
};

/* What becomes of a meter reading. */
struct stream {
    bool wanted;
    struct days_channel like;
    double factor;
    int32_t interval_s; /* where a reading of it does not say */
    struct days_channel *channel;
    size_t too_long, too_long_line; /* readings of more than an hour */
};

struct reader {
    const struct days_file *file;
    struct espi_feed feed;
    struct stream stream[ESPI_MAX];
    int stream_count;
    size_t put;
    /* The entry and the reading at hand. */
    struct espi_links links;
    int index; /* of its stream, -1: not known yet */
    bool in_reading;
    int64_t start_s, duration_s;
    float value;
    bool estimated;
    size_t line;
};

static bool stop(const struct reader *reader, size_t line, const char *what)
{
    days_stop(reader->file->report, reader->file->path, line, "%s", what);
    return false;
}

/* ---- which readings, and as what --------------------------------------------------------- */

static const struct espi_type *type_of(const struct espi_feed *feed,
                                       const struct espi_reading *reading)
{
    for (int k = 0; k < feed->type_count; k++)
        if (reading->type[0] && strcmp(feed->type[k].id, reading->type) == 0)
            return &feed->type[k];
    return feed->type_count == 1 ? &feed->type[0] : NULL;
}

static const struct espi_point *point_of(const struct espi_feed *feed,
                                         const struct espi_reading *reading)
{
    for (int k = 0; k < feed->point_count; k++)
        if (strcmp(feed->point[k].id, reading->point) == 0)
            return &feed->point[k];
    return NULL;
}

static enum days_role role_of(int32_t flow)
{
    switch (flow) {
    case FLOW_FORWARD:
        return DAYS_IMPORT;
    case FLOW_REVERSE:
        return DAYS_EXPORT;
    case FLOW_NET:
        return DAYS_GRID;
    default:
        return DAYS_UNKNOWN;
    }
}

static void name_stream(const struct espi_feed *feed, int index, char name[static DAYS_NAME_SIZE])
{
    const struct espi_reading *reading = &feed->reading[index];
    struct text text = text_in(name, DAYS_NAME_SIZE);
    int same = 0;
    for (int k = 0; k < feed->reading_count; k++)
        same += strcmp(feed->reading[k].title, reading->title) == 0;
    if (reading->title[0] && same == 1)
        text_add(&text, "%s", reading->title);
    else
        text_add(&text, "MeterReading%s%s", reading->id[0] ? " " : "", reading->id);
}

static bool is_electric(const struct espi_point *point, const struct espi_type *type)
{
    return (!point || point->service < 0 || point->service == SERVICE_ELECTRICITY) &&
           (!type || type->unit < 0 || type->unit == UNIT_WH || type->unit == UNIT_W);
}

/* One connection point only, all files together: which one is for a person to say. */
static bool is_meant(struct reader *reader, const struct espi_point *point, size_t line,
                     bool *meant)
{
    const char *wanted = reader->file->options->meter;
    char *known = reader->file->channels->meter;
    *meant =
        !wanted || !point || strcmp(wanted, point->id) == 0 || strcmp(wanted, point->title) == 0;
    if (!*meant || !point)
        return true;
    const char *name = point->title[0] ? point->title : point->id;
    if (known[0] && strcmp(known, name) != 0) {
        days_stop(reader->file->report, reader->file->path, line,
                  "a second connection point, \"%s\" after \"%s\": --meter NAME says which is "
                  "meant",
                  name, known);
        return false;
    }
    strcpy(known, name);
    return true;
}

static bool settle_stream(struct reader *reader, int index)
{
    const struct espi_reading *reading = &reader->feed.reading[index];
    const struct espi_type *type = type_of(&reader->feed, reading);
    const struct espi_point *point = point_of(&reader->feed, reading);
    struct stream *stream = &reader->stream[index];
    bool meant = false;
    stream->factor = 1;
    if (!is_electric(point, type))
        return true;
    if (!is_meant(reader, point, reading->line, &meant))
        return false;
    if (!meant)
        return true;
    if (type && (type->behaviour == BEHAVIOUR_BULK || type->behaviour == BEHAVIOUR_CUMULATIVE)) {
        days_found_how(reader->file->found, reader->file->path, reading->line,
                       "a meter reading of a counter's state, not of intervals, is left out");
        return true;
    }
    if (type && (type->power_of_ten < -9 || type->power_of_ten > 9))
        return stop(reader, reading->line, "a power of ten from -9 to 9 is expected");
    stream->wanted = true;
    stream->like = (struct days_channel){
        .role = role_of(type ? type->flow : -1),
        .unit = !type || type->unit < 0 ? DAYS_UNIT_BY_HEADER
                : type->unit == UNIT_W  ? DAYS_W
                                        : DAYS_WH,
    };
    name_stream(&reader->feed, index, stream->like.name);
    stream->factor = type ? pow(10, type->power_of_ten) : 1;
    stream->interval_s = type ? type->interval_s : -1;
    return true;
}

/* Blocks that stand alone, without a feed around them, are of one reading. */
static bool settle(struct reader *reader)
{
    struct espi_feed *feed = &reader->feed;
    if (!feed->any_block)
        return stop(reader, 0,
                    "XML, but no IntervalBlock in it: interval data as a Green Button "
                    "(ESPI) file are expected");
    if (feed->reading_count == 0)
        feed->reading_count = 1;
    reader->stream_count = feed->reading_count;
    for (int k = 0; k < reader->stream_count; k++)
        if (!settle_stream(reader, k))
            return false;
    return true;
}

/* ---- values ------------------------------------------------------------------------------ */

static int find_stream(const struct reader *reader)
{
    const struct espi_links *links = &reader->links;
    for (int k = 0; k < reader->stream_count && links->reading[0]; k++) {
        const struct espi_reading *reading = &reader->feed.reading[k];
        if (strcmp(reading->id, links->reading) == 0 && strcmp(reading->point, links->point) == 0)
            return k;
    }
    return reader->stream_count == 1 ? 0 : -1;
}

static bool begin_element(void *context, const char *name, const char *const *attributes,
                          size_t line)
{
    struct reader *reader = context;
    if (strcmp(name, "entry") == 0) {
        reader->links = (struct espi_links){0};
    } else if (strcmp(name, "link") == 0) {
        return espi_links_take(&reader->links, attributes);
    } else if (strcmp(name, "IntervalBlock") == 0) {
        reader->index = find_stream(reader);
        if (reader->index < 0)
            return stop(reader, line,
                        "the links before this IntervalBlock do not say of which "
                        "MeterReading it is");
    } else if (strcmp(name, "IntervalReading") == 0) {
        reader->in_reading = true;
        reader->start_s = reader->duration_s = -1;
        reader->value = NAN;
        reader->estimated = false;
        reader->line = line;
    }
    return true;
}

static bool read_number(const struct reader *reader, const char *name, const char *text,
                        size_t line, int64_t *number)
{
    char *end;
    *number = strtoll(text, &end, 10);
    if (end != text && !*end && *number > -1000000000000 && *number < 1000000000000)
        return true;
    days_stop(reader->file->report, reader->file->path, line,
              "%s \"%.40s\": a whole number is expected", name, text);
    return false;
}

static bool take_value(struct reader *reader, const char *text, size_t line)
{
    struct days_field field = {text, strlen(text)};
    char mark = '.';
    double number = 0;
    switch (days_field_number(field, false, &mark, &number)) {
    case DAYS_NUMBER:
        reader->value = (float)(number * reader->stream[reader->index].factor);
        return true;
    case DAYS_NUMBER_MISSING:
        return true;
    default:
        days_stop(reader->file->report, reader->file->path, line, "value \"%.40s\" is no number",
                  text);
        reader->value = INFINITY;
        return true;
    }
}

static struct days_channel *channel_of(struct reader *reader, struct stream *stream)
{
    if (stream->channel && stream->channel->step_s == (int32_t)reader->duration_s)
        return stream->channel;
    stream->like.step_s = (int32_t)reader->duration_s;
    stream->like.begin = (struct days_place){reader->file->index, reader->line};
    stream->channel = days_channel_open(reader->file->channels, &stream->like);
    return stream->channel;
}

static bool tell_put(const struct reader *reader, const struct days_channel *channel,
                     enum days_put put)
{
    const struct days_file *file = reader->file;
    int64_t index = (reader->start_s - channel->first.ms / MS_PER_S) / channel->step_s;
    switch (put) {
    case DAYS_PUT:
        return true;
    case DAYS_PUT_TWICE:
        days_stop(file->report, file->path, reader->line,
                  "%s has a value for this time already, on line %zu", channel->name,
                  days_channel_place(channel, (size_t)index).line);
        return file->report->stop_count < DAYS_REPORT_MAX;
    case DAYS_PUT_BETWEEN:
        days_stop(file->report, file->path, reader->line,
                  "this interval begins within another one of %s", channel->name);
        return file->report->stop_count < DAYS_REPORT_MAX;
    case DAYS_PUT_TOO_FAR:
        days_stop(file->report, file->path, reader->line, "this interval is %s", days_put_why(put));
        return false;
    case DAYS_PUT_TOO_MANY:
    case DAYS_PUT_NO_MEMORY:
        break;
    }
    return stop(reader, reader->line, days_put_why(put));
}

static bool put_reading(struct reader *reader)
{
    struct stream *stream = &reader->stream[reader->index];
    struct days_place place = {reader->file->index, reader->line};
    reader->in_reading = false;
    if (!stream->wanted)
        return true;
    if (reader->duration_s <= 0)
        reader->duration_s = stream->interval_s;
    if (reader->start_s < 0 || reader->duration_s <= 0)
        return stop(reader, reader->line,
                    "an interval with start and duration is expected, in seconds");
    if (reader->duration_s > STEP_MAX_S) {
        stream->too_long_line = stream->too_long++ ? stream->too_long_line : reader->line;
        return true;
    }
    struct days_channel *channel = channel_of(reader, stream);
    if (!channel)
        return stop(reader, reader->line, "over 64 streams, or steps that change too often");
    enum days_put put =
        days_channel_put(channel, (struct wall){reader->start_s * MS_PER_S}, reader->value, place);
    if (put == DAYS_PUT && reader->estimated)
        days_channel_estimated(channel, place);
    reader->put++;
    return tell_put(reader, channel, put);
}

static bool end_element(void *context, const char *name, const char *text, size_t line)
{
    struct reader *reader = context;
    int64_t number;
    if (!reader->in_reading)
        return true;
    if (strcmp(name, "IntervalReading") == 0)
        return put_reading(reader);
    if (strcmp(name, "value") == 0)
        return take_value(reader, text, line);
    if (strcmp(name, "start") == 0)
        return read_number(reader, name, text, line, &reader->start_s);
    if (strcmp(name, "duration") == 0)
        return read_number(reader, name, text, line, &reader->duration_s);
    if (strcmp(name, "quality") != 0)
        return true;
    if (!read_number(reader, name, text, line, &number))
        return false;
    reader->estimated |= number == QUALITY_BY_REFERENCE_DAY || number == QUALITY_INTERPOLATED ||
                         number == QUALITY_PROJECTED;
    return true;
}

/* ---- the file ---------------------------------------------------------------------------- */

static void tell(const struct reader *reader)
{
    const struct days_file *file = reader->file;
    const struct espi_feed *feed = &reader->feed;
    int left_out = 0;
    size_t too_long = 0, too_long_line = 0;
    for (int k = 0; k < reader->stream_count; k++) {
        left_out += !reader->stream[k].wanted;
        too_long += reader->stream[k].too_long;
        if (reader->stream[k].too_long && !too_long_line)
            too_long_line = reader->stream[k].too_long_line;
    }
    days_found_how(file->found, file->path, 0, "Green Button (ESPI)%s%s: times are UTC",
                   file->channels->meter[0] ? " of " : "", file->channels->meter);
    if (left_out > 0)
        days_found_how(file->found, file->path, 0,
                       "%d meter reading%s left out: of another connection point, of no intervals, "
                       "or not of energy",
                       left_out, left_out == 1 ? "" : "s");
    if (too_long > 0)
        days_found_how(file->found, file->path, too_long_line,
                       "%zu sums of more than an hour are left out", too_long);
    if (feed->any_zone && feed->zone_offset_s != file->options->zone->standard_offset_s)
        days_notice(file->report, file->path, 0,
                    "its own standard time is UTC%+.4g h, the settings' timezone UTC%+.4g h: is it "
                    "this home's file?",
                    feed->zone_offset_s / 3600.0, file->options->zone->standard_offset_s / 3600.0);
    if (reader->put == 0)
        days_stop(file->report, file->path, 0, "no interval of an hour or less that is wanted: %s",
                  file->options->meter ? "is --meter the name of a connection point in it?"
                                       : "are these sums of days or bills?");
}

static bool read_values(struct reader *reader)
{
    static const struct days_xml_reader values = {begin_element, end_element};
    if (!espi_feed_read(reader->file, &reader->feed) || !settle(reader))
        return false;
    if (!days_xml_read(reader->file->path, &values, reader, reader->file->report))
        return false;
    tell(reader);
    return true;
}

bool days_espi_read(const struct days_file *file)
{
    struct reader *reader = calloc(1, sizeof(*reader));
    if (!reader) {
        days_stop(file->report, file->path, 0, "out of memory");
        return false;
    }
    reader->file = file;
    bool read = read_values(reader);
    free(reader);
    return read;
}

/* Any XML: what is no meter data is told by the reader. */
bool days_espi_is(const unsigned char *start, size_t length)
{
    size_t at = 0;
    if (length >= 3 && memcmp(start, "\xef\xbb\xbf", 3) == 0)
        at = 3;
    else if (length >= 2 &&
             (memcmp(start, "\xff\xfe", 2) == 0 || memcmp(start, "\xfe\xff", 2) == 0))
        at = 2; /* UTF-16 */
    while (at < length && (start[at] == ' ' || start[at] == '\n' || start[at] == '\r' ||
                           start[at] == '\t' || start[at] == '\0'))
        at++;
    return at < length && start[at] == '<';
}
