/* test_calendar.c - days and dates, against the C library and against themselves. */
#include "core/calendar.h"

#include <stdbool.h>
#include <time.h>

#include "suite.h"

START_TEST(test_epoch_is_the_first_of_january_1970_a_thursday)
{
    struct date date = date_of_days(0);
    ck_assert_int_eq(date.year, 1970);
    ck_assert_int_eq(date.month, 1);
    ck_assert_int_eq(date.day, 1);
    ck_assert_int_eq(weekday_of_days(0), THURSDAY);
}
END_TEST

START_TEST(test_known_days_have_their_weekday)
{
    /* Common knowledge, no source: 2000-01-01 was a Saturday, 2026-01-01 a
     * Thursday; 2026-10-04 is the first Sunday of that October. */
    ck_assert_int_eq(weekday_of_days(days_of_date((struct date){2000, 1, 1})), SATURDAY);
    ck_assert_int_eq(weekday_of_days(days_of_date((struct date){2026, 1, 1})), THURSDAY);
    ck_assert_int_eq(weekday_of_days(days_of_date((struct date){2026, 10, 4})), SUNDAY);
    ck_assert_int_eq(weekday_of_days(-1), WEDNESDAY);
    ck_assert_int_eq(weekday_of_days(-7), THURSDAY);
}
END_TEST

START_TEST(test_every_day_of_eight_centuries_agrees_with_the_c_library)
{
    for (int32_t days = -146097; days <= 146097; days++) {
        time_t seconds = (time_t)days * 86400;
        struct tm tm;
        gmtime_r(&seconds, &tm);
        struct date date = date_of_days(days);
        bool same = date.year == tm.tm_year + 1900 && date.month == tm.tm_mon + 1 &&
                    date.day == tm.tm_mday && (int)weekday_of_days(days) == (tm.tm_wday + 6) % 7;
        if (!same || days_of_date(date) != days) /* an assertion each would be slow */
            ck_abort_msg("day %d is told as %d-%d-%d", days, date.year, date.month, date.day);
    }
}
END_TEST

START_TEST(test_dates_far_away_come_back_as_they_went)
{
    uint64_t seed = 1;
    for (int i = 0; i < 100000; i++) {
        int32_t days = (int32_t)seeded_between(&seed, -11000000, 11000000);
        ck_assert_int_eq(days_of_date(date_of_days(days)), days);
    }
}
END_TEST

START_TEST(test_leap_years_follow_the_rule_of_400)
{
    static const struct {
        int16_t year;
        int days;
    } years[] = {{1900, 365}, {2000, 366}, {2024, 366}, {2026, 365}, {2100, 365}, {2400, 366}};
    for (size_t i = 0; i < COUNT_OF(years); i++) {
        struct date first = {years[i].year, 1, 1}, next = {(int16_t)(years[i].year + 1), 1, 1};
        ck_assert_int_eq(days_of_date(next) - days_of_date(first), years[i].days);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_epoch_is_the_first_of_january_1970_a_thursday,
        test_known_days_have_their_weekday,
        test_every_day_of_eight_centuries_agrees_with_the_c_library,
        test_dates_far_away_come_back_as_they_went,
        test_leap_years_follow_the_rule_of_400,
    };
    return suite_run("calendar", tests, COUNT_OF(tests));
}
