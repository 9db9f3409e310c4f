/* bus_watch.h - how well the buses work: looked at now and then, and said when it is bad. */
#ifndef SLUICE_DAEMON_BUS_WATCH_H
#define SLUICE_DAEMON_BUS_WATCH_H

#include "site.h"

/* Reads the buses' counters when that is due. */
void bus_watch_turn(struct site *site);

enum bus_count {
    BUS_COUNT_ASKED,
    BUS_COUNT_ANSWERED,
    BUS_COUNT_TIMEOUTS,
    BUS_COUNT_CORRUPT,
    BUS_COUNT_EXCEPTIONS,
    BUS_COUNT_RETRIES,
    BUS_COUNT_DOUBTFUL,
    BUS_COUNT_FOREIGN,
    BUS_COUNT_NOISE,
};

/* The sum over the bus's units. */
uint64_t bus_watch_count(const struct site *site, uint8_t bus, enum bus_count which);

/* "unit 1: 12 ms, 95 %: 15 ms, 99 %: 22 ms; unit 2: ..." */
void bus_watch_times(const struct site *site, uint8_t bus, struct text *text);

#endif
