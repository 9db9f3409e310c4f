/* sections.h - which sections the file has, and the rows that are settings' own. */
#ifndef SLUICE_SETTINGS_SECTIONS_H
#define SLUICE_SETTINGS_SECTIONS_H

#include "settings.h"

/* The k-th section as `explain`, the example and the checks list it; `more` is the one that
 * whoever asks adds, or NULL. NULL: there are no more. */
const struct section *section_at(const struct section *more, int k);

/* A word of letters, digits and hyphens that may be an entry's name and an id on the broker. */
bool is_name(const char *text);

extern const struct setting_rows site_rows;         /* struct settings */
extern const struct setting_rows installer_rows;    /* struct installer */
extern const struct setting_rows tariff_rows;       /* struct tariff */
extern const struct setting_rows band_rows;         /* struct tariff_band */
extern const struct setting_rows feed_in_band_rows; /* struct tariff_band */
extern const struct setting_rows demand_rows;       /* struct tariff_demand */
extern const struct setting_rows controlled_rows;   /* struct tariff_controlled */
extern const struct setting_rows meter_rows;        /* struct meter_settings */
extern const struct setting_rows lamp_rows;         /* struct lamp_settings */
extern const struct setting_rows name_rows;         /* struct load_names */

#endif
