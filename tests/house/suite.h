/* suite.h - one suite, run, exit status. */
#ifndef TESTS_HOUSE_SUITE_H
#define TESTS_HOUSE_SUITE_H

#include <check.h>
#include <stdlib.h>

static inline int run_tests(const char *name, const TTest *const tests[], size_t count)
{
    Suite *suite = suite_create(name);
    TCase *cases = tcase_create(name);
    tcase_set_timeout(cases, 120); /* check's own 4 s are too few under sanitizers */
    for (size_t i = 0; i < count; i++)
        tcase_add_test(cases, tests[i]);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}

#define RUN(name, tests) run_tests(name, tests, sizeof(tests) / sizeof((tests)[0]))

#endif
