/* test_patience.c - backing off: doubling for a line, a tenth for a unit. */
#include "bus/patience.h"

#include <check.h>
#include <stdlib.h>

START_TEST(test_a_line_that_does_not_open_is_tried_less_and_less_often)
{
    static const int64_t waits_s[] = {1, 2, 4, 8, 16, 32, 60, 60, 60};
    struct patience patience = {0};
    struct mono now = {5000};
    for (size_t i = 0; i < sizeof waits_s / sizeof waits_s[0]; i++) {
        ck_assert(patience_may_open(&patience, now));
        patience_did_not_open(&patience, now);
        now = mono_after(now, waits_s[i] * 1000 - 1);
        ck_assert(!patience_may_open(&patience, now));
        now = mono_after(now, 1);
    }
    patience_line_is_well(&patience);
    ck_assert(patience_may_open(&patience, now));
    patience_did_not_open(&patience, now);
    ck_assert(patience_may_open(&patience, mono_after(now, 1000))); /* from the start again */
}
END_TEST

START_TEST(test_two_silences_cost_no_rest)
{
    struct patience patience = {0};
    struct mono now = {5000};
    for (int i = 0; i < 2; i++) {
        patience_silent(&patience, 9, 1000, now);
        ck_assert(patience_may_ask(&patience, 9, now));
    }
    patience_silent(&patience, 9, 1000, now);
    ck_assert(!patience_may_ask(&patience, 9, now));
    ck_assert(patience_lost(&patience, 9));
    ck_assert(patience_may_ask(&patience, 10, now)); /* the neighbour is not to blame */
}
END_TEST

START_TEST(test_first_answer_ends_the_rest)
{
    struct patience patience = {0};
    struct mono now = {5000};
    for (int i = 0; i < 5; i++) {
        patience_silent(&patience, 9, 1000, now);
    }
    patience_heard(&patience, 9);
    ck_assert(patience_may_ask(&patience, 9, now));
    patience_silent(&patience, 9, 1000, now);
    ck_assert(patience_may_ask(&patience, 9, now));
}
END_TEST

/* Design: a dead unit takes at most a tenth of the bus's time. Asked whenever it
 * may be, for an hour, whatever a silence costs. */
START_TEST(test_dead_unit_takes_at_most_a_tenth_of_the_time)
{
    static const int64_t costs_ms[] = {230, 1000, 1530, 4000};
    for (size_t i = 0; i < sizeof costs_ms / sizeof costs_ms[0]; i++) {
        struct patience patience = {0};
        int64_t spent_ms = 0, asked = 0;
        for (struct mono now = {0}; now.ms < 3600000;) {
            if (!patience_may_ask(&patience, 9, now)) {
                now = mono_after(now, 10);
                continue;
            }
            patience_silent(&patience, 9, costs_ms[i], now);
            if (asked++ >= 2) { /* the two that cost no rest */
                spent_ms += costs_ms[i];
            }
            now = mono_after(now, costs_ms[i]);
        }
        ck_assert_int_le(spent_ms, 3600000 / 10 + costs_ms[i]);
        ck_assert_int_gt(asked, 3600000 / (12 * costs_ms[i])); /* and it is not forgotten */
    }
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("patience");
    tcase_add_test(cases, test_a_line_that_does_not_open_is_tried_less_and_less_often);
    tcase_add_test(cases, test_two_silences_cost_no_rest);
    tcase_add_test(cases, test_first_answer_ends_the_rest);
    tcase_add_test(cases, test_dead_unit_takes_at_most_a_tenth_of_the_time);
    Suite *suite = suite_create("patience");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
