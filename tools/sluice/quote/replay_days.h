/* replay_days.h - the options that tell how a table of days is read. */
#ifndef SLUICE_TOOLS_REPLAY_DAYS_H
#define SLUICE_TOOLS_REPLAY_DAYS_H

#include "data_preview.h"
#include "days/days.h"
#include "quote/quote.h"
#include "settings/settings.h"
#include "sluice/options.h"

enum { DAYS_OPTION_ROWS = DAYS_ROLE_COUNT + 12 };

/* The words of the options, as written. */
struct days_words {
    const char *column[DAYS_ROLE_COUNT]; /* --use NAME:UNIT and so on */
    const char *array, *times, *dates, *gaps, *draws, *shift, *seed, *heater, *meter, *ignore;
    bool ends, refine;
};

/* Rows for options_read, the end of rows not among them. */
void days_option_rows(struct days_words *words, struct option_row rows[static DAYS_OPTION_ROWS]);

/* Reads the paths of `loaded`, for its zone, and takes out the heater of --heater-in-data;
 * array_kwp is what is taken where no option tells it. Says nothing of what is wrong or
 * doubtful in the files: that is in the report. STATUS_USAGE: an option makes no sense;
 * STATUS_NOT_THERE: a file cannot be opened; STATUS_REFUSED: it has mistakes. */
enum status days_load(const struct days_words *words, struct data_loaded *loaded);
/* What stands in the way, on standard error. */
void days_tell_stops(const struct days_report *report);

/* The same of the paths, for a replay or a comparison: says on standard error what is wrong or
 * doubtful, and makes the preview. The zone is the settings'; the array's size the quote's,
 * where no option tells it. */
enum status days_load_for(const struct days_words *words, const char *const paths[], int count,
                          const struct settings *settings, const struct quote_settings *quote,
                          struct data_loaded *loaded, struct data_preview *preview);

/* --refine: whether the days are made finer, and by which seed. */
enum status days_seed(const struct days_words *words, uint64_t *seed);

#endif
