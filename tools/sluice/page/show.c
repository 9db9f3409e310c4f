/* show.c - rounding to what is worth reading. */
#include "show.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

enum { MWH_PER_10_WH = 10000, SECONDS_PER_DAY = 86400 };

static int64_t round_to(int64_t value, int64_t unit)
{
    return (value + (value < 0 ? -unit : unit) / 2) / unit;
}

/* Hundredths as "12.34": the sign by hand, since -0.34 has no negative whole part. */
static void add_hundredths(struct text *text, int64_t hundredths)
{
    int64_t size = hundredths < 0 ? -hundredths : hundredths;
    text_add(text, "%s%" PRId64 ".%02" PRId64, hundredths < 0 ? "-" : "", size / 100, size % 100);
}

void show_count(struct text *text, int64_t count)
{
    if (count >= 1000) {
        show_count(text, count / 1000);
        text_add(text, ",%03" PRId64, count % 1000);
    } else {
        text_add(text, "%" PRId64, count);
    }
}

void show_power(struct text *text, int64_t power_w)
{
    if (power_w > -1000 && power_w < 1000) {
        text_add(text, "%" PRId64 " W", power_w);
        return;
    }
    add_hundredths(text, round_to(power_w, 10));
    text_add(text, " kW");
}

void show_kwh(struct text *text, int64_t energy_mwh)
{
    add_hundredths(text, round_to(energy_mwh, MWH_PER_10_WH));
}

void show_energy(struct text *text, int64_t energy_mwh)
{
    show_kwh(text, energy_mwh);
    text_add(text, " kWh");
}

void show_duration(struct text *text, int64_t ms)
{
    int64_t minutes = ms / MS_PER_MIN;
    if (ms < MS_PER_MIN)
        text_add(text, "%" PRId64 " s", ms / MS_PER_S);
    else if (minutes < 60)
        text_add(text, "%" PRId64 " min", minutes);
    else if (minutes < 48 * 60 && minutes % 60 == 0)
        text_add(text, "%" PRId64 " h", minutes / 60);
    else if (minutes < 48 * 60)
        text_add(text, "%" PRId64 " h %" PRId64 " min", minutes / 60, minutes % 60);
    else if (minutes / 60 % 24 == 0)
        text_add(text, "%" PRId64 " d", minutes / 60 / 24);
    else
        text_add(text, "%" PRId64 " d %" PRId64 " h", minutes / 60 / 24, minutes / 60 % 24);
}

void show_age(struct text *text, int64_t ms)
{
    if (ms >= 0 && ms < 10 * MS_PER_S)
        text_add(text, "%" PRId64 ".%" PRId64 " s", ms / MS_PER_S, ms % MS_PER_S / 100);
    else
        show_duration(text, ms);
}

void show_date(struct text *text, struct date date)
{
    static const char *const days[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    text_add(text, "%s %d %s %d", days[weekday_of_days(days_of_date(date))], date.day,
             month_name(date.month), date.year);
}

void show_clock(struct text *text, int32_t second)
{
    text_add(text, "%02" PRId32 ":%02" PRId32, second / 3600, second / 60 % 60);
}

bool show_read_time(const char *iso, struct local *local)
{
    int year, hour, minute, second;
    unsigned month, day;
    if (sscanf(iso, "%4d-%2u-%2uT%2d:%2d:%2d", &year, &month, &day, &hour, &minute, &second) != 6 ||
        month < 1 || month > 12 || day < 1 || day > 31 || hour < 0 || hour > 23 || minute < 0 ||
        minute > 59 || second < 0 || second > 60)
        return false;
    struct date date = {(int16_t)year, (uint8_t)month, (uint8_t)day};
    *local = (struct local){days_of_date(date), hour * 3600 + minute * 60 + second};
    return true;
}
