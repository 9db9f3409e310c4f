/* read.h - from a map of the tree into a struct, by rows. */
#ifndef SLUICE_SETTINGS_READ_H
#define SLUICE_SETTINGS_READ_H

#include "document.h"
#include "trouble_list.h"

/* Where one set of rows writes to; a section may have several. */
struct target {
    const struct setting_rows *rows;
    void *at;
};

struct reader {
    const char *file;
    struct settings_troubles *troubles;
    struct settings_troubles *notices; /* NULL: nobody asks for them */
};

/* Reads every row of every target from `map` (NULL: the section is not there, and
 * all is as if it were empty), writes defaults, and reports what is missing, wrong,
 * unknown, or of another kind. `others` are keys that the caller reads itself
 * (NULL-ended, may be NULL). Rows of kind SETTING_WORDS are the caller's too. */
void read_section(const struct reader *reader, const char *section, struct node *map,
                  const struct target targets[], int target_count, const char *const *others);

/* One value by one row. */
bool read_value(const struct reader *reader, const struct setting_row *row, struct node *node,
                void *at);

/* Calls `read` for each named entry of the section, at most `most`; reports names that
 * cannot be used. */
typedef void read_entry(const struct reader *reader, struct node *map, struct settings *settings,
                        int index, const void *context);
void read_each(const struct reader *reader, struct node *root, const char *section, int most,
               struct settings *settings, read_entry *read, const void *context);

/* Whether the section is there and not empty; a trouble where not. */
bool want_section(const struct reader *reader, const struct node *root, const char *section);

/* Fails, with a trouble, where the node is not of that kind. */
bool want_kind(const struct reader *reader, const struct node *node, enum node_kind kind,
               const char *what);

/* Whether the map lacks that key and no other key was meant for it: neither a misspelt one
 * nor one that is indented wrongly. Those are said at their own lines. */
bool is_missing(const struct node *map, const char *key);

/* What was written there could not be read: what depends on it is not judged either, else
 * one mistake would make many. */
bool is_misread(const struct node *map, const char *key);

/* Whether the `kind` of a section, its first row, is one of its choices: where it is not,
 * what depends on it is not judged, else one mistake would make many. */
bool kind_known(const struct node *map, const struct setting_rows *rows);

/* "coil, register or line": the words of those choices whose bit is set. */
void choices_write(const struct setting_row *row, uint32_t which, struct text *text);

/* What is wrong, at the place of the value, or of the key that leads to it; false. */
bool wrong_at(const struct reader *reader, const struct node *node, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
bool wrong_at_key(const struct reader *reader, const struct node *node, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* For kinds that judge their own settings: what one says is wrong, at the place of its key, or of
 * the section. */
struct section_place {
    const struct reader *reader;
    const struct node *map;
};
void say_wrong(void *context, const char *key, const char *text); /* a setting_say; section_place */

/* What may be right and is accepted, but should be looked at. */
void notice_at(const struct reader *reader, const struct node *node, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
