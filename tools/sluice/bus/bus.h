/* bus.h - what the sub-commands of `sluice bus` share: maps, and words for lines. */
#ifndef SLUICE_TOOLS_BUS_H
#define SLUICE_TOOLS_BUS_H

#include "bus/bus.h"
#include "core/serial_line.h"
#include "sluice/subcommand.h"

struct map_shelf {
    struct meter_map *map;
    size_t count;
};

/* All maps of a folder, those with mistakes left out. */
void shelf_read(struct map_shelf *shelf, const char *folder);
void shelf_free(struct map_shelf *shelf);
const struct meter_map *shelf_find(const struct map_shelf *shelf, const char *name);

/* The sections of a settings file for one meter on this line. `map` is its name. */
void print_sections(const struct bus_settings *settings, uint8_t unit, const char *map);

/* A duration or a whole number from the command line; complains where it is none. */
bool word_read(const char *option, enum quantity_kind kind, const char *word, int64_t least,
               int64_t most, int64_t *value);

extern const char bus_help[];

enum status bus_listen(struct invocation *at, int argc, char *argv[]);
enum status bus_scan(struct invocation *at, int argc, char *argv[]);

#endif
