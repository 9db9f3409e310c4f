/* document.h - a YAML document, as a small tree that remembers where everything stood.
 *
 * Plain scalars have no type here: `no`, `1e3`, `18:30` are texts, and what they
 * mean follows from the setting they belong to. Anchors, aliases, tags, merge keys
 * and a second document are refused; so are duplicate keys. */
#ifndef SLUICE_SETTINGS_DOCUMENT_H
#define SLUICE_SETTINGS_DOCUMENT_H

#include "settings.h"

enum node_kind { NODE_TEXT, NODE_LIST, NODE_MAP };

struct node {
    enum node_kind kind;
    int line, column;           /* from 1 */
    int end_line, end_column;   /* behind it; of a list or map: only where `flow` */
    bool flow;                  /* a list or map in brackets or braces */
    int key_line, key_column;   /* of the key that leads here */
    char *key;                  /* in a map; else NULL */
    char *text;                 /* NODE_TEXT */
    struct node *parent;        /* NULL: it is the root */
    struct node *first, *next;  /* children, siblings */
    const char *meant;          /* the key here that an unknown one stands for; else NULL */
    bool used;                  /* somebody has read it */
    bool misread;               /* and found it wrong */
    const struct section *more; /* of the root: a section besides settings' own; else NULL */
};

struct tree {
    const char *file;
    struct settings_source source; /* what was parsed; whoever takes it leaves NULL */
    struct node *root;             /* NULL where it could not be read at all */
};

enum { TREE_BYTES_MAX = 1024 * 1024, TREE_DEPTH_MAX = 8, TREE_NODES_MAX = 5000 };

/* Reads the whole file. Troubles are added; false where no tree could be made. */
bool document_read(const char *path, struct tree *tree, struct settings_troubles *troubles);
/* The same of bytes, allocated, that it takes over; `name` stands in messages. */
bool document_parse(const char *name, char *bytes, size_t size, struct tree *tree,
                    struct settings_troubles *troubles);
void document_free(struct tree *tree);

/* The bytes go over to `source`, in place of what it had. */
void source_take(struct tree *tree, struct settings_source *source);

/* Where a line and column of the bytes is; `size` where there is no such place. */
size_t document_offset(const struct settings_source *source, int line, int column);

struct node *node_child(const struct node *map, const char *key);
/* NULL too where `map` is no map, or not there. */
const struct node *child_of(const struct node *map, const char *key);

#endif
