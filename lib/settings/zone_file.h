/* zone_file.h - a zone by its name: the rule at the end of the system's zone file. */
#ifndef SLUICE_SETTINGS_ZONE_FILE_H
#define SLUICE_SETTINGS_ZONE_FILE_H

#include "core/zone.h"

/* `name` is "Australia/Sydney", or a POSIX rule. Where the file lists coming changes
 * that its rule does not give, `odd` comes back true: that rule is not the whole
 * truth (see RFC 8536 3.3). */
bool zone_by_name(const char *name, struct zone *zone, bool *odd, struct trouble *trouble);

#endif
