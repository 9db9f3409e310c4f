/* times.c - from a written time to a moment.
 *
 * Two steps: what is written (a day, a second of the day, perhaps an offset), and which
 * moment that is. Local times come twice in autumn; rows follow each other, so the
 * second of the two is meant where the first would not come after the row before. In
 * spring an hour does not exist; a file that has it does not follow the zone's summer
 * time, and that must be told, not repaired.
 *
 * Rows come in millions and most share their date with the row before, so the date's
 * text and the day's beginning are remembered. */
#include "days/times.h"

#include <stdio.h>
#include <string.h>

#include "core/text.h"

enum { S_PER_DAY = 86400, S_PER_HOUR = 3600, S_PER_MIN = 60 };

struct written {
    int32_t day, second;
    bool has_offset;
    int32_t offset_s;
};

struct cursor {
    const char *at, *end;
};

void days_times_begin(struct days_times *times, const struct days_options *options)
{
    *times =
        (struct days_times){.options = options, .clock = options->clock, .dates = options->dates};
}

/* ---- what is written ------------------------------------------------------------ */

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* The number of digits; at most nine count. */
static int take_number(struct cursor *cursor, int32_t *number)
{
    int digits = 0;
    *number = 0;
    for (; cursor->at < cursor->end && is_digit(*cursor->at); cursor->at++, digits++)
        if (digits < 9)
            *number = *number * 10 + (*cursor->at - '0');
    return digits;
}

static bool take_char(struct cursor *cursor, char wanted)
{
    if (cursor->at == cursor->end || *cursor->at != wanted)
        return false;
    cursor->at++;
    return true;
}

static void skip_blanks(struct cursor *cursor)
{
    while (cursor->at < cursor->end && *cursor->at == ' ')
        cursor->at++;
}

/* 20260114. */
static const char *read_compact(int32_t number, int32_t *day)
{
    struct date date = {(int16_t)(number / 10000), (uint8_t)(number / 100 % 100),
                        (uint8_t)(number % 100)};
    if (number < 19800101 || number > 21991231 || date.month < 1 || date.month > 12 ||
        date.day < 1 || date.day > 31)
        return "there is no such date";
    *day = days_of_date(date);
    return date_of_days(*day).day == date.day ? NULL : "there is no such date";
}

static const char *take_date(struct days_times *times, struct cursor *cursor, int32_t *day)
{
    enum days_dates dates = times->dates;
    static const char none[] = "it is no date";
    int32_t part[3];
    int length[3];
    length[0] = take_number(cursor, &part[0]);
    char mark = cursor->at < cursor->end ? *cursor->at : '\0';
    times->date_wrong_order = false;
    if (length[0] == 8)
        return read_compact(part[0], day);
    if (length[0] == 0 || (mark != '-' && mark != '/' && mark != '.'))
        return none;
    for (int k = 1; k < 3; k++) {
        if (!take_char(cursor, mark))
            return none;
        length[k] = take_number(cursor, &part[k]);
        if (length[k] == 0)
            return none;
    }
    bool year_first = length[0] == 4;
    if (!year_first && length[2] != 4)
        return "a year of four digits is expected";
    if (!year_first && mark != '.' && dates == DAYS_DATES_BY_FORM)
        return "is the day or the month first? --dates dmy or --dates mdy says which";
    bool month_first = !year_first && dates == DAYS_DATES_MDY && mark != '.';
    int32_t year = year_first ? part[0] : part[2];
    int32_t month = month_first ? part[0] : part[1];
    int32_t date = year_first ? part[2] : month_first ? part[1] : part[0];
    if (year < 1980 || year > 2199)
        return "a year from 1980 to 2199 is expected";
    times->date_wrong_order = !year_first && mark != '.' && month > 12 && date <= 12;
    if (month < 1 || month > 12 || date < 1 || date > 31)
        return "there is no such date";
    times->date_either |= !year_first && mark != '.';
    times->date_proven |= !year_first && mark != '.' && date > 12;
    *day = days_of_date((struct date){(int16_t)year, (uint8_t)month, (uint8_t)date});
    return date_of_days(*day).day == date ? NULL : "there is no such date";
}

static bool take_word(struct cursor *cursor, const char *word)
{
    size_t length = strlen(word);
    struct days_field rest = {cursor->at, length};
    if ((size_t)(cursor->end - cursor->at) < length || !days_field_is(rest, word))
        return false;
    cursor->at += length;
    return true;
}

static const char *take_fraction(struct cursor *cursor)
{
    if (!take_char(cursor, '.'))
        return NULL;
    for (; cursor->at < cursor->end && is_digit(*cursor->at); cursor->at++)
        if (*cursor->at != '0')
            return "whole seconds are expected";
    return NULL;
}

static const char *take_clock(struct cursor *cursor, int32_t *second)
{
    static const char none[] = "a time of day such as 17:00 is expected";
    int32_t hour, minute, s = 0;
    int hour_digits = take_number(cursor, &hour);
    if (hour_digits < 1 || hour_digits > 2 || !take_char(cursor, ':') ||
        take_number(cursor, &minute) != 2)
        return none;
    if (take_char(cursor, ':') && take_number(cursor, &s) != 2)
        return none;
    const char *wrong = take_fraction(cursor);
    skip_blanks(cursor);
    bool am = take_word(cursor, "AM"), pm = !am && take_word(cursor, "PM");
    if (am || pm) {
        if (hour < 1 || hour > 12)
            return none;
        hour = hour % 12 + (pm ? 12 : 0);
    }
    *second = hour * S_PER_HOUR + minute * S_PER_MIN + s;
    if (hour > 24 || minute > 59 || s > 59 || *second > S_PER_DAY)
        return "there is no such time of day";
    return wrong;
}

/* RFC 3339 has "Z" and "+11:00"; ISO 8601 also "+1100" and "+11". */
static const char *take_offset(struct cursor *cursor, struct written *written)
{
    skip_blanks(cursor);
    if (cursor->at == cursor->end)
        return NULL;
    written->has_offset = true;
    if (take_word(cursor, "UTC") || take_word(cursor, "Z"))
        return cursor->at == cursor->end ? NULL : "nothing is expected after it";
    bool east = *cursor->at == '+';
    int32_t hour, minute = 0;
    if (!take_char(cursor, '+') && !take_char(cursor, '-'))
        return "nothing but an offset such as +11:00 is expected after the time";
    int digits = take_number(cursor, &hour);
    if (digits == 4) {
        minute = hour % 100;
        hour /= 100;
    } else if (digits != 2 || (take_char(cursor, ':') && take_number(cursor, &minute) != 2)) {
        return "an offset such as +11:00 is expected";
    }
    if (cursor->at != cursor->end || hour > 15 || minute > 59)
        return "an offset such as +11:00 is expected";
    written->offset_s = (hour * S_PER_HOUR + minute * S_PER_MIN) * (east ? 1 : -1);
    return NULL;
}

/* A date of the usual form is compared with the one before, and read only when new. */
static const char *take_known_date(struct days_times *times, struct cursor *cursor, int32_t *day)
{
    const size_t length = sizeof(times->date_text);
    bool usual = (size_t)(cursor->end - cursor->at) > length && !is_digit(cursor->at[length]);
    const char *begin = cursor->at;
    if (usual && times->date_known && memcmp(begin, times->date_text, length) == 0) {
        cursor->at += length;
        *day = times->date_day;
        return NULL;
    }
    const char *wrong = take_date(times, cursor, day);
    times->date_known = usual && !wrong && cursor->at == begin + length;
    if (times->date_known) {
        memcpy(times->date_text, begin, length);
        times->date_day = *day;
    }
    return wrong;
}

static const char *read_written(struct days_times *times, const struct days_field *field,
                                const struct days_field *clock, struct written *written)
{
    struct cursor cursor = {field->at, field->at + field->length};
    const char *wrong = take_known_date(times, &cursor, &written->day);
    if (wrong)
        return wrong;
    if (clock) {
        if (cursor.at != cursor.end)
            return "nothing is expected after the date";
        cursor = (struct cursor){clock->at, clock->at + clock->length};
    } else if (!take_char(&cursor, 'T')) {
        take_char(&cursor, ',');
        skip_blanks(&cursor);
    }
    wrong = take_clock(&cursor, &written->second);
    return wrong ? wrong : take_offset(&cursor, written);
}

/* ---- which moment it is ------------------------------------------------------------ */

static bool same_local(const struct zone *zone, struct wall wall, const struct written *written)
{
    struct local local = local_of_wall(zone, wall);
    int32_t day = written->day + written->second / S_PER_DAY;
    return local.day == day && local.second == written->second % S_PER_DAY;
}

static void remember_day(struct days_times *times, int32_t day)
{
    const struct zone *zone = times->options->zone;
    times->base_ms = wall_of_local(zone, day, 0).ms;
    times->day_even = wall_of_local(zone, day + 1, 0).ms - times->base_ms == MS_PER_DAY;
    times->base_day = day;
    times->day_known = true;
}

static const char *spring_hour(struct days_times *times, const struct written *written)
{
    struct date date = date_of_days(written->day);
    times->spring_hour = true;
    snprintf(times->complaint, sizeof(times->complaint),
             "%04d-%02d-%02d %02d:%02d does not exist in the zone: clocks go forward there; if the "
             "file keeps standard time all year round, --times standard says so",
             date.year, date.month, date.day, written->second / S_PER_HOUR,
             written->second / S_PER_MIN % 60);
    return times->complaint;
}

static const char *local_moment(struct days_times *times, const struct written *written,
                                struct wall *wall)
{
    const struct zone *zone = times->options->zone;
    if (!times->day_known || times->base_day != written->day)
        remember_day(times, written->day);
    if (times->day_even) {
        wall->ms = times->base_ms + (int64_t)written->second * MS_PER_S;
        return NULL;
    }
    *wall = wall_of_local(zone, written->day, written->second);
    /* The end of a step may be told as the hour that is skipped: the same moment. */
    struct written before = {.day = written->day, .second = written->second - 1};
    struct wall moment_before = {wall->ms - MS_PER_S};
    if (!same_local(zone, *wall, written) &&
        !(times->options->time_ends_step && written->second > 0 &&
          same_local(zone, moment_before, &before)))
        return spring_hour(times, written);
    int32_t apart_s = zone->summer_offset_s - zone->standard_offset_s;
    struct wall again = {wall->ms + (int64_t)(apart_s < 0 ? -apart_s : apart_s) * MS_PER_S};
    if (!same_local(zone, again, written))
        return NULL;
    if (times->newest_first ? !times->any || again.ms < times->last.ms
                            : times->any && wall->ms <= times->last.ms)
        *wall = again;
    return NULL;
}

static const char *moment_of(struct days_times *times, const struct written *written,
                             struct wall *wall)
{
    int32_t offset_s = written->offset_s;
    if (!written->has_offset && times->clock == DAYS_LOCAL)
        return local_moment(times, written, wall);
    if (!written->has_offset && times->clock == DAYS_STANDARD)
        offset_s = times->options->zone->standard_offset_s;
    wall->ms = ((int64_t)written->day * S_PER_DAY + written->second - offset_s) * MS_PER_S;
    return NULL;
}

/* ---- Unix time -------------------------------------------------------------------- */

/* Ten digits are seconds from September 2001 on, thirteen milliseconds. */
static const char *read_unix(struct days_field field, struct wall *wall)
{
    int64_t number = 0;
    size_t length = field.length > 4 && memcmp(field.at + field.length - 2, ".0", 2) == 0
                        ? field.length - 2
                        : field.length;
    for (size_t k = 0; k < length && length <= 13; k++)
        number = number * 10 + (field.at[k] - '0');
    if (length == 13 && number % MS_PER_S)
        return "whole seconds are expected";
    if (length != 10 && length != 13)
        return "Unix time has 10 digits, or 13 in milliseconds";
    wall->ms = length == 10 ? number * MS_PER_S : number;
    return NULL;
}

static bool is_whole_number(struct days_field field)
{
    size_t k = 0;
    while (k < field.length && is_digit(field.at[k]))
        k++;
    return field.length > 0 && (k == field.length || (k > 0 && k + 2 == field.length &&
                                                      memcmp(field.at + k, ".0", 2) == 0));
}

const char *days_times_read(struct days_times *times, const struct days_field *field,
                            const struct days_field *clock, struct wall *wall)
{
    struct written written = {0};
    const char *wrong;
    times->spring_hour = times->date_wrong_order = false;
    if (field->length == 0)
        return "there is no time";
    if (!clock && field->length != 8 && is_whole_number(*field)) {
        wrong = read_unix(*field, wall);
    } else {
        wrong = read_written(times, field, clock, &written);
        if (!wrong)
            wrong = moment_of(times, &written, wall);
    }
    if (wrong)
        return wrong;
    times->any = true;
    times->last = *wall;
    return NULL;
}

const char *days_times_day(struct days_times *times, const struct days_field *field, int32_t *day)
{
    struct cursor cursor = {field->at, field->at + field->length};
    int32_t second;
    if (field->length == 0)
        return "there is no date";
    const char *wrong = take_known_date(times, &cursor, day);
    if (wrong || cursor.at == cursor.end)
        return wrong;
    if (!take_char(&cursor, 'T'))
        skip_blanks(&cursor);
    return !take_clock(&cursor, &second) && second == 0 && cursor.at == cursor.end
               ? NULL
               : "nothing is expected after the date";
}

const char *days_times_second(struct days_times *times, int32_t day, int32_t second,
                              struct wall *wall)
{
    const struct written written = {.day = day, .second = second};
    times->spring_hour = false;
    const char *wrong = moment_of(times, &written, wall);
    if (wrong)
        return wrong;
    times->any = true;
    times->last = *wall;
    return NULL;
}

bool days_times_in_name(struct days_field name, int32_t *second)
{
    for (size_t k = 0; k + 3 < name.length; k++) {
        struct cursor cursor = {name.at + k, name.at + name.length};
        bool begins = is_digit(name.at[k]) && (k == 0 || !is_digit(name.at[k - 1]));
        if (begins && !take_clock(&cursor, second))
            return true;
    }
    return false;
}

static bool looks_like(const struct days_options *options, struct days_field field, bool day)
{
    struct days_times times;
    struct written written = {0};
    days_times_begin(&times, options);
    for (int k = 0; k < 2; k++) {
        times.dates = k == 0 ? DAYS_DATES_DMY : DAYS_DATES_MDY;
        if (!(day ? days_times_day(&times, &field, &written.day)
                  : read_written(&times, &field, NULL, &written)))
            return true;
    }
    return false;
}

bool days_times_looks_like_day(const struct days_options *options, struct days_field field)
{
    return looks_like(options, field, true);
}

bool days_times_looks_like_one(const struct days_options *options, struct days_field field)
{
    return looks_like(options, field, false);
}
