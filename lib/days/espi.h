/* espi.h - interval data of North American meters: "Green Button" files, the Atom feed of
 * NAESB REQ.21, Energy Services Provider Interface (ESPI). All of it from memory.
 *
 * Meter readings become channels by their reading type: flow direction 1 imported, 19
 * exported, 4 net. Times are seconds of UTC. */
#ifndef SLUICE_DAYS_ESPI_H
#define SLUICE_DAYS_ESPI_H

#include "days/format.h"

bool days_espi_is(const unsigned char *start, size_t length);
bool days_espi_read(const struct days_file *file);

#endif
