/* test_debounce.c - what of a contact's readings counts. */
#include "input/debounce.h"

#include "../core/suite.h"

enum { DEBOUNCE_MS = 100, EVERY_MS = 50 };

static struct debounce d;
static struct mono now;

/* A reading each 50 ms: '1' closed, '0' open, 'x' failed, '?' nothing for too long. Returns how
 * often it was seen to close. */
static int read(const char *readings)
{
    int closed = 0;
    for (; *readings; readings++) {
        now.ms += EVERY_MS;
        if (*readings == 'x')
            debounce_failed(&d);
        else if (*readings == '?')
            debounce_forget(&d);
        else
            closed += debounce_saw(&d, *readings == '1', DEBOUNCE_MS, now);
    }
    return closed;
}

static void begin(void)
{
    d = (struct debounce){0};
    now = (struct mono){1000};
}

START_TEST(test_a_level_counts_once_it_has_stayed)
{
    begin();
    read("00");
    ck_assert(!d.known);
    read("0");
    ck_assert(d.known && !d.closed);
    ck_assert_int_eq(read("11"), 0);
    ck_assert(!d.closed);
    ck_assert_int_eq(read("1"), 1);
    ck_assert(d.closed);
}
END_TEST

START_TEST(test_held_it_closes_once)
{
    begin();
    ck_assert_int_eq(read("000111111111111111"), 1);
    ck_assert_int_eq(read("000111"), 1);
}
END_TEST

START_TEST(test_what_is_closed_from_the_start_has_not_closed)
{
    begin();
    ck_assert_int_eq(read("111111"), 0);
    ck_assert(d.known && d.closed);
    ck_assert_int_eq(read("???111111"), 0); /* nor after a silence */
    ck_assert_int_eq(read("000111"), 1);
}
END_TEST

START_TEST(test_a_failed_reading_begins_the_wait_anew)
{
    begin();
    read("000");
    ck_assert_int_eq(read("11x11x11"), 0);
    ck_assert(d.known && !d.closed); /* it does not forget either */
    ck_assert_int_eq(read("1"), 1);
}
END_TEST

START_TEST(test_bounces_are_one_press)
{
    begin();
    ck_assert_int_eq(read("00001011011110111111"), 1);
    ck_assert_int_eq(read("010010000"), 0);
    ck_assert(!d.closed);
}
END_TEST

START_TEST(test_one_that_never_stays_is_not_known_and_presses_nothing)
{
    begin();
    read("000");
    int pressed = 0;
    for (int k = 0; k < 400; k++)
        pressed += read("10");
    ck_assert_int_eq(pressed, 0);
    ck_assert(!d.known);
    ck_assert(debounce_chatters(&d, now));
    ck_assert_int_eq(read("111"), 0); /* it may have been closed before */
    ck_assert(d.known && d.closed && !debounce_chatters(&d, now));
}
END_TEST

START_TEST(test_without_a_debounce_time_two_readings_are_needed)
{
    begin();
    ck_assert(!debounce_saw(&d, false, 0, now) && !d.known);
    ck_assert(!debounce_saw(&d, false, 0, now) && d.known);
    ck_assert(!debounce_saw(&d, true, 0, now));
    ck_assert(debounce_saw(&d, true, 0, now));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_level_counts_once_it_has_stayed,
        test_held_it_closes_once,
        test_what_is_closed_from_the_start_has_not_closed,
        test_a_failed_reading_begins_the_wait_anew,
        test_bounces_are_one_press,
        test_one_that_never_stays_is_not_known_and_presses_nothing,
        test_without_a_debounce_time_two_readings_are_needed,
    };
    return suite_run("debounce", tests, COUNT_OF(tests));
}
