/* test_verdict.h - what a test of a load has shown, from its numbers alone.
 *
 * Pure: the looks that were taken as it was switched on and off go in, as the engine saw them at
 * the meter; a verdict comes out, and the words for it. What is inferred is said to be possible. */
#ifndef SLUICE_TOOLS_LIVE_TEST_VERDICT_H
#define SLUICE_TOOLS_LIVE_TEST_VERDICT_H

#include "terms/finding.h"

enum { TEST_PHASES = 3, TEST_LOOKS_MAX = 6 };

enum look_seen { LOOK_CLEAR, LOOK_MIXED, LOOK_UNSEEN };

/* One switching, and the step that the meter showed: a sound start is positive, a stop negative. */
struct test_look {
    bool stop;
    enum look_seen seen;
    int64_t step_w;
    bool has_phases;
    int64_t phase_step_w[TEST_PHASES];
    int64_t voltage_mv; /* mean of its phases; 0: not measured */
    bool hot; /* before it, its thermostat was thought open, and had lately been shown to open */
};

enum contact { CONTACT_NOT_SENSED, CONTACT_OPEN, CONTACT_CLOSED };

struct test_subject {
    int64_t nameplate_w;
    int64_t nominal_mv;
    uint8_t phases; /* bit 0 is L1 */
    bool resistive; /* no motor, no electronics: U^2 / P says something */
    bool once;      /* one look must do: it is not switched again and again */
    bool thermostat;
    bool off_shown;       /* before the test something showed that it drew nothing */
    bool stuck;           /* at some time in it the engine held the contact for stuck */
    enum contact contact; /* as it was ordered on */
};

enum test_outcome {
    TEST_UNCLEAR, /* the looks do not agree, or showed nothing */
    TEST_AS_EXPECTED,
    TEST_LESS,
    TEST_MORE,
    TEST_NO_DRAW,
    TEST_THERMOSTAT, /* no draw, and it may be hot still: its thermostat has lately opened */
    TEST_STAYS_ON,
    TEST_REVERSED,
    TEST_OTHER_PHASE,
    /* these are not judged from looks */
    TEST_NOT_SHOWN, /* nothing can show what it draws; its output obeyed */
    TEST_OUTPUT,    /* its output did not obey */
    TEST_REFUSED,
    TEST_OVERRULED, /* another order, an inhibit or a limit ended it */
    TEST_INTERRUPTED,
    TEST_GONE, /* the daemon no longer answers */
    TEST_OUTCOMES,
};

struct test_verdict {
    enum test_outcome outcome;
    int64_t power_w; /* of the looks that agree */
    int agreeing;    /* how many */
    bool has_phases; /* the meter told each phase */
    int64_t phase_w[TEST_PHASES];
    int64_t voltage_mv;     /* 0: not measured */
    int64_t element_mohm;   /* of each phase's element; 0: says nothing here */
    int64_t expected_mohm;  /* the same by the nameplate */
    int seen_phase;         /* TEST_OTHER_PHASE: 1.. */
    struct finding finding; /* FINDING_NONE: nothing to look for */
};

/* True where the verdict stands; false: another look would help. */
bool test_judge(const struct test_subject *subject, const struct test_look looks[], int count,
                struct test_verdict *verdict);

const char *test_outcome_name(enum test_outcome outcome); /* "as-expected": for machines */

/* "draws 3.58 kW on L1: as expected". Of the outcomes that are judged from looks. */
void test_verdict_write(const struct test_subject *subject, const struct test_verdict *verdict,
                        struct text *text);
/* What to do first; nothing where all is well. */
void test_verdict_write_first(const struct test_subject *subject,
                              const struct test_verdict *verdict, struct text *text);

/* "L1", "L1,L2,L3" */
void test_phases_write(uint8_t phases, struct text *text);
int test_phase_count(uint8_t phases);

#endif
