/* steps.h - the steps of commissioning, in their order. */
#ifndef SLUICE_TOOLS_STEPS_H
#define SLUICE_TOOLS_STEPS_H

#include "session.h"

enum step_each { STEP_ONCE, STEP_EACH_PHASE, STEP_EACH_LOAD };

/* `index`: the phase from 0, or the load. Where the session is stopped, the result says nothing. */
typedef void step_run(struct session *session, int index, struct step_result *result);

struct step {
    const char *id, *title;
    const char *why, *look; /* a sentence each */
    enum step_each each;
    step_run *run;
    const char *agrees; /* asked of whoever is there once it has passed; NULL: nothing */
};

extern const struct step steps[]; /* ended by one without an id */

/* In the files of their own. */
step_run step_settings, step_clock, step_broker, step_tls, step_storage, step_findings;
step_run step_meter, step_masters, step_solar, step_battery;
step_run step_sign, step_phase, step_output, step_stop, step_timeout;

/* Drops the tests of loads that step `id` looked at, so that it makes them anew. */
void steps_forget_tests(struct progress *progress, const char *id);
/* Those that showed nothing for good. */
void steps_forget_unclear(struct session *session);

#endif
