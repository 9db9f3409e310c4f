/* map_shelf.h - what the commands for buses and meters share: maps, and words for lines and
 * values. */
#ifndef SLUICE_TOOLS_MAP_SHELF_H
#define SLUICE_TOOLS_MAP_SHELF_H

#include "bus/bus.h"
#include "core/text.h"
#include "meter/meter.h"
#include "sluice/subcommand.h"

#define MAPS_DEFAULT "/etc/sluice/meters"

/* The map of that name in `folder`, or of that file where the name is a path. What is wrong
 * with it has been said when the status isn't STATUS_DONE. */
enum status meter_map_find(const char *name, const char *folder, struct meter_map *map);

/* How sure a map is; "": it does not say. */
const char *meter_verified_text(const struct meter_map *map);
/* The same and what to look at, in one line each, behind `lead`. */
void meter_sureness_print(const struct meter_map *map, const char *lead);

/* A value in its quantity's usual unit, with all its digits: "-1250.5 W", "230.2 V". */
void meter_value_write(enum meter_quantity quantity, int64_t value, struct text *text);

const char *meter_type_word(enum meter_type type);

/* A whole number from the command line; complains where it is none or out of range. */
bool meter_number(const char *option, const char *word, int64_t least, int64_t most,
                  int64_t *value);

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

#endif
