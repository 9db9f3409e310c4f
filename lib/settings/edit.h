/* edit.h - one value of a settings file changed, and every other byte left as it is.
 *
 * Comments, order and layout are the electrician's own. What was changed is read again and
 * compared with what was there, key by key: where anything else differs, nothing is changed. */
#ifndef SLUICE_SETTINGS_EDIT_H
#define SLUICE_SETTINGS_EDIT_H

#include <stdbool.h>
#include <stddef.h>

#include "core/trouble.h"

enum { EDIT_KEY_MAX = 200, EDIT_VALUE_MAX = 400 };

struct edit {
    char *bytes; /* the whole new file, to be freed */
    size_t size;
};

/* The value at `key` becomes `value`. A key is words with dots between them, and the place of an
 * entry of a list, from 1: "loads.water-heater.floors.1.by". One that is not there is added, if the
 * section that it belongs to is. A list in brackets is replaced by one in brackets. False:
 * `trouble` says why, with line and column, and there is nothing in `edit`. */
bool settings_edit(const char *path, const char *key, const char *value, struct edit *edit,
                   struct trouble *trouble);

/* Calls `each` for every value that differs between two files: its key, and what it was and is;
 * NULL: it was, or is, not there. False: one of them cannot be read, and `trouble` says why. */
bool settings_compare(const char *before_path, const char *after_path,
                      void (*each)(void *context, const char *key, const char *before,
                                   const char *after),
                      void *context, struct trouble *trouble);

#endif
