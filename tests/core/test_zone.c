/* test_zone.c - local time, against the C library with the system's zone files and
 * against the table of changes that zdump prints for 2026. */
#include "core/zone.h"

#include <stdio.h>
#include <string.h>

#include "suite.h"
#include "zones.h"

enum { QUARTER_S = 900, FIRST_YEAR = 2025, LAST_YEAR = 2030 };

static void check_local(const struct zone *zone, const char *name, int64_t wall_s)
{
    struct local ours = local_of_wall(zone, (struct wall){wall_s * 1000});
    struct local theirs = library_local(wall_s);
    if (ours.day != theirs.day || ours.second != theirs.second)
        ck_abort_msg("%s at %lld: day %d second %d, the C library has %d, %d", name,
                     (long long)wall_s, ours.day, ours.second, theirs.day, theirs.second);
}

START_TEST(test_every_hour_agrees_with_the_c_library)
{
    for (int i = 0; i < zone_count; i++) {
        struct zone zone = zone_of_system(zone_names[i]);
        int64_t end_s = utc_s(LAST_YEAR + 1, 1, 1, 0, 0);
        for (int64_t s = utc_s(FIRST_YEAR, 1, 1, 0, 0); s < end_s; s += 3600)
            check_local(&zone, zone_names[i], s);
    }
}
END_TEST

START_TEST(test_every_second_around_each_change_agrees_with_the_c_library)
{
    for (int i = 0; i < zone_count; i++) {
        struct zone zone = zone_of_system(zone_names[i]);
        struct wall change = {utc_s(FIRST_YEAR, 1, 1, 0, 0) * 1000};
        int64_t end_ms = utc_s(LAST_YEAR + 1, 1, 1, 0, 0) * 1000;
        while (zone_next_change(&zone, change, &change) && change.ms < end_ms) {
            for (int64_t s = change.ms / 1000 - 100; s < change.ms / 1000 + 100; s++)
                check_local(&zone, zone_names[i], s);
            for (int64_t s = -5 * 60; s <= 5 * 60; s++)
                check_local(&zone, zone_names[i], change.ms / 1000 + s * 60);
        }
    }
}
END_TEST

static int64_t library_offset(int64_t wall_s)
{
    struct local local = library_local(wall_s);
    return (int64_t)local.day * 86400 + local.second - wall_s;
}

/* Changes fall on quarter hours everywhere. */
START_TEST(test_next_change_is_where_the_c_library_changes)
{
    for (int i = 0; i < zone_count; i++) {
        struct zone zone = zone_of_system(zone_names[i]);
        int64_t begin_s = utc_s(FIRST_YEAR, 1, 1, 0, 0), end_s = utc_s(2027, 12, 31, 0, 0);
        struct wall expected = {begin_s * 1000};
        bool any = zone_next_change(&zone, expected, &expected);
        int64_t offset = library_offset(begin_s);
        for (int64_t s = begin_s; s < end_s; s += QUARTER_S) {
            if (library_offset(s) == offset)
                continue;
            offset = library_offset(s);
            ck_assert_msg(any, "%s changes at %lld", zone_names[i], (long long)s);
            ck_assert_int_eq(expected.ms, s * 1000);
            any = zone_next_change(&zone, expected, &expected);
        }
        ck_assert(!any || expected.ms >= end_s * 1000);
    }
}
END_TEST

/* All local minutes of a few days, found by looking at the C library's clock minute
 * by minute: the first moment that shows one is its moment; one never shown is
 * the moment at which the clock jumped over it. */
static void check_wall_of_local(const struct zone *zone, const char *name, int64_t from_s)
{
    enum { SHOWN = 6 * 24 * 60 };
    static int64_t first[SHOWN];
    struct local begin = library_local(from_s);
    memset(first, 0, sizeof(first));
    for (int64_t s = from_s; s < from_s + 6 * 86400; s += 60) {
        struct local local = library_local(s);
        int64_t minute = (int64_t)(local.day - begin.day) * 1440 + local.second / 60;
        for (int64_t m = minute; m >= 0 && m < SHOWN && first[m] == 0; m--)
            first[m] = s; /* those just jumped over, too */
    }
    for (int64_t m = 1440; m < SHOWN - 1440; m++) {
        struct wall wall =
            wall_of_local(zone, begin.day + (int32_t)(m / 1440), (int32_t)(m % 1440) * 60);
        if (wall.ms != first[m] * 1000)
            ck_abort_msg("%s day %d minute %d: %lld, the clock shows it at %lld", name,
                         begin.day + (int)(m / 1440), (int)(m % 1440), (long long)wall.ms / 1000,
                         (long long)first[m]);
    }
}

START_TEST(test_local_times_are_the_first_moment_or_the_change)
{
    for (int i = 0; i < zone_count; i++) {
        struct zone zone = zone_of_system(zone_names[i]);
        struct wall change = {utc_s(FIRST_YEAR, 1, 1, 0, 0) * 1000};
        int64_t end_ms = utc_s(2028, 1, 1, 0, 0) * 1000;
        check_wall_of_local(&zone, zone_names[i], utc_s(2026, 1, 15, 0, 0));
        while (zone_next_change(&zone, change, &change) && change.ms < end_ms)
            check_wall_of_local(&zone, zone_names[i], change.ms / 1000 / 60 * 60 - 3 * 86400);
    }
}
END_TEST

/* zdump of Debian's zone files, 2026. */
static const struct {
    const char *name;
    int month, day, hour, minute;
    int32_t shift_min;
} changes_2026[] = {
    {"Australia/Sydney", 4, 4, 16, 0, -60},    {"Australia/Sydney", 10, 3, 16, 0, 60},
    {"Australia/Lord_Howe", 4, 4, 15, 0, -30}, {"Australia/Lord_Howe", 10, 3, 15, 30, 30},
    {"Europe/London", 3, 29, 1, 0, 60},        {"Europe/London", 10, 25, 1, 0, -60},
    {"Europe/Dublin", 3, 29, 1, 0, 60},        {"Europe/Dublin", 10, 25, 1, 0, -60},
    {"America/New_York", 3, 8, 7, 0, 60},      {"America/New_York", 11, 1, 6, 0, -60},
    {"America/St_Johns", 3, 8, 5, 30, 60},     {"America/St_Johns", 11, 1, 4, 30, -60},
    {"Pacific/Chatham", 4, 4, 14, 0, -60},     {"Pacific/Chatham", 9, 26, 14, 0, 60},
};

START_TEST(test_changes_of_2026_are_those_of_the_zone_files)
{
    for (size_t i = 0; i < COUNT_OF(changes_2026); i++) {
        struct zone zone = zone_of_system(changes_2026[i].name);
        int64_t at_ms = utc_s(2026, changes_2026[i].month, changes_2026[i].day,
                              changes_2026[i].hour, changes_2026[i].minute) *
                        1000;
        struct wall before = {at_ms - 1}, found;
        ck_assert(zone_next_change(&zone, before, &found));
        ck_assert_int_eq(found.ms, at_ms);
        struct local last = local_of_wall(&zone, (struct wall){at_ms - 60000});
        struct local first = local_of_wall(&zone, (struct wall){at_ms});
        int32_t shown_s = (first.day - last.day) * 86400 + first.second - last.second;
        ck_assert_int_eq(shown_s, 60 + changes_2026[i].shift_min * 60);
    }
}
END_TEST

START_TEST(test_zones_without_summer_never_change)
{
    static const char *const names[] = {"Australia/Brisbane", "Asia/Kolkata", "Asia/Kathmandu"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        struct zone zone = zone_of_system(names[i]);
        struct wall change;
        ck_assert(!zone_next_change(&zone, (struct wall){0}, &change));
    }
}
END_TEST

static int64_t day_ms(const struct zone *zone, int16_t year, uint8_t month, uint8_t day)
{
    int32_t days = days_of_date((struct date){year, month, day});
    return wall_of_local(zone, days + 1, 0).ms - wall_of_local(zone, days, 0).ms;
}

START_TEST(test_days_of_change_have_their_own_length)
{
    struct zone sydney = zone_of_system("Australia/Sydney");
    struct zone lord_howe = zone_of_system("Australia/Lord_Howe");
    ck_assert_int_eq(day_ms(&sydney, 2026, 4, 5), 25 * MS_PER_HOUR);
    ck_assert_int_eq(day_ms(&sydney, 2026, 10, 4), 23 * MS_PER_HOUR);
    ck_assert_int_eq(day_ms(&sydney, 2026, 10, 5), 24 * MS_PER_HOUR);
    ck_assert_int_eq(day_ms(&lord_howe, 2026, 4, 5), 49 * MS_PER_HOUR / 2);
    ck_assert_int_eq(day_ms(&lord_howe, 2026, 10, 4), 47 * MS_PER_HOUR / 2);
}
END_TEST

static int64_t local_2026_s(const struct zone *zone, uint8_t month, uint8_t day, int hour,
                            int minute)
{
    int32_t days = days_of_date((struct date){2026, month, day});
    return wall_of_local(zone, days, hour * 3600 + minute * 60).ms / 1000;
}

START_TEST(test_a_time_that_does_not_exist_is_the_moment_of_the_change)
{
    struct zone sydney = zone_of_system("Australia/Sydney");
    struct zone lord_howe = zone_of_system("Australia/Lord_Howe");
    ck_assert_int_eq(local_2026_s(&sydney, 10, 4, 2, 15), utc_s(2026, 10, 3, 16, 0));
    ck_assert_int_eq(local_2026_s(&sydney, 10, 4, 2, 0), utc_s(2026, 10, 3, 16, 0));
    ck_assert_int_eq(local_2026_s(&sydney, 10, 4, 3, 0), utc_s(2026, 10, 3, 16, 0));
    ck_assert_int_eq(local_2026_s(&lord_howe, 10, 4, 2, 15), utc_s(2026, 10, 3, 15, 30));
    ck_assert_int_eq(local_2026_s(&lord_howe, 10, 4, 2, 30), utc_s(2026, 10, 3, 15, 30));
}
END_TEST

START_TEST(test_a_time_that_exists_twice_is_the_first)
{
    struct zone lord_howe = zone_of_system("Australia/Lord_Howe");
    struct zone dublin = zone_of_system("Europe/Dublin");
    /* 01:45 is 14:45 UTC at +11 and again 15:15 UTC at +10:30 */
    ck_assert_int_eq(local_2026_s(&lord_howe, 4, 5, 1, 45), utc_s(2026, 4, 4, 14, 45));
    ck_assert_int_eq(local_2026_s(&lord_howe, 4, 5, 2, 0), utc_s(2026, 4, 4, 15, 30));
    ck_assert_int_eq(local_2026_s(&dublin, 10, 25, 1, 30), utc_s(2026, 10, 25, 0, 30));
    ck_assert_int_eq(local_2026_s(&dublin, 10, 25, 2, 0), utc_s(2026, 10, 25, 2, 0));
}
END_TEST

START_TEST(test_24_o_clock_is_the_next_day)
{
    struct zone sydney = zone_of_system("Australia/Sydney");
    int32_t days = days_of_date((struct date){2026, 10, 3});
    ck_assert_int_eq(wall_of_local(&sydney, days, 86400).ms,
                     wall_of_local(&sydney, days + 1, 0).ms);
}
END_TEST

START_TEST(test_milliseconds_before_1970_belong_to_the_second_before)
{
    struct local local = local_of_wall(&zone_utc, (struct wall){-1});
    ck_assert_int_eq(local.day, -1);
    ck_assert_int_eq(local.second, 86399);
}
END_TEST

START_TEST(test_a_clock_at_nonsense_still_gives_a_time_of_day)
{
    struct zone sydney = zone_of_system("Australia/Sydney");
    static const int64_t nonsense[] = {INT64_MIN, INT64_MAX, INT64_MAX / 4, 0};
    for (size_t i = 0; i < COUNT_OF(nonsense); i++) {
        struct wall change, wall = {nonsense[i]};
        struct local local = local_of_wall(&sydney, wall);
        ck_assert_int_ge(local.second, 0);
        ck_assert_int_lt(local.second, 86400);
        ck_assert(zone_next_change(&sydney, wall, &change));
    }
}
END_TEST

/* RFC 8536 section 3.3.1 (from memory): eastern standard time with summer time all
 * the year round, its change back falling on the moment of the next change to it. */
START_TEST(test_summer_all_the_year_round_never_changes)
{
    struct zone zone = zone_of_rule("EST5EDT,0/0,J365/25");
    struct wall change;
    ck_assert(!zone_next_change(&zone, (struct wall){utc_s(2026, 6, 1, 0, 0) * 1000}, &change));
    for (int year = 2023; year < 2030; year++)
        for (int hour = -48; hour < 48; hour++) {
            int64_t wall_s = utc_s(year, 1, 1, 5, 0) + hour * 3600;
            struct local local = local_of_wall(&zone, (struct wall){wall_s * 1000});
            ck_assert_int_eq((int64_t)local.day * 86400 + local.second - wall_s, -4 * 3600);
        }
}
END_TEST

/* A change told at -167 h or 167 h falls up to a week outside its day, here into
 * another year. No outside opinion: the arithmetic is in the comment. */
START_TEST(test_changes_may_spill_over_new_year)
{
    struct zone zone = zone_of_rule("XXX0YYY,J364/167,J180");
    struct wall change;
    /* 30 December 0:00 plus 6 days 23 h is 5 January 23:00. */
    ck_assert(zone_next_change(&zone, (struct wall){utc_s(2026, 1, 1, 0, 0) * 1000}, &change));
    ck_assert_int_eq(change.ms / 1000, utc_s(2026, 1, 5, 23, 0));
    zone = zone_of_rule("XXX0YYY,J2/-167,J180");
    /* 2 January 0:00 minus 6 days 23 h is 26 December 1:00. */
    ck_assert(zone_next_change(&zone, (struct wall){utc_s(2026, 12, 1, 0, 0) * 1000}, &change));
    ck_assert_int_eq(change.ms / 1000, utc_s(2026, 12, 26, 1, 0));
    ck_assert_int_eq(local_of_wall(&zone, change).second, 2 * 3600);
}
END_TEST

/* The C library looks at one year's changes at a time, so they are kept away from
 * New Year here. */
START_TEST(test_random_rules_agree_with_the_c_library)
{
    for (uint64_t seed = 1; seed <= 300; seed++) {
        uint64_t s = seed;
        char rule[100], day[2][24];
        int64_t west_min = seeded_between(&s, -14 * 60, 12 * 60);
        for (int k = 0; k < 2; k++) {
            int early = (int)seeded_between(&s, 50, 120), late = (int)seeded_between(&s, 230, 300);
            int number = (k == 0) == (seed % 2 == 0) ? early : late;
            int form = (int)seeded_between(&s, 0, 2);
            int hour = (int)seeded_between(&s, 0, 30);
            if (form == 0)
                snprintf(day[k], sizeof(day[k]), "J%d/%d", number, hour);
            else if (form == 1)
                snprintf(day[k], sizeof(day[k]), "%d/%d:30", number, hour);
            else
                snprintf(day[k], sizeof(day[k]), "M%d.%d.%d/%d", number / 31 + 1,
                         (int)seeded_between(&s, 1, 5), (int)seeded_between(&s, 0, 6), hour);
        }
        snprintf(rule, sizeof(rule), "<AAA>%s%d:%02d<BBB>,%s,%s", west_min < 0 ? "-" : "",
                 abs((int)west_min) / 60, abs((int)west_min) % 60, day[0], day[1]);
        struct zone zone = zone_of_rule(rule);
        for (int64_t t = utc_s(2023, 1, 10, 0, 0); t < utc_s(2025, 12, 20, 0, 0); t += 1800 * 7)
            check_local(&zone, rule, t);
    }
}
END_TEST

START_TEST(test_rules_in_all_their_forms_are_read)
{
    struct zone zone;
    struct trouble trouble;
    ck_assert(zone_parse("UTC0", &zone, &trouble));
    ck_assert_int_eq(zone.standard_offset_s, 0);
    ck_assert(!zone.has_summer);
    ck_assert(zone_parse("<+0545>-5:45", &zone, &trouble));
    ck_assert_int_eq(zone.standard_offset_s, 5 * 3600 + 45 * 60);
    ck_assert(zone_parse("LMT-0:01:15", &zone, &trouble));
    ck_assert_int_eq(zone.standard_offset_s, 75);
    ck_assert(zone_parse("<+1030>-10:30<+11>-11,M10.1.0,M4.1.0", &zone, &trouble));
    ck_assert_int_eq(zone.summer_offset_s - zone.standard_offset_s, 1800);
    ck_assert_int_eq(zone.to_summer.at_s, 7200);
    ck_assert(zone_parse("<-02>2<-01>,M3.5.0/-1,M10.5.0/0", &zone, &trouble));
    ck_assert_int_eq(zone.to_summer.at_s, -3600);
    ck_assert(zone_parse("IST-1GMT0,M10.5.0,M3.5.0/1", &zone, &trouble));
    ck_assert_int_lt(zone.summer_offset_s, zone.standard_offset_s);
}
END_TEST

START_TEST(test_what_is_no_rule_is_refused_and_quoted)
{
    static const char *const bad[] = {
        "",
        "A",
        "AB-10",
        "Australia/Sydney",
        "AEST",
        "AEST-25",
        "AEST-10:60",
        "<AEST-10",
        "<A>-10",
        "AEST-10AEDT",
        "AEST-10AE",
        "AEST-10AEDT,M10.1.0",
        "AEST-10 ",
        "AEST-10AEDT,M13.1.0,M4.1.0",
        "-10",
        "AEST-10AEDT,M10.0.0,M4.1.0",
        ":AEST-10",
        "AEST-10AEDT,M10.1.7,M4.1.0",
        "AEST--10",
        "AEST-10AEDT,M10.1.0,M4.1.0/168",
        "AEST-",
        "AEST-10AEDT,M10.1.0,M4.1.0/3x",
        "AEST-0010",
        "AEST-10AEDT,J0,J100",
        "AEST-1O",
        "AEST-10AEDT,J366,J100",
        "AEST-10AEDT,366,100",
    };
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        struct zone zone;
        struct trouble trouble;
        ck_assert_msg(!zone_parse(bad[i], &zone, &trouble), "\"%s\" was read", bad[i]);
        ck_assert_msg(strstr(trouble.text, bad[i]) != NULL, "%s", trouble.text);
    }
}
END_TEST

/* Bytes that are no text would garble the terminal that shows the message. */
START_TEST(test_bytes_that_are_no_text_are_refused_and_not_quoted_as_they_are)
{
    struct zone zone;
    struct trouble trouble;
    ck_assert(!zone_parse("\xff\xfe", &zone, &trouble));
    ck_assert_msg(strstr(trouble.text, "\"??\"") != NULL, "%s", trouble.text);
}
END_TEST

START_TEST(test_a_rule_that_is_cut_or_garbled_never_reads_beyond_its_end)
{
    static const char *const seeds[] = {"AEST-10AEDT,M10.1.0,M4.1.0/3",
                                        "<+1030>-10:30<+11>-11,J300/-167,59/0:30:10"};
    for (uint64_t seed = 1; seed <= 20000; seed++) {
        uint64_t s = seed;
        const char *from = seeds[seed % COUNT_OF(seeds)];
        size_t length = (size_t)seeded_between(&s, 0, (int64_t)strlen(from));
        char *rule = malloc(length + 1); /* its end is watched by the sanitizer */
        memcpy(rule, from, length);
        rule[length] = '\0';
        if (length > 0 && seed % 3)
            rule[seeded_between(&s, 0, (int64_t)length - 1)] = (char)seeded_between(&s, 1, 255);
        struct zone zone;
        struct trouble trouble = {.text = ""};
        ck_assert(zone_parse(rule, &zone, &trouble) || trouble.text[0] != '\0');
        free(rule);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_every_hour_agrees_with_the_c_library,
        test_every_second_around_each_change_agrees_with_the_c_library,
        test_next_change_is_where_the_c_library_changes,
        test_local_times_are_the_first_moment_or_the_change,
        test_changes_of_2026_are_those_of_the_zone_files,
        test_zones_without_summer_never_change,
        test_days_of_change_have_their_own_length,
        test_a_time_that_does_not_exist_is_the_moment_of_the_change,
        test_a_time_that_exists_twice_is_the_first,
        test_24_o_clock_is_the_next_day,
        test_milliseconds_before_1970_belong_to_the_second_before,
        test_a_clock_at_nonsense_still_gives_a_time_of_day,
        test_summer_all_the_year_round_never_changes,
        test_changes_may_spill_over_new_year,
        test_random_rules_agree_with_the_c_library,
        test_rules_in_all_their_forms_are_read,
        test_what_is_no_rule_is_refused_and_quoted,
        test_bytes_that_are_no_text_are_refused_and_not_quoted_as_they_are,
        test_a_rule_that_is_cut_or_garbled_never_reads_beyond_its_end,
    };
    return suite_run("zone", tests, COUNT_OF(tests));
}
