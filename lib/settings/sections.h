/* sections.h - which sections the file has, and the rows that are settings' own. */
#ifndef SLUICE_SETTINGS_SECTIONS_H
#define SLUICE_SETTINGS_SECTIONS_H

#include "settings.h"

/* A section as `explain`, the example and the checks list it. */
struct section {
    const char *path; /* "site", "loads.NAME", "loads.NAME.output" */
    const struct setting_rows *rows;
    const char *text; /* what it is for */
};

extern const struct section sections[];
extern const int section_count;

extern const struct setting_rows site_rows;         /* struct settings */
extern const struct setting_rows tariff_rows;       /* struct tariff */
extern const struct setting_rows band_rows;         /* struct tariff_band */
extern const struct setting_rows feed_in_band_rows; /* struct tariff_band */
extern const struct setting_rows demand_rows;       /* struct tariff_demand */
extern const struct setting_rows controlled_rows;   /* struct tariff_controlled */
extern const struct setting_rows meter_rows;        /* struct meter_settings */
extern const struct setting_rows name_rows;         /* struct load_names */

#endif
