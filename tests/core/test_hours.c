/* test_hours.c - hours of the week, against a clock that is looked at minute by
 * minute: what the C library shows, and a second, plain reading of the spans. */
#include "core/hours.h"

#include <stdio.h>
#include <string.h>

#include "suite.h"
#include "zones.h"

enum { DAYS_SEEN = 16, MINUTES_SEEN = DAYS_SEEN * 1440 };

/* Written for clarity: is any span, begun today or yesterday, running now? */
static bool plainly_open(const struct hours *hours, struct local local)
{
    int32_t minute = local.second / 60;
    bool open = hours->count == 0;
    for (int i = 0; i < hours->count; i++)
        for (int32_t ago = 0; ago <= 1; ago++) {
            const struct hours_span *span = &hours->span[i];
            int32_t weekday = (local.day - ago + 3) % 7; /* 1970-01-01 was a Thursday */
            int32_t length = span->to_s / 60 - span->from_s / 60;
            int32_t since = minute + ago * 1440 - span->from_s / 60;
            if (length <= 0)
                length += 1440;
            if ((span->weekdays & 1 << weekday) && since >= 0 && since < length)
                open = true;
        }
    return open;
}

static struct hours random_hours(uint64_t *seed)
{
    struct hours hours = {.count = (uint8_t)seeded_between(seed, 0, 4)};
    for (int i = 0; i < hours.count; i++) {
        hours.span[i].from_s = (int32_t)seeded_between(seed, 0, 1439) * 60;
        hours.span[i].to_s = (int32_t)seeded_between(seed, 0, 1440) * 60;
        hours.span[i].weekdays = (uint8_t)seeded_between(seed, 0, 127);
        if (seeded_between(seed, 0, 2) == 0) { /* where the clock jumps in most zones */
            hours.span[i].from_s = (int32_t)seeded_between(seed, 0, 12) * 900;
            hours.span[i].to_s = (int32_t)seeded_between(seed, 4, 14) * 900;
            hours.span[i].weekdays = WEEKDAYS_ALL;
        }
    }
    return hours;
}

struct days {
    struct zone zone;
    int64_t from_s; /* a whole minute */
    bool open[MINUTES_SEEN];
};

/* A fortnight around a change of the zone's offset, if it has any. */
static void look_at_days(struct days *days, const struct hours *hours, uint64_t *seed)
{
    days->zone = zone_of_system(zone_names[seeded_between(seed, 0, zone_count - 1)]);
    struct wall wall = {utc_s(2026, (int)seeded_between(seed, 1, 12), 1, 0, 0) * 1000};
    zone_next_change(&days->zone, wall, &wall);
    days->from_s = wall.ms / 1000 / 60 * 60 - seeded_between(seed, 0, 7 * 1440) * 60;
    for (int m = 0; m < MINUTES_SEEN; m++)
        days->open[m] = plainly_open(hours, library_local(days->from_s + m * 60));
}

static struct wall wall_of_minute(const struct days *days, int64_t minute)
{
    return (struct wall){(days->from_s + minute * 60) * 1000};
}

static int64_t minutes_open(const struct days *days, int64_t from, int64_t to)
{
    int64_t sum = 0;
    for (int64_t m = from; m < to; m++)
        sum += days->open[m];
    return sum;
}

START_TEST(test_open_is_what_the_clock_says_minute_by_minute)
{
    static struct days days;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        uint64_t s = seed;
        struct hours hours = random_hours(&s);
        look_at_days(&days, &hours, &s);
        for (int m = 0; m < MINUTES_SEEN; m++) {
            struct local local = local_of_wall(&days.zone, wall_of_minute(&days, m));
            if (hours_open(&hours, &local) != days.open[m])
                ck_abort_msg("seed %d, minute %d", (int)seed, m);
        }
    }
}
END_TEST

START_TEST(test_time_open_is_the_sum_of_open_minutes)
{
    static struct days days;
    for (uint64_t seed = 1; seed <= 120; seed++) {
        uint64_t s = seed;
        struct hours hours = random_hours(&s);
        look_at_days(&days, &hours, &s);
        for (int i = 0; i < 40; i++) {
            int64_t from = seeded_between(&s, 0, MINUTES_SEEN);
            int64_t to = seeded_between(&s, from, MINUTES_SEEN);
            int64_t open_ms = hours_open_ms(&hours, &days.zone, wall_of_minute(&days, from),
                                            wall_of_minute(&days, to));
            if (open_ms != minutes_open(&days, from, to) * MS_PER_MIN)
                ck_abort_msg("seed %d, minutes %d to %d: %lld ms", (int)seed, (int)from, (int)to,
                             (long long)open_ms);
        }
    }
}
END_TEST

static int64_t next_edge_plainly(const struct days *days, int64_t from, int64_t limit)
{
    for (int64_t m = from + 1; m < limit; m++)
        if (days->open[m] != days->open[from])
            return m;
    return limit;
}

START_TEST(test_next_edge_is_the_first_minute_that_differs)
{
    static struct days days;
    for (uint64_t seed = 1; seed <= 120; seed++) {
        uint64_t s = seed;
        struct hours hours = random_hours(&s);
        look_at_days(&days, &hours, &s);
        for (int i = 0; i < 60; i++) {
            int64_t from = seeded_between(&s, 0, MINUTES_SEEN - 1);
            int64_t limit = seeded_between(&s, from, MINUTES_SEEN - 1);
            struct wall wall = wall_of_minute(&days, from);
            wall.ms += seeded_between(&s, 0, 59999);
            struct wall edge =
                hours_next_edge(&hours, &days.zone, wall, wall_of_minute(&days, limit));
            int64_t plainly = next_edge_plainly(&days, from, limit);
            if (edge.ms != wall_of_minute(&days, plainly).ms)
                ck_abort_msg("seed %d, from minute %d to %d", (int)seed, (int)from, (int)plainly);
        }
    }
}
END_TEST

START_TEST(test_both_hold_where_each_of_two_does)
{
    int told = 0;
    for (uint64_t seed = 1; seed <= 200; seed++) {
        uint64_t s = seed;
        struct hours a = random_hours(&s), b = random_hours(&s), both;
        if (!hours_both(&a, &b, &both))
            continue;
        bool never = both.count == 0 && a.count + b.count > 0;
        told++;
        for (int m = 0; m < 8 * 1440; m++) {
            struct local local = {.day = 20000 + m / 1440, .second = m % 1440 * 60};
            bool open = !never && plainly_open(&both, local);
            if (open != (plainly_open(&a, local) && plainly_open(&b, local)))
                ck_abort_msg("seed %d, minute %d", (int)seed, m);
        }
    }
    ck_assert_int_gt(told, 100);
}
END_TEST

START_TEST(test_parts_of_a_second_are_counted)
{
    struct zone zone = zone_utc;
    struct hours hours = {.count = 1, .span = {{9 * 3600, 10 * 3600, WEEKDAYS_ALL}}};
    struct wall nine = {9 * MS_PER_HOUR};
    ck_assert_int_eq(
        hours_open_ms(&hours, &zone, (struct wall){nine.ms - 5}, (struct wall){nine.ms + 7}), 7);
    ck_assert_int_eq(
        hours_open_ms(&hours, &zone, (struct wall){nine.ms + 250}, (struct wall){nine.ms + 251}),
        1);
    struct wall edge =
        hours_next_edge(&hours, &zone, (struct wall){nine.ms - 1}, (struct wall){INT64_MAX});
    ck_assert_int_eq(edge.ms, nine.ms);
    edge = hours_next_edge(&hours, &zone, (struct wall){nine.ms - 86400000 - 1}, nine);
    ck_assert_int_eq(edge.ms, nine.ms - 86400000); /* before 1970 */
}
END_TEST

static struct hours hours_of(const char *text)
{
    struct hours hours = {.count = 1};
    struct trouble trouble;
    ck_assert_msg(hours_span_parse(text, &hours.span[0], &trouble), "%s", trouble.text);
    return hours;
}

static int64_t open_on_ms(const char *text, const char *zone_name, uint8_t month, uint8_t day)
{
    struct zone zone = zone_of_system(zone_name);
    struct hours hours = hours_of(text);
    int32_t days = days_of_date((struct date){2026, month, day});
    return hours_open_ms(&hours, &zone, wall_of_local(&zone, days, 0),
                         wall_of_local(&zone, days + 1, 0));
}

/* Changes of 2026: Sydney 5 April and 4 October, one hour at 3:00 and 2:00; Lord Howe
 * the same days, half an hour at 2:00 (zdump of Debian's zone files). */
START_TEST(test_an_hour_that_exists_twice_is_open_twice)
{
    ck_assert_int_eq(open_on_ms("02:00-03:00", "Australia/Sydney", 4, 5), 2 * MS_PER_HOUR);
    ck_assert_int_eq(open_on_ms("01:00-04:00", "Australia/Sydney", 4, 5), 4 * MS_PER_HOUR);
    ck_assert_int_eq(open_on_ms("01:30-02:00", "Australia/Lord_Howe", 4, 5), MS_PER_HOUR);
    ck_assert_int_eq(open_on_ms("00:00-24:00", "Australia/Lord_Howe", 4, 5), 49 * MS_PER_HOUR / 2);
}
END_TEST

START_TEST(test_an_hour_that_does_not_exist_is_never_open)
{
    ck_assert_int_eq(open_on_ms("02:00-03:00", "Australia/Sydney", 10, 4), 0);
    ck_assert_int_eq(open_on_ms("01:00-04:00", "Australia/Sydney", 10, 4), 2 * MS_PER_HOUR);
    ck_assert_int_eq(open_on_ms("02:00-02:45", "Australia/Lord_Howe", 10, 4), MS_PER_HOUR / 4);
    ck_assert_int_eq(open_on_ms("00:00-24:00", "Australia/Lord_Howe", 10, 4), 47 * MS_PER_HOUR / 2);
}
END_TEST

START_TEST(test_a_span_over_midnight_belongs_to_the_day_it_begins_on)
{
    /* 2026-01-16 was a Friday. */
    ck_assert_int_eq(open_on_ms("fri 22:00-06:00", "Australia/Brisbane", 1, 16), 2 * MS_PER_HOUR);
    ck_assert_int_eq(open_on_ms("fri 22:00-06:00", "Australia/Brisbane", 1, 17), 6 * MS_PER_HOUR);
    ck_assert_int_eq(open_on_ms("fri 22:00-06:00", "Australia/Brisbane", 1, 18), 0);
    ck_assert_int_eq(open_on_ms("22:00-06:00", "Australia/Brisbane", 1, 18), 8 * MS_PER_HOUR);
}
END_TEST

START_TEST(test_no_hours_at_all_are_always_open)
{
    struct hours hours = {.count = 0};
    struct local noon = {.day = 20000, .second = 43200};
    struct wall from = {0}, to = {5 * (int64_t)MS_PER_DAY};
    ck_assert(hours_open(&hours, &noon));
    ck_assert_int_eq(hours_open_ms(&hours, &zone_utc, from, to), to.ms);
    ck_assert_int_eq(hours_next_edge(&hours, &zone_utc, from, to).ms, to.ms);
}
END_TEST

START_TEST(test_hours_that_never_close_give_the_limit_however_far)
{
    struct hours hours = hours_of("00:00-24:00");
    struct zone zone = zone_of_system("Australia/Sydney");
    struct wall limit = {INT64_MAX / 2};
    ck_assert_int_eq(hours_next_edge(&hours, &zone, (struct wall){0}, limit).ms, limit.ms);
    ck_assert_int_eq(hours_open_ms(&hours, &zone, limit, (struct wall){0}), 0);
}
END_TEST

/* ---- text -------------------------------------------------------------------- */

static void check_written(const char *text, const char *expected)
{
    char buffer[100];
    struct text written = text_in(buffer, sizeof(buffer));
    struct hours hours = hours_of(text);
    hours_write(&hours, &written);
    ck_assert_str_eq(buffer, expected);
}

START_TEST(test_hours_are_read_as_people_write_them)
{
    check_written("09:00-15:00", "09:00-15:00");
    check_written("9:00 - 15:00", "09:00-15:00");
    check_written("daily 22:00-06:00", "22:00-06:00");
    check_written("mon-fri 09:00-15:00", "mon-fri 09:00-15:00");
    check_written("sat,sun 10:00-16:00", "sat,sun 10:00-16:00");
    check_written("sat, sun 10:00-16:00", "sat,sun 10:00-16:00");
    check_written("Mon,Wed,Fri-Sun 00:00-24:00", "mon,wed,fri-sun 00:00-24:00");
    check_written("sat-tue 07:15:30-08:00", "mon,tue,sat,sun 07:15:30-08:00");
    check_written("mon-sun 01:00-02:00", "01:00-02:00");
}
END_TEST

START_TEST(test_several_spans_are_written_with_and)
{
    char buffer[100];
    struct text text = text_in(buffer, sizeof(buffer));
    struct hours hours = {.count = 2, .span = {{32400, 54000, 0x1f}, {36000, 57600, 0x60}}};
    hours_write(&hours, &text);
    ck_assert_str_eq(buffer, "mon-fri 09:00-15:00 and sat,sun 10:00-16:00");
    text = text_in(buffer, sizeof(buffer));
    hours.count = 0;
    hours_write(&hours, &text);
    ck_assert_str_eq(buffer, "always");
}
END_TEST

START_TEST(test_what_is_not_hours_is_refused_and_quoted)
{
    static const char *const bad[] = {
        "09:00",
        "9-15",
        "09:00-25:00",
        "24:00-06:00",
        "09:00-15:00x",
        "mon-fri",
        "mo 09:00-15:00",
        "mon- 09:00-15:00",
        "mon,,tue 09:00-15:00",
        "09:00-15:00 mon",
        "09:60-15:00",
        "mon 09:00-15:00-16:00",
        "09:00-09:00",
        "09:00-99999999999:00",
        "mon 09:00-",
        "\x01\x02",
    };
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        struct hours_span span;
        struct trouble trouble;
        ck_assert_msg(!hours_span_parse(bad[i], &span, &trouble), "\"%s\" was read", bad[i]);
        ck_assert_ptr_nonnull(strchr(trouble.text, '"'));
    }
}
END_TEST

START_TEST(test_the_trouble_says_what_was_expected)
{
    struct hours_span span;
    struct trouble trouble;
    hours_span_parse("9 to 5", &span, &trouble);
    ck_assert_str_eq(trouble.text, "\"9 to 5\" is not hours: write such as 09:00-15:00 or "
                                   "mon-fri 22:00-06:00");
    hours_span_parse("08:00-08:00", &span, &trouble);
    ck_assert_str_eq(trouble.text, "\"08:00-08:00\" ends when it begins: for the whole day write "
                                   "00:00-24:00");
    hours_span_parse("mond 08:00-09:00", &span, &trouble);
    ck_assert_str_eq(trouble.text, "\"mond\" is not a list of weekdays: write such as daily, "
                                   "mon-fri or sat,sun");
    uint8_t weekdays;
    ck_assert(!weekdays_parse("", &weekdays, &trouble));
}
END_TEST

START_TEST(test_weekdays_come_back_as_they_went)
{
    for (int mask = 1; mask <= WEEKDAYS_ALL; mask++) {
        char buffer[64];
        uint8_t weekdays;
        struct trouble trouble;
        struct text text = text_in(buffer, sizeof(buffer));
        weekdays_write((uint8_t)mask, &text);
        ck_assert(!text.full);
        ck_assert_msg(weekdays_parse(buffer, &weekdays, &trouble), "%s", trouble.text);
        ck_assert_int_eq(weekdays, mask);
    }
}
END_TEST

START_TEST(test_garbled_hours_are_read_or_refused_but_never_run_over)
{
    static const char letters[] = "0123456789:-, monfridaly\t\xc2\xb0";
    for (uint64_t seed = 1; seed <= 20000; seed++) {
        uint64_t s = seed;
        size_t length = (size_t)seeded_between(&s, 0, 24);
        char *text = malloc(length + 1);
        for (size_t i = 0; i < length; i++)
            text[i] = letters[seeded_between(&s, 0, (int64_t)sizeof(letters) - 2)];
        text[length] = '\0';
        struct hours_span span;
        struct trouble trouble = {.text = ""};
        bool read = hours_span_parse(text, &span, &trouble);
        if (!read && trouble.text[0] == '\0')
            ck_abort_msg("seed %d: refused without a word", (int)seed);
        if (read && (span.from_s < 0 || span.from_s >= 86400 || span.to_s > 86400))
            ck_abort_msg("seed %d: out of the day", (int)seed);
        free(text);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_open_is_what_the_clock_says_minute_by_minute,
        test_time_open_is_the_sum_of_open_minutes,
        test_next_edge_is_the_first_minute_that_differs,
        test_both_hold_where_each_of_two_does,
        test_parts_of_a_second_are_counted,
        test_an_hour_that_exists_twice_is_open_twice,
        test_an_hour_that_does_not_exist_is_never_open,
        test_a_span_over_midnight_belongs_to_the_day_it_begins_on,
        test_no_hours_at_all_are_always_open,
        test_hours_that_never_close_give_the_limit_however_far,
        test_hours_are_read_as_people_write_them,
        test_several_spans_are_written_with_and,
        test_what_is_not_hours_is_refused_and_quoted,
        test_the_trouble_says_what_was_expected,
        test_weekdays_come_back_as_they_went,
        test_garbled_hours_are_read_or_refused_but_never_run_over,
    };
    return suite_run("hours", tests, COUNT_OF(tests));
}
