/* observed.h - what the running daemon says of the house, if it answers. */
#ifndef SLUICE_TOOLS_OBSERVED_H
#define SLUICE_TOOLS_OBSERVED_H

#include <cjson/cJSON.h>

#include "core/text.h"
#include "paper.h"
#include "settings/settings.h"

struct observed_now {
    cJSON *status; /* NULL: it does not answer, as `why` says */
    char why[160];
};

void observed_ask(struct observed_now *observed, const char *socket,
                  const struct settings *settings);
void observed_free(struct observed_now *observed);

/* What the daemon has of each load and meter, and its troubles; or that nothing is known. */
void observed_tell(const struct observed_now *observed, struct paper *paper);

#endif
