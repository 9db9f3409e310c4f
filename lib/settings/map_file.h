/* map_file.h - a register map from its YAML file. */
#ifndef SLUICE_SETTINGS_MAP_FILE_H
#define SLUICE_SETTINGS_MAP_FILE_H

#include "read.h"

/* `source`, where not NULL, is given the file's bytes. */
bool map_read(const char *path, struct meter_map *map, struct settings_source *source,
              struct settings_troubles *troubles);

#endif
