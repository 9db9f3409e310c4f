/* outcome.h - how a step of commissioning ended, and what showed it. */
#ifndef SLUICE_TOOLS_OUTCOME_H
#define SLUICE_TOOLS_OUTCOME_H

#include "core/text.h"

enum step_outcome {
    STEP_OPEN, /* not done yet */
    STEP_PASS,
    STEP_FAIL,
    STEP_SKIPPED,
    STEP_NEEDS_PERSON, /* skipped too, until somebody is there */
    STEP_NOT_NOW,      /* cannot be shown at present: it is taken up again */
    STEP_OUTCOMES,
};

enum { EVIDENCE_MAX = 2400, CAUTION_MAX = 800 };

struct step_result {
    enum step_outcome outcome;
    char evidence[EVIDENCE_MAX]; /* what showed it, or why it was not done */
    char caution[CAUTION_MAX];   /* what must be known of it all the same; "": nothing */
};

const char *step_outcome_name(enum step_outcome outcome);  /* "not-now": for machines */
enum step_outcome step_outcome_named(const char *name);    /* STEP_OPEN: there is none */
const char *step_outcome_words(enum step_outcome outcome); /* "not possible now" */

/* Sets the outcome, and the evidence in these words. */
void step_end(struct step_result *result, enum step_outcome outcome, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void step_add(struct step_result *result, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
void step_caution(struct step_result *result, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
