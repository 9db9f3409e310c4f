/* replay_days.h - the options that tell how a table of days is read. */
#ifndef SLUICE_TOOLS_REPLAY_DAYS_H
#define SLUICE_TOOLS_REPLAY_DAYS_H

#include "days/days.h"
#include "quote/quote.h"
#include "settings/settings.h"
#include "sluice/options.h"

enum { DAYS_OPTION_ROWS = DAYS_ROLE_COUNT + 9 };

/* The words of the options, as written. */
struct days_words {
    const char *column[DAYS_ROLE_COUNT]; /* --use NAME:UNIT and so on */
    const char *array, *times, *dates, *gaps, *draws, *shift, *seed;
    bool ends, refine;
};

/* Rows for options_read, the end of rows not among them. */
void days_option_rows(struct days_words *words, struct option_row rows[static DAYS_OPTION_ROWS]);

/* The zone is the settings'; the array's size the quote's, where no option tells it. Reads the
 * file, and the draws' where there is one; says on standard error what is wrong or doubtful.
 * STATUS_USAGE: an option makes no sense; STATUS_NOT_THERE: a file cannot be opened;
 * STATUS_REFUSED: it has mistakes. */
enum status days_load(const struct days_words *words, const char *path,
                      const struct settings *settings, const struct quote_settings *quote,
                      struct days *days, struct days_report *report);

/* --refine: whether the days are made finer, and by which seed. */
enum status days_seed(const struct days_words *words, uint64_t *seed);

#endif
