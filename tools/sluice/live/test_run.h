/* test_run.h - one test of one load: it is switched, the meter is looked at, and the load is left
 * as it was ordered before.
 *
 * The door for whoever tests: `sluice test`, and what else goes through a house load by load. The
 * orders are the engine's own (section 3 of TABLE.md): they stand above what was ordered before,
 * leave it as it is and end by themselves, whatever becomes of this process. What the meter showed
 * is what the engine saw; nothing is estimated here. */
#ifndef SLUICE_TOOLS_LIVE_TEST_RUN_H
#define SLUICE_TOOLS_LIVE_TEST_RUN_H

#include <cjson/cJSON.h>

#include "core/trouble.h"
#include "sluice/live/test_verdict.h"

enum { TEST_NAME_MAX = 64, TEST_TEXT_MAX = 1200 };

struct test_options {
    const char *socket;
    bool no_wait; /* refuse where a rest or the starts per hour would have to be waited for */
    /* A line for whoever watches; NULL: nobody does. */
    void (*say)(void *context, const char *text);
    void *context;
};

struct test_result {
    char load[TEST_NAME_MAX];
    enum test_outcome outcome;
    struct test_subject subject;
    struct test_look looks[TEST_LOOKS_MAX];
    int look_count;
    struct test_verdict verdict;
    char says[TEST_TEXT_MAX];  /* the verdict in words, or why there is none */
    char first[TEST_TEXT_MAX]; /* what to do first; "": nothing */
    char left[TEST_TEXT_MAX];  /* what the load does now, and why; "": not known */
};

/* While these are held, SIGINT, SIGTERM and SIGHUP end a test in good order in place of the
 * process; a closed pipe ends nothing. */
void test_signals_hold(void);
void test_signals_release(void);
bool test_was_interrupted(void);

/* Between hold and release. The outcome says how it went. */
void test_run(const struct test_options *options, const char *load, struct test_result *result);

#endif
