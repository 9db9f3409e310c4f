/* zone.h - local time by rule.
 *
 * A zone is its POSIX.1 TZ rule ("AEST-10AEDT,M10.1.0,M4.1.0/3", POSIX.1-2017
 * section 8.3, and the extension of RFC 8536 section 3.3.1 that lets the change
 * fall at -167..167 h). The edge takes the rule from the last line of the
 * system's zone file; nothing here reads files.
 *
 * Local calendar time is a day number and a second of the day. A local time
 * that does not exist (spring) is the moment of the change; one that exists
 * twice (autumn) is the first. */
#ifndef SLUICE_CORE_ZONE_H
#define SLUICE_CORE_ZONE_H

#include "calendar.h"
#include "moment.h"
#include "trouble.h"

struct zone_change {
    uint8_t kind; /* 'M' month.week.day, 'J' Julian without 29 Feb, 'D' zero-based day */
    uint8_t month, week, weekday; /* weekday 0 is Sunday, as POSIX has it */
    uint16_t day;
    int32_t at_s; /* local second of the day, may be negative or over a day */
};

struct zone {
    int32_t standard_offset_s; /* east of Greenwich positive */
    int32_t summer_offset_s;
    bool has_summer;
    struct zone_change to_summer, to_standard;
};

struct local {
    int32_t day;    /* days since 1970-01-01 in local time */
    int32_t second; /* 0..86399 */
};

/* UTC. */
extern const struct zone zone_utc;

/* Parses a POSIX TZ rule; false fills `trouble`. */
bool zone_parse(const char *rule, struct zone *zone, struct trouble *trouble);

struct local local_of_wall(const struct zone *zone, struct wall wall);

/* `second` may be 0..86400 (24:00 is the next day's 0:00). */
struct wall wall_of_local(const struct zone *zone, int32_t day, int32_t second);

/* The first moment after `wall` at which the offset changes; false: never. */
bool zone_next_change(const struct zone *zone, struct wall wall, struct wall *change);

#endif
