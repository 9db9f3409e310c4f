/* sources.h - the one reading that comes of all meters. */
#ifndef SLUICE_DAEMON_SOURCES_H
#define SLUICE_DAEMON_SOURCES_H

#include "site.h"

void sources_settle(struct site *site); /* site->reading and site->load_reading, as of now */

#endif
