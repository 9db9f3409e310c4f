/* replace.h - several files and folders put in place of what is there: all of them or none.
 *
 * Each is written beside its place first. What it replaces stays there as PATH.before (or
 * .before-2, ...). Where one step fails, those before it are undone. */
#ifndef SLUICE_TOOLS_REPLACE_H
#define SLUICE_TOOLS_REPLACE_H

#include "archive.h"
#include "core/trouble.h"

enum { REPLACE_PATH_MAX = 560, REPLACE_MOST = 80, REPLACE_FOLDERS_MAX = 16 };

struct move {
    char place[REPLACE_PATH_MAX];
    char staged[REPLACE_PATH_MAX]; /* "": nothing comes in its place */
    char before[REPLACE_PATH_MAX]; /* "": nothing was there */
    bool folder, same;             /* same: it is there already, byte for byte */
    bool put_aside, placed;
};

struct replacing {
    struct move move[REPLACE_MOST];
    int count;
    char made[REPLACE_FOLDERS_MAX][REPLACE_PATH_MAX]; /* folders that were not there */
    int made_count;
};

/* Writes the part beside `place`, whose folder is made where there is none. */
bool replace_stage(struct replacing *replacing, const char *place, const struct part *part,
                   struct trouble *trouble);
/* Begins a folder that takes the place of the one at `place`: an empty one beside it, whose
 * name `staged` becomes. */
bool replace_stage_folder(struct replacing *replacing, const char *place,
                          char staged[static REPLACE_PATH_MAX], struct trouble *trouble);
/* What is at `place` is put aside, and nothing comes there. With `beside` it is named after
 * what `beside` is put aside as, and `end`: a ledger's log belongs to that ledger. */
bool replace_remove(struct replacing *replacing, const char *place, const char *beside,
                    const char *end, struct trouble *trouble);

/* Where the part for `place` was written; NULL: it is none of those staged. */
const char *replace_staged(const struct replacing *replacing, const char *place);

bool replace_commit(struct replacing *replacing, struct trouble *trouble);
/* Takes away what was staged and is not in its place: after a commit too. */
void replace_drop(struct replacing *replacing);

/* One file, new, with the part's bytes, mode and time; whose it becomes: the folder's owner's. */
bool replace_write(const char *path, const struct part *part, struct trouble *trouble);

/* A folder, with those above it, where there is none yet; whose it becomes: as above.
 * `replacing`, which may be NULL, drops it again. */
bool replace_make_folder(struct replacing *replacing, const char *folder, struct trouble *trouble);
void replace_remove_folder(const char *folder); /* with all that is in it */

#endif
