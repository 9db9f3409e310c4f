/* indent_node.c - a key that is YAML where it stands, but belongs elsewhere.
 *
 * A line that begins two blanks too early is a setting of nothing, or a load without power
 * that is called "thermostat". Where what is above it knows that key, the slip is said as
 * one: whose setting it is, and how far it is indented there. */
#include <string.h>

#include "indent.h"
#include "sections.h"

enum { PATH_SIZE = 96 };

/* ---- which section a node is ----------------------------------------------------------------- */

static bool holds_names(const char *path)
{
    static const char *const sections_of_names[] = {"buses", "meters", "groups", "loads"};
    for (size_t k = 0; k < sizeof(sections_of_names) / sizeof(sections_of_names[0]); k++)
        if (strcmp(path, sections_of_names[k]) == 0)
            return true;
    return false;
}

/* "loads.NAME.floors[]"; "" for the whole file. */
static void write_path(const struct node *node, char path[static PATH_SIZE])
{
    if (!node->parent) {
        path[0] = '\0';
        return;
    }
    write_path(node->parent, path);
    const char *key = holds_names(path) ? "NAME" : node->key;
    size_t used = strlen(path);
    if (!node->key)
        snprintf(path + used, PATH_SIZE - used, "[]");
    else
        snprintf(path + used, PATH_SIZE - used, "%s%s", used ? "." : "", key);
}

static bool begins_with(const char *section, const char *path, const char *key)
{
    char wanted[PATH_SIZE + 64];
    int length = snprintf(wanted, sizeof(wanted), "%s%s%s", path, *path ? "." : "", key);
    return strncmp(section, wanted, (size_t)length) == 0 && strchr(".[", section[length]);
}

static const struct section *more_of(const struct node *node)
{
    while (node->parent)
        node = node->parent;
    return node->more;
}

/* Whether in the file that has the node the section of that path has a setting, or a section
 * within it, of that key. */
static bool path_has(const struct node *node, const char *path, const char *key)
{
    const struct section *section, *more = more_of(node);
    for (int s = 0; (section = section_at(more, s)); s++) {
        if (begins_with(section->path, path, key))
            return true;
        for (size_t k = 0; strcmp(section->path, path) == 0 && k < section->rows->count; k++)
            if (strcmp(section->rows->row[k].key, key) == 0)
                return true;
    }
    return false;
}

/* ---- whether it would belong there ------------------------------------------------------------
 */

/* An entry under a name of somebody's own shows by what is in it. */
static bool is_entry_of(const char *path, const struct node *child)
{
    char named[PATH_SIZE];
    if (!holds_names(path) || child->kind != NODE_MAP || !child->first || !child->first->key ||
        !is_name(child->key))
        return false;
    snprintf(named, sizeof(named), "%.80s.NAME", path);
    return path_has(child, named, child->first->key);
}

static bool would_hold(const struct node *map, const struct node *child)
{
    char path[PATH_SIZE];
    write_path(map, path);
    return is_entry_of(path, child) || (!holds_names(path) && path_has(map, path, child->key));
}

static bool is_open(const struct node *node)
{
    return node->kind == NODE_MAP || (node->kind == NODE_TEXT && node->text[0] == '\0');
}

/* In lines of their own, not in braces. */
static bool is_block(const struct node *map)
{
    return !map->first || map->first->key_line > map->key_line || !map->key;
}

/* The last entry of a list, and of what it holds, the last again. */
static const struct node *last_child(const struct node *node)
{
    const struct node *last = node->kind == NODE_TEXT ? NULL : node->first;
    while (last && last->next)
        last = last->next;
    return last;
}

/* The entry before `child` on its level, or what was last in it, that would hold it. */
static const struct node *holder_before(const struct node *map, const struct node *child)
{
    const struct node *holder = NULL;
    for (const struct node *before = map->first; before && before != child; before = before->next)
        for (const struct node *node = before; node; node = last_child(node))
            if (is_open(node) && node->key_line != child->key_line && is_block(node) &&
                would_hold(node, child)) {
                holder = node;
                break;
            }
    return holder;
}

static const struct node *holder_above(const struct node *map, const struct node *child)
{
    const struct node *above = map->parent;
    while (above && !(above->kind == NODE_MAP && would_hold(above, child)))
        above = above->parent;
    return above && is_block(map) && is_block(above) ? above : NULL;
}

static int indent_in(const struct node *map)
{
    if (map->kind == NODE_MAP && map->first)
        return map->first->key_column - 1;
    return map->key ? map->key_column + 1 : 0;
}

/* An entry of a list goes by its list; NULL: the whole file has no key. */
static const struct node *named(const struct node *map)
{
    return map->key ? map : map->parent && map->parent->key ? map->parent : NULL;
}

bool indent_hint(const struct node *map, const struct node *child, struct text *text)
{
    const struct node *holder = holder_before(map, child);
    if (!holder)
        holder = holder_above(map, child);
    if (!holder)
        return false;
    const struct node *owner = named(holder);
    if (owner)
        text_add(text, "; it belongs to \"%.40s\" (line %d): indent it by %d spaces", owner->key,
                 owner->key_line, indent_in(holder));
    else
        text_add(text, "; it is a section of its own: don't indent it");
    return true;
}

static bool knows(const struct node *map, const char *key)
{
    char path[PATH_SIZE];
    write_path(map, path);
    return holds_names(path) || path_has(map, path, key);
}

/* Too little: it follows the map, or what the map is in. */
static bool moved_out(const struct node *map, const char *key)
{
    for (const struct node *in = map; in->parent; in = in->parent)
        for (const struct node *after = in->next; after; after = after->next)
            if (after->key && strcmp(after->key, key) == 0 && !knows(in->parent, key) &&
                holder_before(in->parent, after) == map)
                return true;
    return false;
}

/* The section for quotes is read only by who brings its rows. For others nothing in it is
 * reported, so nothing has moved into it: what is missing, is. */
static bool is_unread(const struct node *node)
{
    return node->parent && !node->parent->parent && node->key && strcmp(node->key, "quote") == 0 &&
           !more_of(node);
}

/* Too much: it is in something that the map has. */
static bool moved_in(const struct node *map, const struct node *within, const char *key)
{
    for (const struct node *node = within->first; node; node = node->next) {
        if (node->kind == NODE_TEXT || is_unread(node))
            continue;
        const struct node *child = child_of(node, key);
        if ((child && !knows(node, key) && !holder_before(node, child) &&
             holder_above(node, child) == map) ||
            moved_in(map, node, key))
            return true;
    }
    return false;
}

bool indent_has_moved(const struct node *map, const char *key)
{
    return moved_out(map, key) || moved_in(map, map, key);
}

/* A load may be called "water": it is a setting of the load above it only where what it
 * holds makes it no load. */
bool indent_is_setting(const struct node *map, const struct node *child)
{
    const struct node *holder = holder_before(map, child);
    char path[PATH_SIZE], above[PATH_SIZE], within[PATH_SIZE + 48];
    if (!holder || child->kind != NODE_MAP)
        return holder != NULL;
    write_path(map, path);
    write_path(holder, above);
    snprintf(within, sizeof(within), "%s.%.40s", above, child->key);
    for (const struct node *node = child->first; node; node = node->next)
        if (node->key && !path_has(map, above, node->key) && path_has(map, within, node->key))
            return true;
    return false;
}

bool indent_explains_empty(const struct node *node)
{
    return node->kind == NODE_TEXT && node->text[0] == '\0' && node->parent && node->next &&
           node->next->key && holder_before(node->parent, node->next) == node;
}
