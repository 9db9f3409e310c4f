/* read.h - from a map of the tree into a struct, by rows. */
#ifndef SLUICE_SETTINGS_READ_H
#define SLUICE_SETTINGS_READ_H

#include "tree.h"

/* Where one set of rows writes to; a section may have several. */
struct target {
    const struct setting_rows *rows;
    void *at;
};

struct reader {
    const char *file;
    struct settings_troubles *troubles;
};

enum { TARGETS_MAX = 4 };

/* Reads every row of every target from `map` (NULL: the section is not there, and
 * all is as if it were empty), writes defaults, and reports what is missing, wrong
 * or unknown. `others` are keys that the caller reads itself (NULL-ended, may be
 * NULL). Rows of kind SETTING_WORDS are the caller's too. */
void read_section(const struct reader *reader, const char *section, struct node *map,
                  const struct target targets[], int target_count, const char *const *others);

/* One value by one row. */
bool read_value(const struct reader *reader, const struct setting_row *row, struct node *node,
                void *at);

/* Fails, with a trouble, where the node is not of that kind. */
bool want_kind(const struct reader *reader, const struct node *node, enum node_kind kind,
               const char *what);

/* A word of letters, digits and hyphens that may be an MQTT id and a load's name. */
bool is_name(const char *text);

#endif
