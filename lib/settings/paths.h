/* paths.h - files that the settings name: none is overwritten that is somebody else's, and
 * what is secret is nobody else's to read. */
#ifndef SLUICE_SETTINGS_PATHS_H
#define SLUICE_SETTINGS_PATHS_H

#include <sys/types.h>

#include "read.h"

/* What sluice makes anew (its socket, its ledger) must not lie where something else is. */
void paths_check(const struct reader *reader, const struct node *root,
                 const struct settings *settings);

#endif
