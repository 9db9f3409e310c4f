/* fail_state.h - the stop helper. */
#ifndef SLUICE_DAEMON_FAIL_STATE_H
#define SLUICE_DAEMON_FAIL_STATE_H

#include "settings/settings.h"

enum { FAIL_STATE_TIME_MS = 25 * MS_PER_S }; /* unless told: the unit's own */

/* Brings every output to its fail state and ends, once each is confirmed or when `time_ms` is
 * up: the stop helper's work. Returns the exit status. Workers may still be at it then, so
 * that the program must end, and the settings may not be freed. */
int fail_state_run(struct settings *settings, int64_t time_ms);

#endif
