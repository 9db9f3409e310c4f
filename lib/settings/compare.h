/* compare.h - what differs between two settings files. */
#ifndef SLUICE_SETTINGS_COMPARE_H
#define SLUICE_SETTINGS_COMPARE_H

#include "document.h"

typedef void compare_each(void *context, const char *key, const char *before, const char *after);

void compare_trees(const struct tree *before, const struct tree *after, compare_each *each,
                   void *context);

/* Of a document that was `read` or not: true where it is sound. Otherwise `trouble` is the first of
 * `troubles`, which are freed, and the tree too. */
bool compare_took(bool read, struct tree *tree, struct settings_troubles *troubles,
                  struct trouble *trouble);

#endif
