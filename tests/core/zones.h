/* zones.h - the system's zones, and what the C library makes of them.
 *
 * The C library reads the whole zone file and is the outside opinion; we get
 * the rule that is the file's last line (RFC 8536 section 3.3, footer). */
#ifndef SLUICE_TESTS_CORE_ZONES_H
#define SLUICE_TESTS_CORE_ZONES_H

#include <time.h>

#include "core/zone.h"

/* The rules of these have not changed since 2025 (Debian's tzdata). */
extern const char *const zone_names[];
extern const int zone_count;

/* Reads the zone's rule, and makes localtime_r use the zone. */
struct zone zone_of_system(const char *name);

/* Makes localtime_r obey a rule, and reads it. */
struct zone zone_of_rule(const char *rule);

/* What the C library says. */
struct local library_local(int64_t wall_s);

int64_t utc_s(int year, int month, int day, int hour, int minute);

#endif
