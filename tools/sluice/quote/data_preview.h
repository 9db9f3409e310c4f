/* data_preview.h - what was understood of a customer's data, for a person to look at before
 * anything is worked out from them: `sluice data` shows all of it, replay and comparison
 * the essentials. */
#ifndef SLUICE_TOOLS_DATA_PREVIEW_H
#define SLUICE_TOOLS_DATA_PREVIEW_H

#include <stdio.h>

#include "core/text.h"
#include "data_loaded.h"
#include "days/profile.h"

struct data_preview {
    const struct data_loaded *loaded;
    const char *zone_name; /* to be set, by whoever shows it */
    struct days_halves halves;
    struct days_profile profile;
    struct days_report doubts; /* what looks wrong in the days */
};

/* The pointer stays. False: out of memory. */
bool data_preview_make(struct data_preview *preview, const struct data_loaded *loaded);
void data_preview_free(struct data_preview *preview);

/* ---- in words ----------------------------------------------------------------------------- */

/* "days.csv", "days.csv and 2 more files" */
void data_write_files(const struct data_preview *preview, struct text *text);
/* "1 Jan 2026 to 31 Dec 2026, 365 days" */
void data_write_span(const struct data_preview *preview, struct text *text);
/* "imported 5.10, exported 8.20, generated 12.40, used 9.30 kWh" */
void data_write_day(const struct data_preview *preview, struct text *text);
/* "6.20 kW Tue 14 Jan 2026 18:00; ..."; nothing where there are none. */
void data_write_peaks(const struct days_peak peaks[static DAYS_PEAKS], struct text *text);

typedef void data_line(void *context, const char *text);
/* What became of a heater in them, if there is one. */
void data_tell_heater(const struct data_preview *preview, data_line *line, void *context);
/* How the files were read, and that. */
void data_tell_reading(const struct data_preview *preview, data_line *line, void *context);
/* What looks wrong: of the file, then of the days. */
void data_tell_doubts(const struct data_preview *preview, data_line *line, void *context);

/* The two flows that a picture of a day shows. */
struct data_flows {
    const char *use, *sun;
};
struct data_flows data_flow_names(const struct data_preview *preview);
double data_use_w(const struct data_preview *preview, const struct days_flow *flow);
double data_sun_w(const struct data_preview *preview, const struct days_flow *flow);
/* The largest of both in the mean days, > 0. */
void data_largest_w(const struct data_preview *preview, double *use_w, double *sun_w);

/* Of a channel of the files: what it is understood as, and what became of it. */
const char *data_role(const struct days_found_channel *channel);
const char *data_fate(const struct days_found_channel *channel);

/* ---- shown ---------------------------------------------------------------------------------- */

void data_print(const struct data_preview *preview);
/* A few lines, and an empty one after them. */
void data_print_essentials(const struct data_preview *preview);
void data_write_page(const struct data_preview *preview, FILE *to);
void data_draw_season(const struct data_preview *preview, int season, FILE *to);

/* The days as the table that replay and comparison read without any option. */
void data_write_table(const struct days *days, const struct zone *zone, FILE *to);

#endif
