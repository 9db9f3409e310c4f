/* bus_watch.h - how well the buses work: looked at now and then, and said when it is bad. */
#ifndef SLUICE_DAEMON_BUS_WATCH_H
#define SLUICE_DAEMON_BUS_WATCH_H

#include "site.h"

/* Reads the buses' counters when that is due. */
void bus_watch_turn(struct site *site);

#endif
