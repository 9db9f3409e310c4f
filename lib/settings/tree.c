/* tree.c - from libyaml's events to a tree.
 *
 * The event parser is used, not the document API: that one resolves aliases and
 * hides duplicate keys. What a settings file never needs is refused by name, and
 * size, depth and number of nodes are limited, so that no file can eat the board. */
#include "tree.h"

#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <yaml.h>

/* ---- troubles ----------------------------------------------------------------------- */

static void add_trouble(struct settings_troubles *troubles, const char *place, const char *format,
                        va_list arguments)
{
    enum { STEP = 16, MOST = 200 };
    if (troubles->count == MOST)
        return;
    if (troubles->count == troubles->room) {
        int room = troubles->room + STEP;
        struct trouble *item = realloc(troubles->item, (size_t)room * sizeof(*item));
        if (!item)
            return;
        troubles->item = item;
        troubles->room = room;
    }
    struct trouble *trouble = &troubles->item[troubles->count++];
    snprintf(trouble->place, sizeof(trouble->place), "%s", place);
    vsnprintf(trouble->text, sizeof(trouble->text), format, arguments);
}

void trouble_in(struct settings_troubles *troubles, const char *place, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add_trouble(troubles, place, format, arguments);
    va_end(arguments);
}

void trouble_at(struct settings_troubles *troubles, const char *file, const struct node *node,
                const char *format, ...)
{
    char place[TROUBLE_PLACE_MAX];
    va_list arguments;
    snprintf(place, sizeof(place), "%s:%d:%d", file, node->line, node->column);
    va_start(arguments, format);
    add_trouble(troubles, place, format, arguments);
    va_end(arguments);
}

void trouble_at_key(struct settings_troubles *troubles, const char *file, const struct node *node,
                    const char *format, ...)
{
    char place[TROUBLE_PLACE_MAX];
    va_list arguments;
    bool keyed = node->key_line > 0;
    snprintf(place, sizeof(place), "%s:%d:%d", file, keyed ? node->key_line : node->line,
             keyed ? node->key_column : node->column);
    va_start(arguments, format);
    add_trouble(troubles, place, format, arguments);
    va_end(arguments);
}

void settings_troubles_free(struct settings_troubles *troubles)
{
    free(troubles->item);
    *troubles = (struct settings_troubles){0};
}

/* ---- the file -------------------------------------------------------------------------- */

/* NULL: `troubles` says why. The bytes are ended by a NUL. */
static char *read_bytes(const char *path, size_t *size, struct settings_troubles *troubles)
{
    FILE *file = fopen(path, "re");
    char *bytes = file ? malloc(TREE_BYTES_MAX + 2) : NULL;
    if (!bytes) {
        trouble_in(troubles, path, "cannot be read: %s", strerror(errno));
        if (file)
            fclose(file);
        return NULL;
    }
    *size = fread(bytes, 1, TREE_BYTES_MAX + 1, file);
    bool failed = ferror(file) != 0;
    int error = errno;
    fclose(file);
    bytes[*size] = '\0';
    const char *nul = memchr(bytes, '\0', *size);
    if (failed)
        trouble_in(troubles, path, "cannot be read: %s", strerror(error));
    else if (*size > TREE_BYTES_MAX)
        trouble_in(troubles, path, "is larger than 1 MiB: this is no settings file");
    else if (nul)
        trouble_in(troubles, path, "has a NUL at byte %zu: this is no text file",
                   (size_t)(nul - bytes));
    if (!failed && *size <= TREE_BYTES_MAX && !nul)
        return bytes;
    free(bytes);
    return NULL;
}

/* ---- building ---------------------------------------------------------------------------- */

struct builder {
    yaml_parser_t parser;
    struct tree *tree;
    struct settings_troubles *troubles;
    struct node *open[TREE_DEPTH_MAX + 1]; /* lists and maps not yet ended */
    struct node *last[TREE_DEPTH_MAX + 1]; /* their newest child */
    int depth, nodes;
    char *key; /* in a map: read, and waiting for its value */
    int key_line, key_column;
    bool key_again; /* a duplicate: reported, and read by nobody */
};

static void node_free(struct node *node)
{
    while (node) {
        struct node *next = node->next;
        node_free(node->first);
        free(node->key);
        free(node->text);
        free(node);
        node = next;
    }
}

void document_free(struct tree *tree)
{
    node_free(tree->root);
    tree->root = NULL;
}

struct node *node_child(const struct node *map, const char *key)
{
    for (struct node *child = map->first; child; child = child->next)
        if (child->key && strcmp(child->key, key) == 0)
            return child;
    return NULL;
}

static void wrong(struct builder *builder, const yaml_mark_t *mark, const char *what)
{
    char place[TROUBLE_PLACE_MAX];
    snprintf(place, sizeof(place), "%s:%zu:%zu", builder->tree->file, mark->line + 1,
             mark->column + 1);
    trouble_in(builder->troubles, place, "%s", what);
}

static struct node *add_node(struct builder *builder, enum node_kind kind, const yaml_mark_t *mark)
{
    struct node *node = calloc(1, sizeof(*node));
    if (!node)
        return NULL;
    builder->nodes++;
    node->kind = kind;
    node->line = (int)mark->line + 1;
    node->column = (int)mark->column + 1;
    node->key = builder->key;
    node->key_line = builder->key_line;
    node->key_column = builder->key_column;
    node->used = builder->key_again;
    builder->key_again = false;
    builder->key = NULL;
    builder->key_line = builder->key_column = 0;
    if (builder->depth == 0) {
        builder->tree->root = node;
        return node;
    }
    struct node *parent = builder->open[builder->depth - 1];
    struct node **last = &builder->last[builder->depth - 1];
    if (*last)
        (*last)->next = node;
    else
        parent->first = node;
    *last = node;
    return node;
}

static bool awaits_key(const struct builder *builder)
{
    return builder->depth > 0 && builder->open[builder->depth - 1]->kind == NODE_MAP &&
           !builder->key;
}

static bool take_key(struct builder *builder, const yaml_event_t *event)
{
    const char *text = (const char *)event->data.scalar.value;
    const struct node *map = builder->open[builder->depth - 1];
    if (strcmp(text, "<<") == 0) {
        wrong(builder, &event->start_mark, "merge keys (<<) are not used here: write it out");
        return false;
    }
    const struct node *before = node_child(map, text);
    if (before) {
        char what[TROUBLE_TEXT_MAX];
        snprintf(what, sizeof(what), "\"%.60s\" stands here a second time; the first is in line %d",
                 text, before->key_line);
        wrong(builder, &event->start_mark, what);
        builder->key_again = true;
    }
    builder->key = strdup(text);
    builder->key_line = (int)event->start_mark.line + 1;
    builder->key_column = (int)event->start_mark.column + 1;
    return builder->key != NULL;
}

static bool take_scalar(struct builder *builder, const yaml_event_t *event)
{
    if (event->data.scalar.anchor || event->data.scalar.tag) {
        wrong(builder, &event->start_mark,
              event->data.scalar.anchor ? "anchors (&) are not used here: write it out"
                                        : "tags (!) are not used here");
        return false;
    }
    if (awaits_key(builder))
        return take_key(builder, event);
    struct node *node = add_node(builder, NODE_TEXT, &event->start_mark);
    if (node)
        node->text = strdup((const char *)event->data.scalar.value);
    return node && node->text;
}

static bool open_node(struct builder *builder, enum node_kind kind, const yaml_event_t *event,
                      bool marked)
{
    if (marked) {
        wrong(builder, &event->start_mark, "anchors (&) and tags (!) are not used here");
        return false;
    }
    if (awaits_key(builder)) {
        wrong(builder, &event->start_mark, "a key must be a word");
        return false;
    }
    if (builder->depth == TREE_DEPTH_MAX) {
        wrong(builder, &event->start_mark, "is nested more than 8 deep: no setting is");
        return false;
    }
    struct node *node = add_node(builder, kind, &event->start_mark);
    if (!node)
        return false;
    builder->open[builder->depth] = node;
    builder->last[builder->depth] = NULL;
    builder->depth++;
    return true;
}

static bool take_event(struct builder *builder, const yaml_event_t *event)
{
    if (builder->nodes > TREE_NODES_MAX) {
        wrong(builder, &event->start_mark, "has more than 20000 values: this is no settings file");
        return false;
    }
    switch (event->type) {
    case YAML_SCALAR_EVENT:
        return take_scalar(builder, event);
    case YAML_MAPPING_START_EVENT:
        return open_node(builder, NODE_MAP, event,
                         event->data.mapping_start.anchor || event->data.mapping_start.tag);
    case YAML_SEQUENCE_START_EVENT:
        return open_node(builder, NODE_LIST, event,
                         event->data.sequence_start.anchor || event->data.sequence_start.tag);
    case YAML_MAPPING_END_EVENT:
    case YAML_SEQUENCE_END_EVENT:
        builder->depth--;
        return true;
    case YAML_ALIAS_EVENT:
        wrong(builder, &event->start_mark, "aliases (*) are not used here: write it out");
        return false;
    case YAML_DOCUMENT_START_EVENT:
        if (!builder->tree->root)
            return true;
        wrong(builder, &event->start_mark, "a second document begins here: one file, one document");
        return false;
    default:
        return true;
    }
}

/* problem_mark is not set for errors of the reader, which count bytes. */
static void parse_error(struct builder *builder)
{
    const yaml_parser_t *parser = &builder->parser;
    char what[TROUBLE_TEXT_MAX];
    if (parser->error == YAML_READER_ERROR) {
        snprintf(what, sizeof(what), "%s at byte %zu: the file must be UTF-8 text", parser->problem,
                 parser->problem_offset);
        trouble_in(builder->troubles, builder->tree->file, "%s", what);
        return;
    }
    snprintf(what, sizeof(what), "%s%s%s", parser->context ? parser->context : "",
             parser->context ? ": " : "", parser->problem ? parser->problem : "cannot be read");
    wrong(builder, &parser->problem_mark, what);
}

static bool build(struct builder *builder)
{
    bool done = false;
    while (!done) {
        yaml_event_t event;
        if (!yaml_parser_parse(&builder->parser, &event)) {
            parse_error(builder);
            return false;
        }
        done = event.type == YAML_STREAM_END_EVENT;
        bool ok = take_event(builder, &event);
        yaml_event_delete(&event);
        if (!ok)
            return false;
    }
    return true;
}

bool document_read(const char *path, struct tree *tree, struct settings_troubles *troubles)
{
    size_t size;
    *tree = (struct tree){.file = path};
    char *bytes = read_bytes(path, &size, troubles);
    if (!bytes)
        return false;
    struct builder builder = {.tree = tree, .troubles = troubles};
    bool ok = yaml_parser_initialize(&builder.parser) != 0;
    if (ok) {
        yaml_parser_set_input_string(&builder.parser, (const unsigned char *)bytes, size);
        ok = build(&builder);
        yaml_parser_delete(&builder.parser);
    }
    free(builder.key);
    free(bytes);
    if (ok && !tree->root)
        trouble_in(troubles, path, "is empty");
    if (!ok || !tree->root)
        document_free(tree);
    return tree->root != NULL;
}
