/* screen.h - the daemon's status as one screen. */
#ifndef SLUICE_TOOLS_SCREEN_H
#define SLUICE_TOOLS_SCREEN_H

#include <cjson/cJSON.h>
#include <stdbool.h>

void screen_print(const cJSON *status, bool colour);

#endif
