/* wiring.h - buses and outputs, as the settings in force say. */
#ifndef SLUICE_DAEMON_WIRING_H
#define SLUICE_DAEMON_WIRING_H

#include "site.h"

bool wiring_open_buses(struct site *site, struct trouble *trouble);
bool wiring_open_outputs(struct site *site, struct trouble *trouble);

#endif
