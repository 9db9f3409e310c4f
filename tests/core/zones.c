/* zones.c - see zones.h. */
#include "zones.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Beirut, Santiago and Cairo change at midnight. Left out are zones whose file
 * announces an exception that its rule does not know (Debian's tzdata 2026f:
 * America/Havana keeps summer time through the winter of 2026, Africa/Casablanca
 * goes by a list of dates): no rule can follow those. */
const char *const zone_names[] = {
    "Australia/Sydney", "Australia/Lord_Howe", "Australia/Brisbane", "Australia/Adelaide",
    "Europe/London",    "Europe/Dublin",       "Europe/Berlin",      "America/New_York",
    "America/St_Johns", "America/Nuuk",        "America/Santiago",   "Asia/Beirut",
    "Pacific/Chatham",  "Pacific/Auckland",    "Asia/Kathmandu",     "Asia/Kolkata",
    "Asia/Jerusalem",   "Africa/Cairo",        "Atlantic/Azores",    "Pacific/Kiritimati",
    "Antarctica/Troll", "Pacific/Norfolk",
};
const int zone_count = sizeof(zone_names) / sizeof(zone_names[0]);

static void last_line_of_file(const char *name, char *line, int size)
{
    char path[200];
    snprintf(path, sizeof(path), "/usr/share/zoneinfo/%s", name);
    FILE *file = fopen(path, "rb");
    ck_assert_msg(file != NULL, "%s: is tzdata installed?", path);
    while (fgets(line, size, file))
        ;
    fclose(file);
    line[strcspn(line, "\n")] = '\0';
}

static struct zone parsed(const char *rule)
{
    struct zone zone;
    struct trouble trouble;
    ck_assert_msg(zone_parse(rule, &zone, &trouble), "%s", trouble.text);
    return zone;
}

struct zone zone_of_system(const char *name)
{
    char rule[4096];
    last_line_of_file(name, rule, sizeof(rule));
    setenv("TZ", name, 1);
    tzset();
    return parsed(rule);
}

struct zone zone_of_rule(const char *rule)
{
    setenv("TZ", rule, 1);
    tzset();
    return parsed(rule);
}

struct local library_local(int64_t wall_s)
{
    time_t time = (time_t)wall_s;
    struct tm clock, date = {0};
    if (!localtime_r(&time, &clock))
        ck_abort_msg("localtime_r failed at %lld", (long long)wall_s);
    date.tm_year = clock.tm_year;
    date.tm_mon = clock.tm_mon;
    date.tm_mday = clock.tm_mday;
    return (struct local){.day = (int32_t)(timegm(&date) / 86400),
                          .second = clock.tm_hour * 3600 + clock.tm_min * 60 + clock.tm_sec};
}

int64_t utc_s(int year, int month, int day, int hour, int minute)
{
    struct tm date = {.tm_year = year - 1900,
                      .tm_mon = month - 1,
                      .tm_mday = day,
                      .tm_hour = hour,
                      .tm_min = minute};
    return timegm(&date);
}
