/* day.h - one local day for people, out of the ledger or out of a replay. */
#ifndef SLUICE_TOOLS_DAY_H
#define SLUICE_TOOLS_DAY_H

#include <stdio.h>

#include "core/text.h"
#include "core/trouble.h"
#include "result/result.h"
#include "sluice/subcommand.h"

struct settings;
/* The zone, names and floors. */
void day_take_settings(struct result *day, const struct settings *settings);
/* "2026-01-14", "today" or "yesterday" by the day's zone; false: it is none. */
bool day_set_date(struct result *day, const char *word);

/* Reads what the ledger at `path` has of the day. STATUS_NOT_THERE: it cannot be
 * read; STATUS_REFUSED: it has nothing of that day. */
enum status day_read(struct result *day, const char *path, struct trouble *trouble);
/* From events to runs and promises, once all is read. */
void day_runs(struct result *day);

void day_print(const struct result *day, bool every_reason);
void day_draw(const struct result *day, FILE *to);

#endif
