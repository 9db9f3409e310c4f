/* accepted.h - the last accepted settings, kept in the state directory for the next start.
 *
 * A power cut comes when it likes, also while somebody edits; and a restart with a refused
 * file must still heat water. The file and the maps it needs are written together by a
 * thread of their own, since a flush takes a disk's time. */
#ifndef SLUICE_DAEMON_ACCEPTED_H
#define SLUICE_DAEMON_ACCEPTED_H

#include "site.h"

/* NULL: there are none in that directory, or they are refused, as `troubles` says then.
 * `at` becomes the moment at which they were accepted; 0: no clock could tell. */
struct settings *accepted_load(const char *state_dir, struct settings_troubles *troubles,
                               struct wall *at);

/* Begins to keep the settings in force; where they are kept already, nothing is written. */
void accepted_keep(struct site *site);

/* Takes what came of it, and begins again where the settings have changed meanwhile. */
void accepted_turn(struct site *site);

/* Until all is written: at the end. */
void accepted_wait(struct site *site);

#endif
