/* test_guess.c - the order of likelihood, and when what is heard settles it. */
#include "bus/guess.h"

#include <check.h>
#include <stdlib.h>

START_TEST(test_the_factory_lines_come_first)
{
    struct bus_settings line = {.baud = 0};
    ck_assert(guess_line(0, &line));
    ck_assert_int_eq(line.baud, 9600);
    ck_assert_int_eq(line.parity, PARITY_NONE);
    ck_assert(guess_line(1, &line)); /* the default of Serial Line V1.02, 2.5.1 and 3.3 */
    ck_assert_int_eq(line.baud, 19200);
    ck_assert_int_eq(line.parity, PARITY_EVEN);
}
END_TEST

START_TEST(test_no_line_is_tried_twice)
{
    struct bus_settings a = {.baud = 0}, b = {.baud = 0};
    for (unsigned i = 0; guess_line(i, &a); i++)
        for (unsigned k = 0; k < i; k++) {
            ck_assert(guess_line(k, &b));
            ck_assert(a.baud != b.baud || a.parity != b.parity || a.stop_bits != b.stop_bits);
        }
}
END_TEST

/* SER 2.5.1: even is the default, odd and none may be chosen; without parity there are two
 * stop bits, which many devices don't keep to. Where a meter stays at its factory's line, none
 * or even is tried before any odd. */
START_TEST(test_usual_speeds_are_tried_with_every_parity_and_odd_ones_last)
{
    static const int32_t usual[] = {9600, 19200};
    for (size_t k = 0; k < 2; k++) {
        struct bus_settings line = {.baud = 0};
        unsigned at[PARITY_ODD + 1] = {0}, two_stop_bits = 0;
        for (unsigned i = 0; guess_line(i, &line); i++)
            if (line.baud == usual[k] && line.stop_bits == 1)
                at[line.parity] = i + 1;
            else if (line.baud == usual[k] && line.parity == PARITY_NONE)
                two_stop_bits = i + 1;
        ck_assert_uint_gt(at[PARITY_NONE], 0);
        ck_assert_uint_gt(at[PARITY_EVEN], 0);
        ck_assert_uint_gt(at[PARITY_ODD], at[PARITY_NONE]);
        ck_assert_uint_gt(at[PARITY_ODD], at[PARITY_EVEN]);
        ck_assert_uint_gt(two_stop_bits, 0);
    }
}
END_TEST

START_TEST(test_every_unit_comes_once)
{
    unsigned seen[256] = {0};
    for (unsigned i = 0; i < 247; i++)
        seen[guess_unit(i)]++;
    for (unsigned unit = 1; unit <= 247; unit++)
        ck_assert_uint_eq(seen[unit], 1);
    ck_assert_uint_eq(guess_unit(247), 0);
    ck_assert_uint_eq(guess_unit(0), 1);
}
END_TEST

START_TEST(test_two_exchanges_settle_it_and_much_noise_rules_it_out)
{
    struct listen_counts counts = {.bytes = 3, .noise_bytes = 3};
    ck_assert_int_eq(guess_judge(&counts), GUESS_MORE);
    counts.bytes = counts.noise_bytes = 500;
    ck_assert_int_eq(guess_judge(&counts), GUESS_WRONG);
    counts = (struct listen_counts){.bytes = 100, .frames = 4};
    counts.kind[HEARD_ANSWERED] = 2;
    ck_assert_int_eq(guess_judge(&counts), GUESS_RIGHT);
    counts = (struct listen_counts){.bytes = 40, .frames = 5, .noise_bytes = 2};
    ck_assert_int_eq(guess_judge(&counts), GUESS_RIGHT); /* questions that nobody answers */
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("guess");
    tcase_add_test(cases, test_the_factory_lines_come_first);
    tcase_add_test(cases, test_no_line_is_tried_twice);
    tcase_add_test(cases, test_usual_speeds_are_tried_with_every_parity_and_odd_ones_last);
    tcase_add_test(cases, test_every_unit_comes_once);
    tcase_add_test(cases, test_two_exchanges_settle_it_and_much_noise_rules_it_out);
    Suite *suite = suite_create("guess");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
