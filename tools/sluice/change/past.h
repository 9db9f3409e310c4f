/* past.h - the changes that were made to a settings file, with the file before each: kept in a
 * folder beside it, FILE.changes, as long as one of the last PAST_KEPT. */
#ifndef SLUICE_TOOLS_CHANGE_PAST_H
#define SLUICE_TOOLS_CHANGE_PAST_H

#include <stddef.h>

#include "core/trouble.h"
#include "sluice/handover/sha256.h"

enum { PAST_KEPT = 200, PAST_PATH_MAX = 600, PAST_WHO_MAX = 64, PAST_WHAT_MAX = 700 };

struct past_change {
    int number;                                 /* from 1 */
    int undoes;                                 /* the change that this one took back; 0: none */
    bool undone;                                /* by a later one */
    char at[24];                                /* UTC, 2026-01-14T10:00:00Z */
    char who[PAST_WHO_MAX], from[PAST_WHO_MAX]; /* as the login says; from: "" where it does not */
    char after[SHA256_TEXT_SIZE];               /* of the file that it left */
    char what[PAST_WHAT_MAX]; /* "loads.water-heater.minimum_on: 5 min -> 10 min" */
};

struct past {
    char folder[PAST_PATH_MAX - 40];
    int lock; /* -1: only looked at */
    struct past_change *change;
    int count, room;
};

/* Reads what there is. `to_change`: makes the folder where there is none, and holds off others who
 * would change the file too, until it is closed. */
bool past_open(struct past *past, const char *settings, bool to_change, struct trouble *trouble);
void past_close(struct past *past);

/* The file as it was before that change. */
void past_before(const struct past *past, int number, char path[static PAST_PATH_MAX]);

/* Adds a change, with the file before it. `undoes` as above. */
bool past_add(struct past *past, int undoes, const char *what, const void *before, size_t size,
              const char after[static SHA256_TEXT_SIZE], struct trouble *trouble);
/* The newest did not take hold: sluiced refused it. False: that could not be written down. */
bool past_was_refused(struct past *past);

/* The newest that is not undone, and undoes none; NULL: there is none. */
const struct past_change *past_newest(const struct past *past);

#endif
