/* edit.c - where a value stands is known from its marks; what goes in its place is quoted where
 * YAML could read it as something else. */
#include "edit.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare.h"
#include "core/text.h"
#include "trouble_list.h"

struct editing {
    const struct tree *tree;
    const char *key, *value;
    struct edit *edit;
    struct trouble *trouble;
};

/* ---- keys --------------------------------------------------------------------------------------
 */

static struct node *entry(const struct node *list, const char *word)
{
    char *end;
    long place = strtol(word, &end, 10);
    bool is_place = word[0] >= '1' && word[0] <= '9' && !*end;
    struct node *node = is_place ? list->first : NULL;
    while (node && --place > 0)
        node = node->next;
    return node;
}

static struct node *below(const struct node *node, const char *word)
{
    if (node->kind == NODE_MAP)
        return node_child(node, word);
    return node->kind == NODE_LIST ? entry(node, word) : NULL;
}

/* As far as the file has it: `rest` is what is left of the key, "" where it has all. */
static struct node *find(const struct tree *tree, const char *key, char rest[static EDIT_KEY_MAX])
{
    struct node *node = tree->root;
    for (snprintf(rest, EDIT_KEY_MAX, "%s", key); *rest;) {
        size_t length = strcspn(rest, ".");
        char word[EDIT_KEY_MAX];
        snprintf(word, sizeof(word), "%.*s", (int)length, rest);
        struct node *next = below(node, word);
        if (!next)
            break;
        node = next;
        memmove(rest, rest + length + (rest[length] == '.'),
                strlen(rest + length + (rest[length] == '.')) + 1);
    }
    return node;
}

static bool refuse(const struct editing *editing, const struct node *node, const char *what)
{
    char place[TROUBLE_PLACE_MAX];
    snprintf(place, sizeof(place), "%s:%d:%d", editing->tree->file, node->line, node->column);
    return trouble_set(editing->trouble, node->line ? place : editing->tree->file, "%s", what);
}

/* ---- values ------------------------------------------------------------------------------------
 */

static bool is_flow_text(const char *value)
{
    return *value == '[' || *value == '{';
}

/* Letters, digits and what quantities are written with: no sign of YAML's, anywhere. */
static bool is_plain(const char *value)
{
    static const char safe[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                               " ._/%+-";
    size_t length = strlen(value);
    return length > 0 && strspn(value, safe) == length && !strchr(" -+.%", value[0]) &&
           value[length - 1] != ' ';
}

static void write_value(const char *value, struct text *text)
{
    if (is_plain(value) || is_flow_text(value)) {
        text_add(text, "%s", value);
        return;
    }
    text_add(text, "\"");
    for (const char *c = value; *c; c++)
        text_add(text, *c == '"' || *c == '\\' ? "\\%c" : "%c", *c);
    text_add(text, "\"");
}

/* ---- the new bytes ------------------------------------------------------------------------------
 */

static bool splice(const struct editing *editing, size_t from, size_t to, const char *text)
{
    const struct settings_source *source = &editing->tree->source;
    size_t added = strlen(text), size = source->size - (to - from) + added;
    char *bytes = malloc(size + 1);
    if (!bytes)
        return trouble_set(editing->trouble, editing->tree->file, "no memory");
    memcpy(bytes, source->bytes, from);
    memcpy(bytes + from, text, added);
    memcpy(bytes + from + added, source->bytes + to, source->size - to);
    bytes[size] = '\0';
    *editing->edit = (struct edit){bytes, size};
    return true;
}

static size_t offset(const struct editing *editing, int line, int column)
{
    return document_offset(&editing->tree->source, line, column);
}

static bool replace(const struct editing *editing, const struct node *node)
{
    char buffer[2 * EDIT_VALUE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    bool flow = node->kind != NODE_TEXT && node->flow;
    if (node->kind != NODE_TEXT && !flow)
        return refuse(editing, node,
                      "is a section of several lines: name one value of it, or edit the file");
    if (flow && !is_flow_text(editing->value))
        return refuse(editing, node, "is a list in brackets: the new value goes in brackets too");
    if (node->line != node->end_line)
        return refuse(editing, node, "is written over several lines: edit the file");
    size_t from = offset(editing, node->line, node->column);
    size_t to = offset(editing, node->end_line, node->end_column);
    text_add(&text, from == to ? " " : ""); /* a key with nothing behind its colon */
    write_value(editing->value, &text);
    if (text.full)
        return refuse(editing, node, "the new value is too long");
    return splice(editing, from, to, buffer);
}

/* The last line that a node or anything in it stands on. */
static int last_line(const struct node *node)
{
    int last = node->kind == NODE_TEXT || node->flow ? node->end_line : node->line;
    for (const struct node *child = node->first; child; child = child->next) {
        int its = last_line(child);
        last = its > last ? its : last;
    }
    return last;
}

static const struct node *last_child(const struct node *map)
{
    const struct node *last = map->first;
    while (last && last->next)
        last = last->next;
    return last;
}

/* A line of its own behind the map's last. */
static bool add_line(const struct editing *editing, const struct node *map, const char *line)
{
    const struct settings_source *source = &editing->tree->source;
    size_t at = offset(editing, last_line(map) + 1, 1);
    char buffer[4 * EDIT_VALUE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    bool open = at == source->size && at > 0 && source->bytes[at - 1] != '\n';
    text_add(&text, "%s%*s%s\n", open ? "\n" : "", map->first->key_column - 1, "", line);
    return splice(editing, at, at, buffer);
}

static bool add_in_braces(const struct editing *editing, const struct node *map, const char *line)
{
    char buffer[4 * EDIT_VALUE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const struct node *last = last_child(map);
    if (last->kind != NODE_TEXT && !last->flow)
        return refuse(editing, last, "cannot be added to here: edit the file");
    size_t at = offset(editing, last->end_line, last->end_column);
    text_add(&text, ", %s", line);
    return splice(editing, at, at, buffer);
}

/* `rest` is one word: a key that `map` does not have. */
static bool add(const struct editing *editing, const struct node *map, const char *rest)
{
    char buffer[3 * EDIT_VALUE_MAX], what[TROUBLE_TEXT_MAX];
    struct text line = text_in(buffer, sizeof(buffer));
    if (map->kind != NODE_MAP || strchr(rest, '.') || !map->first) {
        snprintf(what, sizeof(what),
                 "\"%.60s\" is not in the file: add its section there, or see "
                 "\"sluice explain %.60s\"",
                 editing->key, editing->key);
        return refuse(editing, map, what);
    }
    text_add(&line, "%s: ", rest);
    write_value(editing->value, &line);
    if (line.full)
        return refuse(editing, map, "the new value is too long");
    return map->flow ? add_in_braces(editing, map, buffer) : add_line(editing, map, buffer);
}

/* ---- what came of it
 * ----------------------------------------------------------------------------- */

struct check {
    const char *key;
    size_t others; /* that differ too */
};

/* A list in brackets may differ in several of its entries. */
static void count_others(void *context, const char *key, const char *before, const char *after)
{
    struct check *check = context;
    size_t length = strlen(check->key);
    (void)before, (void)after;
    check->others += strncmp(key, check->key, length) != 0 || (key[length] && key[length] != '.');
}

static bool nothing_else_changed(const struct editing *editing)
{
    struct settings_troubles troubles = {0};
    struct check check = {.key = editing->key};
    struct tree after;
    char *copy = malloc(editing->edit->size + 1);
    if (!copy)
        return trouble_set(editing->trouble, editing->tree->file, "no memory");
    memcpy(copy, editing->edit->bytes, editing->edit->size + 1);
    bool ok = document_parse(editing->tree->file, copy, editing->edit->size, &after, &troubles);
    if (!compare_took(ok, &after, &troubles, editing->trouble))
        return false;
    compare_trees(editing->tree, &after, count_others, &check);
    document_free(&after);
    if (check.others == 0)
        return true;
    return trouble_set(editing->trouble, editing->tree->file,
                       "cannot be changed there without changing something else: edit the file");
}

static bool is_one_line(const char *value)
{
    for (const char *c = value; *c; c++)
        if ((unsigned char)*c < ' ' || *c == 0x7f)
            return false;
    return strlen(value) < EDIT_VALUE_MAX;
}

bool settings_edit(const char *path, const char *key, const char *value, struct edit *edit,
                   struct trouble *trouble)
{
    struct settings_troubles troubles = {0};
    char rest[EDIT_KEY_MAX];
    struct tree tree;
    *edit = (struct edit){0};
    if (strlen(key) >= EDIT_KEY_MAX || !is_one_line(key) || !is_one_line(value))
        return trouble_set(trouble, "", "a key and a value of one line are expected");
    if (!compare_took(document_read(path, &tree, &troubles), &tree, &troubles, trouble))
        return false;
    struct editing editing = {&tree, key, value, edit, trouble};
    const struct node *node = find(&tree, key, rest);
    bool ok = *rest ? add(&editing, node, rest) : replace(&editing, node);
    if (ok && !nothing_else_changed(&editing)) {
        free(edit->bytes);
        *edit = (struct edit){0};
        ok = false;
    }
    document_free(&tree);
    return ok;
}
