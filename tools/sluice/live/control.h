/* control.h - asking the daemon: a line there, a line of JSON back. */
#ifndef SLUICE_TOOLS_CONTROL_H
#define SLUICE_TOOLS_CONTROL_H

#include <cjson/cJSON.h>

#include "core/trouble.h"
#include "sluice/subcommand.h"

/* Asks and waits a few seconds for the answer, which the caller frees. NULL:
 * `trouble` says what is in the way. */
char *control_ask(const char *path, const char *request, struct trouble *trouble);

/* No daemon is there to be asked; false too where that is not known. */
bool control_nobody_listens(const char *path);

/* The status, to be deleted by the caller. NULL: `trouble` says why there is none. */
cJSON *control_status(const char *path, struct trouble *trouble);

/* Gives an order; prints what the daemon says to it. `request` has no newline. */
enum status control_order(const struct invocation *at, const char *request);

/* Whether `word` arrives as one word; complains where it would not. */
bool control_word_ok(const char *word, const char *what);

#endif
