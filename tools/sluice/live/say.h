/* say.h - the values of a status, in the words of their rows (lib/values). */
#ifndef SLUICE_TOOLS_LIVE_SAY_H
#define SLUICE_TOOLS_LIVE_SAY_H

#include <cjson/cJSON.h>

#include "core/text.h"
#include "values/values.h"

/* ---- reading JSON: what is missing is nothing, 0, "" or false --------------------------- */

const cJSON *get(const cJSON *from, const char *key);
bool number(const cJSON *from, const char *key, int64_t *value);
const char *words(const cJSON *from, const char *key);
bool yes(const cJSON *from, const char *key);
bool is(const cJSON *from, const char *key, const char *word);

/* ---- saying it --------------------------------------------------------------------------- */

/* Adds what the rows with a phrase of the group at `path` ("loads.today") say of `from`, with a
 * comma before each but the first in `text`. What is not known, or nothing (a counter at 0), is
 * left out. */
void say_group(struct text *text, const char *path, const cJSON *from);

/* "17:00", or "Thu 17:00" where that is not the day `today`; a date beyond this week. */
void say_time(struct text *text, const char *iso, int32_t today);
void say_date_and_time(struct text *text, const char *iso);

#endif
