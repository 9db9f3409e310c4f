/* sheets.h - the pages of a handover. */
#ifndef SLUICE_TOOLS_SHEETS_H
#define SLUICE_TOOLS_SHEETS_H

#include "observed.h"
#include "paper.h"

struct house {
    const struct settings *settings;
    const char *path; /* of the settings */
    const struct observed_now *observed;
    char printed[16]; /* the date */
};

void household_write(const struct house *house, struct paper *paper);   /* in plain words */
void switchboard_write(const struct house *house, struct paper *paper); /* as fitted, and labels */
void as_set_write(const struct house *house, struct paper *paper);      /* the settings */

#endif
