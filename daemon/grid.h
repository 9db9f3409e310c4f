/* grid.h - how much was imported and exported. */
#ifndef SLUICE_DAEMON_GRID_H
#define SLUICE_DAEMON_GRID_H

#include "site.h"

void grid_book(struct site *site, int64_t dt_ms); /* between two turns */
void grid_registers(struct site *site, const struct meter_sample *sample);

/* A register as it was read before this daemon ran: `age_ms` before the last save, which
 * was `away_ms` ago (-1: no clock can tell). A negative register: there is none. */
struct total grid_remembered(int64_t register_mwh, int64_t age_ms, int64_t away_ms,
                             struct mono now);

#endif
