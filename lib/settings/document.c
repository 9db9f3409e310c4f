/* document.c - from libyaml's events to a tree.
 *
 * The event parser is used, not the document API: that one resolves aliases and
 * hides duplicate keys. What a settings file never needs is refused by name, and
 * size, depth and number of nodes are limited, so that no file can eat the board. */
#include "document.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <yaml.h>

#include "indent.h"
#include "punctuation.h"
#include "trouble_list.h"

/* ---- the file -------------------------------------------------------------------------- */

static bool whole_wrong(const char *path, struct settings_troubles *troubles, const char *what)
{
    trouble_add(troubles, (struct place){.file = path}, "%s", what);
    return false;
}

/* At most one byte more than a file may have. False: `errno` says why. */
static bool read_bytes(const char *path, char *bytes, size_t *size)
{
    FILE *file = fopen(path, "re");
    if (!file)
        return false;
    *size = fread(bytes, 1, TREE_BYTES_MAX + 1, file);
    int error = ferror(file) ? errno : 0;
    fclose(file);
    errno = error;
    return error == 0;
}

/* What libyaml would read as something else, or refuse less clearly. */
static bool is_text(const char *path, const char *bytes, size_t size,
                    struct settings_troubles *troubles)
{
    const char *nul = memchr(bytes, '\0', size);
    if (size > TREE_BYTES_MAX)
        return whole_wrong(path, troubles, "is larger than 1 MiB: this is no settings file");
    if (size >= 2 && (memcmp(bytes, "\xff\xfe", 2) == 0 || memcmp(bytes, "\xfe\xff", 2) == 0))
        return whole_wrong(path, troubles, "is UTF-16: save it as UTF-8");
    if (!nul)
        return true;
    trouble_add(troubles, (struct place){.file = path},
                "has a NUL at byte %zu: this is no text file", (size_t)(nul - bytes));
    return false;
}

/* ---- building ---------------------------------------------------------------------------- */

struct builder {
    yaml_parser_t parser;
    const char *bytes;
    size_t size;
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
    free(tree->source.bytes);
    tree->root = NULL;
    tree->source = (struct settings_source){0};
}

void source_take(struct tree *tree, struct settings_source *source)
{
    free(source->bytes);
    *source = tree->source;
    tree->source = (struct settings_source){0};
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
    struct place place = {builder->tree->file, (int)mark->line + 1, (int)mark->column + 1};
    trouble_add(builder->troubles, place, "%s", what);
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
    node->parent = parent;
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

/* Lines and columns count characters; UTF-8 continuation bytes are 10xxxxxx. */
size_t document_offset(const struct settings_source *source, int line, int column)
{
    const char *at = source->bytes, *end = at + source->size;
    for (int k = 1; k < line && at < end; k++) {
        const char *feed = memchr(at, '\n', (size_t)(end - at));
        at = feed ? feed + 1 : end;
    }
    for (int k = 1; k < column && at < end; k++)
        do
            at++;
        while (at < end && (*at & 0xc0) == 0x80);
    return (size_t)(at - source->bytes);
}

static char byte_at(const struct builder *builder, size_t lines, size_t columns)
{
    const struct settings_source source = {(char *)(uintptr_t)builder->bytes, builder->size};
    size_t offset = document_offset(&source, (int)lines + 1, (int)columns + 1);
    return offset < source.size ? source.bytes[offset] : '\0';
}

/* After `before` in the map: a key with nothing behind it, as the heading of an entry is whose
 * settings are not indented deeper. */
static struct node *empty_after(const struct builder *builder, const struct node *map,
                                const struct node *before)
{
    struct node *empty = NULL;
    for (struct node *node = before->next; node && map->key; node = node->next)
        if (node->kind == NODE_TEXT && node->text[0] == '\0' &&
            !strchr("\"'", byte_at(builder, (size_t)node->line - 1, (size_t)node->column - 1)))
            empty = node;
    return empty;
}

/* The settings of one that is indented as they are go into the entry above, and are all there
 * twice: that is said once. */
static bool has_moved_in(struct builder *builder, const struct node *map, const struct node *before)
{
    struct node *heading = empty_after(builder, map, before);
    if (heading && !heading->used)
        trouble_add(builder->troubles,
                    (struct place){builder->tree->file, heading->key_line, heading->key_column},
                    "\"%s\" looks indented too far: what follows it, \"%s\" (line %d) has already; "
                    "indent it by %d space%s",
                    QUOTED(heading->key), QUOTED(map->key), map->key_line, map->key_column - 1,
                    map->key_column == 2 ? "" : "s");
    if (heading)
        heading->used = true;
    return heading != NULL;
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
    builder->key_again = before != NULL;
    if (before && !has_moved_in(builder, map, before)) {
        char what[TROUBLE_TEXT_MAX];
        snprintf(what, sizeof(what), "\"%s\" is here twice; the first is at %d:%d", QUOTED(text),
                 before->key_line, before->key_column);
        wrong(builder, &event->start_mark, what);
    }
    builder->key = strdup(text);
    builder->key_line = (int)event->start_mark.line + 1;
    builder->key_column = (int)event->start_mark.column + 1;
    return builder->key != NULL;
}

static void take_end(struct node *node, const yaml_event_t *event)
{
    node->end_line = (int)event->end_mark.line + 1;
    node->end_column = (int)event->end_mark.column + 1;
}

static bool take_scalar(struct builder *builder, const yaml_event_t *event)
{
    if (event->data.scalar.anchor || event->data.scalar.tag) {
        wrong(builder, &event->start_mark,
              event->data.scalar.anchor ? "anchors (&) are not used here: write it out"
                                        : "tags (!) are not used here");
        return false;
    }
    if (strlen((const char *)event->data.scalar.value) != event->data.scalar.length) {
        wrong(builder, &event->start_mark, "has a NUL in it");
        return false;
    }
    if (awaits_key(builder))
        return take_key(builder, event);
    struct node *node = add_node(builder, NODE_TEXT, &event->start_mark);
    if (!node)
        return false;
    take_end(node, event);
    node->text = strdup((const char *)event->data.scalar.value);
    return node->text != NULL;
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
    node->flow = kind == NODE_MAP ? event->data.mapping_start.style == YAML_FLOW_MAPPING_STYLE
                                  : event->data.sequence_start.style == YAML_FLOW_SEQUENCE_STYLE;
    builder->open[builder->depth] = node;
    builder->last[builder->depth] = NULL;
    builder->depth++;
    return true;
}

static bool take_event(struct builder *builder, const yaml_event_t *event)
{
    if (builder->nodes > TREE_NODES_MAX) {
        wrong(builder, &event->start_mark, "has more than 5000 values: this is no settings file");
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
        take_end(builder->open[builder->depth], event);
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

static bool is_problem(const yaml_parser_t *parser, const char *begins)
{
    return parser->problem && strncmp(parser->problem, begins, strlen(begins)) == 0;
}

/* It took a word for a key, or a key's colon for one within a value. */
static bool wants_colon(const yaml_parser_t *parser)
{
    return is_problem(parser, "could not find expected ':'") ||
           is_problem(parser, "mapping values are not allowed");
}

/* Neither a sign nor an indentation stands out. */
static void likely_error(struct builder *builder)
{
    const yaml_parser_t *parser = &builder->parser;
    char what[TROUBLE_TEXT_MAX];
    if (is_problem(parser, "mapping values are not allowed"))
        snprintf(what, sizeof(what),
                 "a second colon in one line: a value that has a colon goes in quotes");
    else if (is_problem(parser, "found character that cannot start any token"))
        snprintf(what, sizeof(what), "a value that begins with \"%c\" goes in quotes",
                 byte_at(builder, parser->problem_mark.line, parser->problem_mark.column));
    else
        snprintf(what, sizeof(what), "not YAML: %s; look at this line and those above it",
                 parser->problem ? parser->problem : "cannot be read");
    wrong(builder, &parser->problem_mark, what);
}

/* problem_mark is not set for errors of the reader, which count bytes. */
static void parse_error(struct builder *builder)
{
    const yaml_parser_t *parser = &builder->parser;
    char what[TROUBLE_TEXT_MAX];
    if (parser->error == YAML_READER_ERROR) {
        snprintf(what, sizeof(what), "is not UTF-8 text at byte %zu: %s", parser->problem_offset,
                 parser->problem);
        whole_wrong(builder->tree->file, builder->troubles, what);
        return;
    }
    if (byte_at(builder, parser->problem_mark.line, parser->problem_mark.column) == '\t') {
        wrong(builder, &parser->problem_mark, "a tab cannot indent: use spaces");
        return;
    }
    struct indent_finding finding;
    size_t line = parser->problem_mark.line;
    if (punctuation_find(builder->bytes, builder->size, line, wants_colon(parser), &finding) ||
        indent_find(builder->bytes, builder->size, line, &finding)) {
        trouble_add(builder->troubles,
                    (struct place){builder->tree->file, finding.line, finding.column}, "%s",
                    finding.text);
        return;
    }
    likely_error(builder);
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

static bool parse(struct builder *builder)
{
    bool ok = yaml_parser_initialize(&builder->parser) != 0;
    if (!ok)
        return false;
    yaml_parser_set_input_string(&builder->parser, (const unsigned char *)builder->bytes,
                                 builder->size);
    ok = build(builder);
    yaml_parser_delete(&builder->parser);
    free(builder->key);
    return ok;
}

bool document_read(const char *path, struct tree *tree, struct settings_troubles *troubles)
{
    char *bytes = malloc(TREE_BYTES_MAX + 1);
    size_t size = 0;
    *tree = (struct tree){.file = path};
    if (!bytes || !read_bytes(path, bytes, &size)) {
        trouble_add(troubles, (struct place){.file = path}, "cannot be read: %s",
                    strerror(bytes ? errno : ENOMEM));
        free(bytes);
        return false;
    }
    char *shrunk = realloc(bytes, size + 1);
    return document_parse(path, shrunk ? shrunk : bytes, size, tree, troubles);
}

bool document_parse(const char *name, char *bytes, size_t size, struct tree *tree,
                    struct settings_troubles *troubles)
{
    struct builder builder = {.tree = tree, .troubles = troubles, .bytes = bytes, .size = size};
    int before = troubles->count;
    *tree = (struct tree){.file = name, .source = {bytes, size}};
    bool ok = is_text(name, bytes, size, troubles) && parse(&builder);
    if (!ok && troubles->count == before)
        whole_wrong(name, troubles, "cannot be read: no memory");
    if (ok && !tree->root)
        whole_wrong(name, troubles, "is empty");
    if (!ok || !tree->root)
        document_free(tree);
    return tree->root != NULL;
}

const struct node *child_of(const struct node *map, const char *key)
{
    return map && map->kind == NODE_MAP ? node_child(map, key) : NULL;
}
