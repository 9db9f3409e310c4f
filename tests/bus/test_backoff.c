/* test_backoff.c - backing off: bounded tries for a line, a tenth for a unit, and no
 * rest that outlives a reading. */
#include "bus/backoff.h"

#include <check.h>
#include <stdlib.h>

enum { UNIT = 9, NEIGHBOUR = 10, FRESH_MS = 10000, HOUR_MS = 3600000 };

START_TEST(test_a_line_that_does_not_open_is_tried_at_a_bounded_pace)
{
    static const int64_t waits_s[] = {1, 2, 2, 2, 2, 2};
    struct backoff backoff = {0};
    struct mono now = {5000};
    for (size_t i = 0; i < sizeof waits_s / sizeof waits_s[0]; i++) {
        ck_assert(backoff_may_open(&backoff, now));
        backoff_did_not_open(&backoff, now);
        ck_assert(backoff_line_broken(&backoff));
        now = mono_after(now, waits_s[i] * 1000 - 1);
        ck_assert(!backoff_may_open(&backoff, now));
        now = mono_after(now, 1);
    }
    backoff_line_is_well(&backoff);
    ck_assert(!backoff_line_broken(&backoff));
    ck_assert(backoff_may_open(&backoff, now));
    backoff_did_not_open(&backoff, now);
    ck_assert(backoff_may_open(&backoff, mono_after(now, 1000))); /* from the start again */
}
END_TEST

static void silences(struct backoff *backoff, uint8_t unit, int count, struct mono now)
{
    for (int i = 0; i < count; i++)
        backoff_silent(backoff, unit, 1000, now);
}

START_TEST(test_two_silences_cost_no_rest)
{
    struct backoff backoff = {0};
    struct mono now = {5000};
    for (int i = 0; i < 2; i++) {
        backoff_silent(&backoff, UNIT, 1000, now);
        ck_assert(backoff_may_ask(&backoff, UNIT, now));
    }
    backoff_silent(&backoff, UNIT, 1000, now);
    ck_assert(!backoff_may_ask(&backoff, UNIT, now));
    ck_assert(backoff_lost(&backoff, UNIT));
    ck_assert(backoff_may_ask(&backoff, NEIGHBOUR, now)); /* the neighbour is not to blame */
}
END_TEST

START_TEST(test_first_answer_ends_the_rest)
{
    struct backoff backoff = {0};
    struct mono now = {5000};
    silences(&backoff, UNIT, 5, now);
    backoff_answered(&backoff, UNIT, now);
    ck_assert(backoff_may_ask(&backoff, UNIT, now));
    backoff_silent(&backoff, UNIT, 1000, now);
    ck_assert(backoff_may_ask(&backoff, UNIT, now));
}
END_TEST

/* Asked whenever it may be; returns the time spent on it after the first two silences,
 * which cost no rest. The unit answered last at 0, if at all. */
static int64_t spent_on_dead_unit_ms(struct backoff *backoff, int64_t cost_ms, int64_t *asked)
{
    int64_t spent_ms = 0;
    *asked = 0;
    for (struct mono now = {0}; now.ms < HOUR_MS;) {
        if (!backoff_may_ask(backoff, UNIT, now)) {
            now = mono_after(now, 10);
            continue;
        }
        backoff_silent(backoff, UNIT, cost_ms, now);
        if ((*asked)++ >= 2)
            spent_ms += cost_ms;
        now = mono_after(now, cost_ms);
    }
    return spent_ms;
}

/* Design: a dead unit takes at most a tenth of the bus's time. Asked whenever it
 * may be, for an hour, whatever a silence costs. */
START_TEST(test_dead_unit_takes_at_most_a_tenth_of_the_time)
{
    static const int64_t costs_ms[] = {230, 1000, 1530, 4000};
    for (size_t i = 0; i < sizeof costs_ms / sizeof costs_ms[0]; i++) {
        struct backoff backoff = {0};
        int64_t asked, spent_ms = spent_on_dead_unit_ms(&backoff, costs_ms[i], &asked);
        ck_assert_int_le(spent_ms, HOUR_MS / 10 + costs_ms[i]);
        ck_assert_int_gt(asked, HOUR_MS / (12 * costs_ms[i])); /* and it is not forgotten */
    }
}
END_TEST

/* With a grace it may take that much more, once. */
START_TEST(test_dead_meter_takes_a_tenth_of_the_time_after_its_grace)
{
    static const int64_t costs_ms[] = {230, 1000, 1530, 4000};
    for (size_t i = 0; i < sizeof costs_ms / sizeof costs_ms[0]; i++) {
        struct backoff backoff = {0};
        int64_t asked;
        backoff_limit_rests(&backoff, UNIT, FRESH_MS, 0);
        backoff_answered(&backoff, UNIT, (struct mono){0});
        int64_t spent_ms = spent_on_dead_unit_ms(&backoff, costs_ms[i], &asked);
        ck_assert_int_le(spent_ms, FRESH_MS + HOUR_MS / 10 + 2 * costs_ms[i]);
    }
}
END_TEST

START_TEST(test_unit_does_not_rest_while_its_last_answer_is_within_the_grace)
{
    struct backoff backoff = {0};
    struct mono answered = {5000};
    backoff_limit_rests(&backoff, UNIT, FRESH_MS, 0);
    backoff_answered(&backoff, UNIT, answered);
    for (int64_t ms = 1000; ms < FRESH_MS; ms += 1000) {
        struct mono now = mono_after(answered, ms);
        ck_assert(backoff_may_ask(&backoff, UNIT, now));
        backoff_silent(&backoff, UNIT, 1000, now); /* which is over a second later */
    }
    struct mono late = mono_after(answered, FRESH_MS);
    ck_assert(backoff_may_ask(&backoff, UNIT, late));
    backoff_silent(&backoff, UNIT, 1000, late);
    ck_assert(!backoff_may_ask(&backoff, UNIT, mono_after(late, 9999)));
    ck_assert(backoff_may_ask(&backoff, UNIT, mono_after(late, 10000)));
}
END_TEST

/* Whatever a silence costs: the grid meter is asked again within a reading's freshness. */
START_TEST(test_no_rest_is_longer_than_the_pace_allows)
{
    struct backoff backoff = {0};
    struct mono now = {5000};
    backoff_limit_rests(&backoff, UNIT, 0, FRESH_MS);
    silences(&backoff, UNIT, 2, now);
    backoff_silent(&backoff, UNIT, 4000, now);
    ck_assert(!backoff_may_ask(&backoff, UNIT, mono_after(now, 4000 + FRESH_MS - 1)));
    ck_assert(backoff_may_ask(&backoff, UNIT, mono_after(now, 4000 + FRESH_MS)));
}
END_TEST

/* Two meters behind one unit: the more careful of both counts. */
START_TEST(test_of_several_paces_the_longest_grace_and_the_shortest_rest_count)
{
    for (int order = 0; order < 2; order++) {
        struct backoff backoff = {0};
        backoff_limit_rests(&backoff, UNIT, order ? 30000 : 10000, order ? 0 : FRESH_MS);
        backoff_limit_rests(&backoff, UNIT, order ? 10000 : 30000, order ? FRESH_MS : 0);
        backoff_answered(&backoff, UNIT, (struct mono){0});
        silences(&backoff, UNIT, 3, (struct mono){29000});
        ck_assert(backoff_may_ask(&backoff, UNIT, (struct mono){30000}));
        backoff_silent(&backoff, UNIT, 4000, (struct mono){40000});
        ck_assert(backoff_may_ask(&backoff, UNIT, (struct mono){44000 + FRESH_MS}));
    }
}
END_TEST

/* A line that was cut as a whole: whichever unit is heard first speaks for the rest. */
START_TEST(test_first_sign_of_life_of_the_line_ends_the_rests_of_all)
{
    struct backoff backoff = {0};
    struct mono now = {5000};
    silences(&backoff, UNIT, 3, now);
    silences(&backoff, NEIGHBOUR, 3, now);
    ck_assert(!backoff_may_ask(&backoff, UNIT, now));
    backoff_answered(&backoff, NEIGHBOUR, now);
    ck_assert(backoff_may_ask(&backoff, UNIT, now));
}
END_TEST

/* Else the bus would be the dead unit's. */
START_TEST(test_a_living_neighbour_ends_a_dead_units_rest_only_once)
{
    struct backoff backoff = {0};
    struct mono now = {5000};
    silences(&backoff, UNIT, 3, now);
    backoff_answered(&backoff, NEIGHBOUR, now);
    backoff_silent(&backoff, UNIT, 1000, now);
    backoff_answered(&backoff, NEIGHBOUR, now);
    ck_assert(!backoff_may_ask(&backoff, UNIT, mono_after(now, 9999)));
    backoff_answered(&backoff, UNIT, now); /* it lives: the next time it is excused again */
    silences(&backoff, UNIT, 3, now);
    ck_assert(!backoff_may_ask(&backoff, UNIT, now));
    backoff_answered(&backoff, NEIGHBOUR, now);
    ck_assert(backoff_may_ask(&backoff, UNIT, now));
}
END_TEST

START_TEST(test_port_that_is_open_again_ends_the_rests)
{
    struct backoff backoff = {0};
    struct mono now = {5000};
    silences(&backoff, UNIT, 3, now);
    backoff_opened(&backoff); /* as a connection is after each silence: nothing was wrong with it */
    ck_assert(!backoff_may_ask(&backoff, UNIT, now));
    backoff_did_not_open(&backoff, now);
    backoff_opened(&backoff);
    ck_assert(backoff_may_ask(&backoff, UNIT, now));
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("backoff");
    tcase_add_test(cases, test_a_line_that_does_not_open_is_tried_at_a_bounded_pace);
    tcase_add_test(cases, test_two_silences_cost_no_rest);
    tcase_add_test(cases, test_first_answer_ends_the_rest);
    tcase_add_test(cases, test_dead_unit_takes_at_most_a_tenth_of_the_time);
    tcase_add_test(cases, test_dead_meter_takes_a_tenth_of_the_time_after_its_grace);
    tcase_add_test(cases, test_unit_does_not_rest_while_its_last_answer_is_within_the_grace);
    tcase_add_test(cases, test_no_rest_is_longer_than_the_pace_allows);
    tcase_add_test(cases, test_of_several_paces_the_longest_grace_and_the_shortest_rest_count);
    tcase_add_test(cases, test_first_sign_of_life_of_the_line_ends_the_rests_of_all);
    tcase_add_test(cases, test_a_living_neighbour_ends_a_dead_units_rest_only_once);
    tcase_add_test(cases, test_port_that_is_open_again_ends_the_rests);
    Suite *suite = suite_create("backoff");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
