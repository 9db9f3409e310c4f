/* indent.h - lines that are indented too little or too much: which one, and where it belongs. */
#ifndef SLUICE_SETTINGS_INDENT_H
#define SLUICE_SETTINGS_INDENT_H

#include "document.h"

/* A text that is no YAML, up to the line (from 0) where the parser gave up: the line that
 * fits neither the ones above it nor their keys, where it is that. Line and column of the
 * finding count from 1. */
struct indent_finding {
    int line, column;
    char text[TROUBLE_TEXT_MAX];
};
bool indent_find(const char *bytes, size_t size, size_t given_up, struct indent_finding *finding);

/* A key that `map` does not know, but something above does: appends where it belongs and how
 * far it is indented there. False: nothing near it knows the key. */
bool indent_hint(const struct node *map, const struct node *child, struct text *text);

/* Whether a key that `map` lacks stands where nothing knows it, indented too little or too
 * much to be in `map`: as indent_hint says of it. */
bool indent_has_moved(const struct node *map, const char *key);

/* An entry of a section of names, such as loads, that is a setting of the entry above it. */
bool indent_is_setting(const struct node *map, const struct node *child);

/* Empty, and what follows on the same level belongs into it. */
bool indent_explains_empty(const struct node *node);

#endif
