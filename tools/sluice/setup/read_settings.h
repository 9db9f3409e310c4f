/* read_settings.h - a settings file, for the sub-commands that work by one. */
#ifndef SLUICE_TOOLS_READ_SETTINGS_H
#define SLUICE_TOOLS_READ_SETTINGS_H

#include "quote/quote.h"
#include "settings/settings.h"
#include "sluice/subcommand.h"

#define SETTINGS_DEFAULT "/etc/sluice/sluice.yaml"

/* To be freed by the caller; NULL after having complained of each mistake, and `status`
 * says what to end with. `maps`: as for settings_load. `quote` may be NULL. */
struct settings *read_settings(const char *path, const char *maps, struct quote_settings *quote,
                               enum status *status);

/* Those that stand there, where they are sound; NULL otherwise, and not a word. */
struct settings *read_settings_if_sound(const char *path, const char *maps);

#endif
