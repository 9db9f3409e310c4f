/* minutes.c - see minutes.h.
 *
 * The idea: with a table of all minutes, "the first minute that is not before
 * 02:30 on Sunday" and "is the load open now" need no thought about summer
 * time. All the settings that tests make are whole minutes, so nothing is lost. */
#include "minutes.h"

#include <assert.h>
#include <stdlib.h>
#include <time.h>

static bool weekday_in(uint8_t weekdays, int32_t day)
{
    int32_t monday_first = (day + 3) % 7; /* 1970-01-01 was a Thursday */
    return (weekdays >> monday_first & 1) != 0;
}

static bool span_open(const struct hours_span *span, int32_t day, int32_t second)
{
    if (span->to_s > span->from_s)
        return weekday_in(span->weekdays, day) && second >= span->from_s && second < span->to_s;
    return (weekday_in(span->weekdays, day) && second >= span->from_s) ||
           (weekday_in(span->weekdays, day - 1) && second < span->to_s);
}

static bool spans_open(const struct hours *hours, int32_t day, int32_t second)
{
    if (hours->count == 0)
        return true;
    for (int i = 0; i < hours->count; i++)
        if (span_open(&hours->span[i], day, second))
            return true;
    return false;
}

static bool band_in_month(const struct tariff_band *band, int month)
{
    if (band->first_month == 0)
        return true;
    if (band->first_month <= band->last_month)
        return month >= band->first_month && month <= band->last_month;
    return month >= band->first_month || month <= band->last_month;
}

static int32_t price_at(const struct tariff *tariff, int32_t day, int32_t second, int month)
{
    int32_t price_micro = 0;
    for (int i = 0; i < tariff->count; i++) {
        const struct tariff_band *band = &tariff->band[i];
        if (band_in_month(band, month) && spans_open(&band->hours, day, second))
            price_micro = band->price_micro;
    }
    return price_micro;
}

static struct minute minute_make(const struct rules_settings *settings, time_t wall_s)
{
    struct tm tm;
    localtime_r(&wall_s, &tm);
    struct minute minute = {
        .day = (int32_t)((wall_s + tm.tm_gmtoff) / 86400),
        .second = tm.tm_hour * 3600 + tm.tm_min * 60,
    };
    minute.price_micro = price_at(&settings->tariff, minute.day, minute.second, tm.tm_mon + 1);
    minute.quiet =
        settings->quiet.count > 0 && spans_open(&settings->quiet, minute.day, minute.second);
    for (unsigned i = 0; i < settings->load_count && i < MINUTES_LOADS_MAX; i++) {
        if (spans_open(&settings->loads[i].hours, minute.day, minute.second))
            minute.open = (uint8_t)(minute.open | 1U << i);
        if (spans_open(&settings->loads[i].supply_hours, minute.day, minute.second))
            minute.supplied = (uint8_t)(minute.supplied | 1U << i);
    }
    return minute;
}

void minutes_make(struct minutes *minutes, const char *rule, const struct rules_settings *settings,
                  struct wall from, int32_t days)
{
    setenv("TZ", rule, 1);
    tzset();
    minutes->first = from.ms / 60000;
    minutes->count = days * 24 * 60;
    assert(minutes->count <= MINUTES_MAX);
    for (int32_t i = 0; i < minutes->count; i++)
        minutes->minute[i] = minute_make(settings, (time_t)(minutes->first + i) * 60);
}

const struct minute *minutes_at(const struct minutes *minutes, int64_t wall_ms)
{
    int64_t at = wall_ms / 60000 - minutes->first;
    assert(at >= 0 && at < minutes->count);
    return &minutes->minute[at];
}

int64_t minutes_of_local(const struct minutes *minutes, int32_t day, int32_t second)
{
    for (int32_t i = 0; i < minutes->count; i++) {
        const struct minute *minute = &minutes->minute[i];
        if (minute->day > day || (minute->day == day && minute->second >= second))
            return (minutes->first + i) * 60000;
    }
    assert(false && "the calendar is too short");
    return 0;
}
