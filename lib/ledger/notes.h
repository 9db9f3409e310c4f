/* notes.h - every note of the ledger, in memory: so that whoever wants to know what was
 * remembered asks no disk.
 *
 * Plain values, no lock. It grows by a block of notes at a time, and only where a key is
 * new: at the start, and at the first snapshot after a load has come. */
#ifndef SLUICE_LEDGER_NOTES_H
#define SLUICE_LEDGER_NOTES_H

#include "ledger/ledger.h"

enum {
    NOTES_OF_BLOCK = 32,
    NOTES_BLOCKS = 64, /* 2048 notes of 4 kB: what 32 loads that learn have, twice */
};

struct notes {
    int count;
    struct ledger_note *block[NOTES_BLOCKS];
};

/* NULL: there is none of that key. */
const char *notes_find(const struct notes *notes, const char *key);

/* Replaces or adds; a key or text too long is cut. False: there is no room. */
bool notes_set(struct notes *notes, const char *key, const char *text);

void notes_free(struct notes *notes);

#endif
