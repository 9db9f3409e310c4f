/* map_file.h - reads a shipped map without the settings room: its lines only, one
 * point a line, as conf/meters writes them. Anything else fails the test. The room
 * that reads users' files has its own tests. */
#ifndef SLUICE_TESTS_METER_MAP_FILE_H
#define SLUICE_TESTS_METER_MAP_FILE_H

#include "meter/meter.h"

struct meter_map map_file_read(const char *name);

#endif
