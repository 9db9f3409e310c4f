/* output_section.h - what switches a load. */
#ifndef SLUICE_SETTINGS_OUTPUT_SECTION_H
#define SLUICE_SETTINGS_OUTPUT_SECTION_H

#include "read.h"

/* Reads the output of the load at `index` from the load's map; the load itself and
 * the buses have been read before. */
void output_read(const struct reader *reader, const struct node *load_map,
                 struct settings *settings, uint16_t index);

/* What is an output's own, whatever it switches; false: something is wrong with it. */
bool output_read_parts(const struct reader *reader, struct node *map,
                       const struct settings *settings, struct output_settings *output);

/* Two loads, or two stages, on one contactor. */
void outputs_check(const struct reader *reader, const struct node *loads,
                   const struct settings *settings);

/* The index of the bus called `name`, or -1 with a trouble at `node`. */
int bus_find(const struct reader *reader, const struct node *node, const char *name,
             const struct settings *settings);

#endif
