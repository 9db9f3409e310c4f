/* maps.h - the register maps of a folder, by name. */
#ifndef SLUICE_SETTINGS_MAPS_H
#define SLUICE_SETTINGS_MAPS_H

#include "settings.h"

/* Appends which of the folder's maps may have been meant by `name`: the nearest, those that
 * have a part of it in common, or else all, as far as the text has room. */
void maps_hint(const char *name, const char *folder, struct text *text);

#endif
