/* fail_state.h - the stop helper. */
#ifndef SLUICE_DAEMON_FAIL_STATE_H
#define SLUICE_DAEMON_FAIL_STATE_H

#include "site.h"

/* Brings every output to its fail state and ends: the stop helper's work. */
int fail_state_run(struct settings *settings);

#endif
