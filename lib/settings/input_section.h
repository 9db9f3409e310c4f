/* input_section.h - what is sensed at the board. */
#ifndef SLUICE_SETTINGS_INPUT_SECTION_H
#define SLUICE_SETTINGS_INPUT_SECTION_H

#include "read.h"

/* Buses and loads have been read before. */
void inputs_read(const struct reader *reader, struct node *root, struct settings *settings);

/* The index of the load called `name`, or -1 with a trouble at `node`. */
int load_find(const struct reader *reader, const struct node *node, const char *name,
              const struct settings *settings);

#endif
