/* grid.h - how much was imported and exported. */
#ifndef SLUICE_DAEMON_GRID_H
#define SLUICE_DAEMON_GRID_H

#include "site.h"

void grid_book(struct site *site, int64_t dt_ms); /* between two turns */
void grid_registers(struct site *site, const struct meter_sample *sample);

#endif
