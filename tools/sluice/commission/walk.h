/* walk.h - the rows of the table as this house has them: one for each phase and each load. */
#ifndef SLUICE_TOOLS_WALK_H
#define SLUICE_TOOLS_WALK_H

#include "steps.h"

enum { WALK_MAX = 20 + 3 + SETTINGS_LOADS_MAX, WALK_ID_MAX = 16 + SETTINGS_NAME_MAX };

struct walk_step {
    const struct step *step;
    int index;
    char id[WALK_ID_MAX];         /* "output:water-heater" */
    char title[WALK_ID_MAX + 32]; /* "Output water-heater" */
};

int walk_of(const struct settings *settings, struct walk_step walk[static WALK_MAX]);

struct walk_tally {
    int of[STEP_OUTCOMES];
};
struct walk_tally walk_count(const struct session *session, const struct walk_step walk[],
                             int count);
/* "12 pass, 1 FAIL, 2 skipped" */
void walk_tally_write(const struct walk_tally *tally, struct text *text);

#endif
