/* zone_file.h - a zone by its name: the rule at the end of the system's zone file. */
#ifndef SLUICE_SETTINGS_ZONE_FILE_H
#define SLUICE_SETTINGS_ZONE_FILE_H

#include <stddef.h>

#include "core/zone.h"

/* `name` is "Australia/Sydney", or a POSIX rule. Where the file lists coming changes
 * that its rule does not give, `odd` comes back true: that rule is not the whole
 * truth (see RFC 8536 3.3). */
bool zone_by_name(const char *name, struct zone *zone, bool *odd, struct trouble *trouble);

/* The same from a file's bytes, whatever they are; they are changed. Changes before `now_s`
 * (seconds since 1970) are not looked at. */
bool zone_of_bytes(const char *name, unsigned char *bytes, size_t size, int64_t now_s,
                   struct zone *zone, bool *odd, struct trouble *trouble);

#endif
