/* first_settings.h - a settings file for a new house, from what is found and what is answered. */
#ifndef SLUICE_TOOLS_FIRST_SETTINGS_H
#define SLUICE_TOOLS_FIRST_SETTINGS_H

#include "ask.h"
#include "sluice/subcommand.h"

/* Asks, looks for the meter, checks what comes of it as sluiced would, and only then writes it.
 * What is there already is replaced only if whoever is there says so, and kept as PATH.old.
 * `maps` may be NULL: the folder meters beside it. */
enum status first_settings(const struct asking *asking, const char *path, const char *maps);

#endif
