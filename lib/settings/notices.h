/* notices.h - what the settings cannot promise, and what to look after. */
#ifndef SLUICE_SETTINGS_NOTICES_H
#define SLUICE_SETTINGS_NOTICES_H

#include "settings.h"

void notices_write(FILE *to, const struct settings *settings);

#endif
