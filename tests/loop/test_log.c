/* test_log.c - a line is one line, with its priority, and only when wanted. */
#include "loop/log.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char captured[4096];

/* Runs `speak` with standard error going into `captured`. */
static void capture(void (*speak)(void))
{
    int ends[2];
    ck_assert_int_eq(pipe(ends), 0);
    int kept = dup(STDERR_FILENO);
    dup2(ends[1], STDERR_FILENO);
    close(ends[1]);
    speak();
    dup2(kept, STDERR_FILENO);
    close(kept);
    ssize_t got = read(ends[0], captured, sizeof captured - 1);
    captured[got > 0 ? got : 0] = '\0';
    close(ends[0]);
}

static void speak_levels(void)
{
    log_set_level(LOG_LEVEL_NOTICE);
    log_line(LOG_LEVEL_ERROR, "bus %s is down", "main");
    log_line(LOG_LEVEL_NOTICE, "seen");
    log_line(LOG_LEVEL_INFO, "not seen");
}

/* sd-daemon(3): lines prefixed "<3>" are of priority 3, error. */
START_TEST(test_lines_carry_their_priority_and_stop_at_the_level)
{
    capture(speak_levels);
    ck_assert_str_eq(captured, "<3>bus main is down\n<5>seen\n");
}
END_TEST

static void speak_breaks(void)
{
    log_line(LOG_LEVEL_ERROR, "payload \"%s\"", "on\n<0>all is lost\x1b[2J");
}

START_TEST(test_quoted_line_breaks_cannot_forge_a_line)
{
    capture(speak_breaks);
    ck_assert_str_eq(captured, "<3>payload \"on?<0>all is lost?[2J\"\n");
}
END_TEST

static void speak_long(void)
{
    char much[3000];
    memset(much, 'x', sizeof much - 1);
    much[sizeof much - 1] = '\0';
    log_line(LOG_LEVEL_ERROR, "%s", much);
}

START_TEST(test_long_line_is_cut_but_ends)
{
    capture(speak_long);
    ck_assert_uint_gt(strlen(captured), 1000);
    ck_assert_uint_lt(strlen(captured), 1100);
    ck_assert_int_eq(captured[strlen(captured) - 1], '\n');
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("log");
    tcase_add_test(cases, test_lines_carry_their_priority_and_stop_at_the_level);
    tcase_add_test(cases, test_quoted_line_breaks_cannot_forge_a_line);
    tcase_add_test(cases, test_long_line_is_cut_but_ends);
    Suite *suite = suite_create("log");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
