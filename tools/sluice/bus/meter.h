/* meter.h - what the sub-commands of `sluice meter` share: maps, and words for values. */
#ifndef SLUICE_TOOLS_METER_H
#define SLUICE_TOOLS_METER_H

#include "core/text.h"
#include "meter/meter.h"
#include "sluice/subcommand.h"

/* The map of that name in `folder`, or of that file where the name is a path. What is wrong
 * with it has been said when the status isn't STATUS_DONE. */
enum status meter_map_find(const char *name, const char *folder, struct meter_map *map);

/* How sure a map is and what to look at, in one line each, behind `lead`. */
void meter_sureness_print(const struct meter_map *map, const char *lead);

/* A value in its quantity's usual unit, with all its digits: "-1250.5 W", "230.2 V". */
void meter_value_write(enum meter_quantity quantity, int64_t value, struct text *text);

const char *meter_type_word(enum meter_type type);

/* A whole number from the command line; complains where it is none or out of range. */
bool meter_number(const char *option, const char *word, int64_t least, int64_t most,
                  int64_t *value);

enum status meter_maps(struct invocation *at, int argc, char *argv[]);
enum status meter_check(struct invocation *at, int argc, char *argv[]);
enum status meter_read(struct invocation *at, int argc, char *argv[]);

extern const char meter_help[];

#endif
