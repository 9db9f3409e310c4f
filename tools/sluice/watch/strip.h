/* strip.h - today's runs of each load, as a strip of characters, from what is recorded. */
#ifndef SLUICE_TOOLS_WATCH_STRIP_H
#define SLUICE_TOOLS_WATCH_STRIP_H

#include <stdint.h>

#include "settings/settings.h"

enum { STRIP_CELLS = 48, STRIP_LOADS = 32 };

struct strip_row {
    char name[64];
    /* Of each half hour the share on, in percent; -1: not recorded, or yet to come. */
    int8_t on_percent[STRIP_CELLS];
};

struct strip {
    int count;
    struct strip_row row[STRIP_LOADS];
    char why_not[200]; /* "": it is there */
};

/* `date`: "2026-01-14". `settings` may be NULL: then there is none, and it says so. */
void strip_read(struct strip *strip, const struct settings *settings, const char *date);

#endif
