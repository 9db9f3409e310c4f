/* suite.h - running a file's tests, and numbers that are random but the same each
 * time. */
#ifndef SLUICE_TESTS_CORE_SUITE_H
#define SLUICE_TESTS_CORE_SUITE_H

#include <check.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define COUNT_OF(array) (sizeof(array) / sizeof((array)[0]))

static inline int suite_run(const char *name, const TTest *const tests[], size_t count)
{
    Suite *suite = suite_create(name);
    TCase *cases = tcase_create(name);
    tcase_set_timeout(cases, 120);
    for (size_t i = 0; i < count; i++)
        tcase_add_test(cases, tests[i]);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}

/* Of cases that are many and alike one in so many is taken, and all of them with CASES=all
 * in the environment (`tools/test long`). */
static inline uint64_t cases_step(void)
{
    enum { ONE_OF = 24 };
    const char *wanted = getenv("CASES");
    return wanted && strcmp(wanted, "all") == 0 ? 1 : ONE_OF;
}

/* SplitMix64 (S. Vigna, public domain, prng.di.unimi.it/splitmix64.c; from
 * memory): any generator would do, this one needs no warming up. */
static inline uint64_t seeded_next(uint64_t *seed)
{
    uint64_t z = *seed += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

/* Between `least` and `greatest`, both possible. */
static inline int64_t seeded_between(uint64_t *seed, int64_t least, int64_t greatest)
{
    uint64_t range = (uint64_t)greatest - (uint64_t)least + 1;
    uint64_t drawn = seeded_next(seed);
    return (int64_t)((uint64_t)least + (range ? drawn % range : drawn));
}

#endif
