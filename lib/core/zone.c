/* zone.c - local time by rule.
 *
 * The idea: a rule gives two changes a year. The offset at a moment is that of the
 * latest change not after it, whichever that is; so the southern hemisphere, a
 * "summer" time that is behind (Europe/Dublin), and changes that spill over New
 * Year need no cases of their own.
 *
 * Everything but the parser works in whole seconds. */
#include "zone.h"

#include <stddef.h>
#include <string.h>

#include "text.h"

/* A change is at most 167 h and an offset of 25 h away from the day it is told for. */
enum { S_PER_DAY = 86400, SPILL_S = 9 * S_PER_DAY };

const struct zone zone_utc = {.has_summer = false};

/* ---- when the offset changes --------------------------------------------------- */

/* Moments outside the years that a date can hold count as the first or last. */
static int64_t seconds_of_wall(struct wall wall)
{
    const int64_t most_s = INT64_C(365) * 30000 * S_PER_DAY;
    int64_t seconds = wall.ms / MS_PER_S - (wall.ms % MS_PER_S < 0);
    return seconds < -most_s ? -most_s : seconds > most_s ? most_s : seconds;
}

static int32_t day_of_seconds(int64_t seconds)
{
    return (int32_t)(seconds / S_PER_DAY - (seconds % S_PER_DAY < 0));
}

static bool is_leap(int32_t year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

/* The day that "the week-th weekday of the month" falls on; the 5th is the last. */
static int32_t day_in_month(const struct zone_change *change, int32_t year)
{
    static const uint8_t length[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    struct date date = {.year = (int16_t)year, .month = change->month, .day = 1};
    int32_t first = days_of_date(date);
    int32_t wanted = (change->weekday + 6) % 7; /* Monday is 0 */
    int32_t ahead = (wanted - (int32_t)weekday_of_days(first) + 7) % 7;
    int32_t days = length[change->month - 1] + (change->month == 2 && is_leap(year));
    int32_t day = ahead + 7 * (change->week - 1);
    return first + (day >= days ? day - 7 : day);
}

static int32_t day_of_change(const struct zone_change *change, int32_t year)
{
    int32_t new_year = days_of_date((struct date){.year = (int16_t)year, .month = 1, .day = 1});
    switch (change->kind) {
    case 'M':
        return day_in_month(change, year);
    case 'J': /* 1..365; 29 February is never counted, so 60 is always 1 March */
        return new_year + change->day - 1 + (change->day >= 60 && is_leap(year));
    default: /* 'D': 0..365, 29 February counted */
        return new_year + change->day;
    }
}

/* A change is told in the local time that holds until then. */
static int64_t change_in_year(const struct zone *zone, bool to_summer, int32_t year)
{
    const struct zone_change *change = to_summer ? &zone->to_summer : &zone->to_standard;
    int32_t offset_s = to_summer ? zone->standard_offset_s : zone->summer_offset_s;
    return (int64_t)day_of_change(change, year) * S_PER_DAY + change->at_s - offset_s;
}

static int32_t year_of_seconds(int64_t seconds)
{
    return date_of_days(day_of_seconds(seconds)).year;
}

/* The last change of this kind that is not after the moment, and the first one that
 * is. It need not be the moment's own year's: it may be told for the year before or
 * after, or have spilled over from there. */
static int64_t latest_change(const struct zone *zone, bool to_summer, int64_t seconds)
{
    int32_t year = year_of_seconds(seconds + SPILL_S);
    int64_t change = change_in_year(zone, to_summer, year);
    while (change > seconds)
        change = change_in_year(zone, to_summer, --year);
    return change;
}

static int64_t following_change(const struct zone *zone, bool to_summer, int64_t seconds)
{
    int32_t year = year_of_seconds(seconds - SPILL_S);
    int64_t change = change_in_year(zone, to_summer, year);
    while (change <= seconds)
        change = change_in_year(zone, to_summer, ++year);
    return change;
}

/* Where both changes fall on one moment (summer time all the year round, RFC
 * 8536 section 3.3.1), the change to summer time is the later one. */
static int32_t offset_at(const struct zone *zone, int64_t seconds)
{
    if (!zone->has_summer)
        return zone->standard_offset_s;
    bool summer = latest_change(zone, true, seconds) >= latest_change(zone, false, seconds);
    return summer ? zone->summer_offset_s : zone->standard_offset_s;
}

static int64_t next_told_change(const struct zone *zone, int64_t seconds)
{
    int64_t to_summer = following_change(zone, true, seconds);
    int64_t to_standard = following_change(zone, false, seconds);
    return to_summer < to_standard ? to_summer : to_standard;
}

/* A told change need not change anything: both may fall on one moment. In three
 * years without a real one there is none. */
static bool next_change(const struct zone *zone, int64_t seconds, int64_t *change)
{
    if (!zone->has_summer || zone->summer_offset_s == zone->standard_offset_s)
        return false;
    int32_t offset_s = offset_at(zone, seconds);
    *change = seconds;
    for (int told = 0; told < 6; told++) {
        *change = next_told_change(zone, *change);
        if (offset_at(zone, *change) != offset_s)
            return true;
    }
    return false;
}

bool zone_next_change(const struct zone *zone, struct wall wall, struct wall *change)
{
    int64_t seconds;
    if (!next_change(zone, seconds_of_wall(wall), &seconds))
        return false;
    change->ms = seconds * MS_PER_S;
    return true;
}

/* ---- between the world's time and the clock's ---------------------------------- */

struct local local_of_wall(const struct zone *zone, struct wall wall)
{
    int64_t seconds = seconds_of_wall(wall);
    seconds += offset_at(zone, seconds);
    int32_t day = day_of_seconds(seconds);
    return (struct local){.day = day, .second = (int32_t)(seconds - (int64_t)day * S_PER_DAY)};
}

struct wall wall_of_local(const struct zone *zone, int32_t day, int32_t second)
{
    int64_t clock = (int64_t)day * S_PER_DAY + second;
    bool summer_first = zone->has_summer && zone->summer_offset_s > zone->standard_offset_s;
    int32_t ahead_s = summer_first ? zone->summer_offset_s : zone->standard_offset_s;
    int32_t behind_s =
        summer_first || !zone->has_summer ? zone->standard_offset_s : zone->summer_offset_s;
    int64_t early = clock - ahead_s, late = clock - behind_s;
    if (offset_at(zone, early) == ahead_s)
        return (struct wall){early * MS_PER_S}; /* the only one, or the first of two */
    if (offset_at(zone, late) != behind_s)
        next_change(zone, early, &late); /* the clock jumped over it */
    return (struct wall){late * MS_PER_S};
}

/* ---- the rule's text ------------------------------------------------------------- */

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* "AEST", or "<+1030>" where it is not all letters; three characters at least. */
static bool take_name(const char **at)
{
    const char *from = *at, *to;
    if (*from == '<') {
        for (to = ++from; is_letter(*to) || is_digit(*to) || *to == '+' || *to == '-'; to++)
            ;
        *at = to + 1;
        return *to == '>' && to - from >= 3;
    }
    for (to = from; is_letter(*to); to++)
        ;
    *at = to;
    return to - from >= 3;
}

static bool take_number(const char **at, int32_t least, int32_t most, int32_t *number)
{
    const char *from = *at;
    int32_t value = 0;
    while (is_digit(**at) && *at - from < 3)
        value = value * 10 + (*(*at)++ - '0');
    *number = value;
    return *at > from && !is_digit(**at) && value >= least && value <= most;
}

static bool take(const char **at, char c)
{
    if (**at != c)
        return false;
    ++*at;
    return true;
}

/* "[+-]hh[:mm[:ss]]" */
static bool take_time(const char **at, int32_t most_hours, int32_t *seconds)
{
    int32_t hours, minutes = 0, rest = 0;
    bool negative = take(at, '-');
    if (!negative)
        take(at, '+');
    if (!take_number(at, 0, most_hours, &hours))
        return false;
    if (take(at, ':')) {
        if (!take_number(at, 0, 59, &minutes))
            return false;
        if (take(at, ':') && !take_number(at, 0, 59, &rest))
            return false;
    }
    *seconds = hours * 3600 + minutes * 60 + rest;
    if (negative)
        *seconds = -*seconds;
    return true;
}

/* POSIX counts westward. */
static bool take_offset(const char **at, int32_t *east_s)
{
    int32_t west_s;
    if (!take_time(at, 24, &west_s))
        return false;
    *east_s = -west_s;
    return true;
}

static bool take_day(const char **at, struct zone_change *change)
{
    int32_t month = 0, week = 0, weekday = 0, day = 0;
    bool good;
    change->kind = **at == 'M' || **at == 'J' ? (uint8_t) * *at : 'D';
    if (change->kind != 'D')
        ++*at;
    if (change->kind == 'M')
        good = take_number(at, 1, 12, &month) && take(at, '.') && take_number(at, 1, 5, &week) &&
               take(at, '.') && take_number(at, 0, 6, &weekday);
    else
        good = take_number(at, change->kind == 'J', 365, &day);
    change->month = (uint8_t)month;
    change->week = (uint8_t)week;
    change->weekday = (uint8_t)weekday;
    change->day = (uint16_t)day;
    return good;
}

/* ",M10.1.0/3": at two o'clock where no time is given. */
static bool take_change(const char **at, struct zone_change *change)
{
    if (!take(at, ',') || !take_day(at, change))
        return false;
    change->at_s = 2 * 3600;
    return !take(at, '/') || take_time(at, 167, &change->at_s);
}

/* What is wrong with the rule, or NULL. POSIX lets the changes be left out, but
 * what it then means is left to the system: here it means nothing. */
static const char *read_rule(const char **at, struct zone *zone)
{
    if (!take_name(at))
        return "a name of three letters or more, such as AEST or <+1030>";
    if (!take_offset(at, &zone->standard_offset_s))
        return "hours behind Greenwich, such as -10 or 3:30";
    if (**at == '\0')
        return NULL;
    zone->has_summer = true;
    zone->summer_offset_s = zone->standard_offset_s + 3600;
    if (!take_name(at))
        return "the name of summer time, such as AEDT";
    if (**at != ',' && **at != '\0' && !take_offset(at, &zone->summer_offset_s))
        return "summer time's hours behind Greenwich";
    if (!take_change(at, &zone->to_summer))
        return "the change to summer time, such as ,M10.1.0";
    if (!take_change(at, &zone->to_standard))
        return "the change back, such as ,M4.1.0/3";
    return **at == '\0' ? NULL : "nothing more";
}

bool zone_parse(const char *rule, struct zone *zone, struct trouble *trouble)
{
    char whole[TEXT_SHORT_SIZE], rest[TEXT_SHORT_SIZE];
    struct zone made = {.has_summer = false};
    const char *at = rule;
    const char *expected = read_rule(&at, &made);
    if (!expected) {
        *zone = made;
        return true;
    }
    size_t stopped = (size_t)(at - rule), length = strlen(rule);
    text_shorten(rest, rule + (stopped < length ? stopped : length));
    return trouble_set(trouble, "", "\"%s\" is not a time zone rule: expected %s, found \"%s\"",
                       text_shorten(whole, rule), expected, rest);
}
