/* map_file.c - register maps as people keep them: one file a device.
 *
 * title, source, line and points; a point is named by its quantity and says where
 * it stands and how it is written there. The unit gives the scale. */
#include "map_file.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static const struct setting_choice tables[] = {
    {"holding", METER_HOLDING, NULL}, {"input", METER_INPUT, NULL}, {NULL, 0, NULL}};
static const struct setting_choice types[] = {{"int16", METER_INT16, NULL},
                                              {"uint16", METER_UINT16, NULL},
                                              {"int32", METER_INT32, NULL},
                                              {"uint32", METER_UINT32, NULL},
                                              {"int64", METER_INT64, NULL},
                                              {"uint64", METER_UINT64, NULL},
                                              {"float32", METER_FLOAT32, NULL},
                                              {"float64", METER_FLOAT64, NULL},
                                              {NULL, 0, NULL}};
static const struct setting_choice orders[] = {
    {"high-first", METER_HIGH_FIRST, NULL}, {"low-first", METER_LOW_FIRST, NULL}, {NULL, 0, NULL}};
static const struct setting_choice parities[] = {
    {"none", 'N', NULL}, {"even", 'E', NULL}, {"odd", 'O', NULL}, {NULL, 0, NULL}};

static const struct setting_row map_rows[] = {
    {.key = "title",
     .kind = SETTING_TEXT,
     SETTING_AT(struct meter_map, title),
     .text = "what the device is"},
    {.key = "source",
     .kind = SETTING_TEXT,
     SETTING_AT(struct meter_map, source),
     .text = "where these addresses are from"},
};
static const struct setting_row line_rows[] = {
    {.key = "baud",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct meter_map, baud),
     .least = 1200,
     .greatest = 115200,
     .initial = "9600"},
    {.key = "parity",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_map, parity),
     .initial = "none",
     .choices = parities},
    {.key = "unit",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct meter_map, unit),
     .least = 1,
     .greatest = 247,
     .initial = "1"},
};
static const struct setting_row point_rows[] = {
    {.key = "table",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_point, table),
     .choices = tables,
     .text = "holding or input"},
    {.key = "type",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_point, type),
     .choices = types,
     .text = "such as float32"},
    {.key = "order",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_point, order),
     .initial = "high-first",
     .choices = orders},
    {.key = "inverted",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct meter_point, inverted),
     .initial = "no"},
    {.key = "absent_zero",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct meter_point, absent_zero),
     .initial = "no"},
};
static const struct setting_rows map_table = SETTING_ROWS(map_rows);
static const struct setting_rows line_table = SETTING_ROWS(line_rows);
static const struct setting_rows point_table = SETTING_ROWS(point_rows);

/* Decimal, or hexadecimal with 0x; at most `most`. */
static bool read_address(const struct reader *reader, const struct node *point, const char *key,
                         uint64_t most, uint64_t *value)
{
    const struct node *node = node_child(point, key);
    if (!node || !want_kind(reader, node, NODE_TEXT, "a number"))
        return false;
    char *end;
    int base = strncmp(node->text, "0x", 2) == 0 ? 16 : 10; /* never octal */
    errno = 0;
    *value = strtoull(node->text, &end, base);
    if (errno == 0 && *end == '\0' && node->text[0] >= '0' && node->text[0] <= '9' &&
        *value <= most)
        return true;
    wrong_at(reader, node, "%s is a number from 0 to 0x%llx, not \"%s\"", key,
             (unsigned long long)most, QUOTED(node->text));
    return false;
}

static bool read_unit(const struct reader *reader, const struct node *point,
                      struct meter_point *into)
{
    const struct node *node = node_child(point, "unit");
    struct trouble trouble;
    if (!node) {
        into->scale_num = into->scale_den = 1;
        if (into->quantity == METER_STATE)
            return true;
        wrong_at_key(reader, point, "%s needs unit: such as W", point->key);
        return false;
    }
    if (want_kind(reader, node, NODE_TEXT, "a unit") &&
        meter_unit_parse(into->quantity, node->text, &into->scale_num, &into->scale_den, &trouble))
        return true;
    wrong_at(reader, node, "unit: %s", trouble.text);
    return false;
}

static void read_point(const struct reader *reader, struct node *node, struct meter_map *map)
{
    static const char *const others[] = {"address", "unit", "scale_register", "absent", NULL};
    struct meter_point *point = &map->point[map->point_count];
    enum meter_quantity quantity = map->point[map->point_count].quantity;
    uint64_t number;
    *point = (struct meter_point){
        .quantity = quantity, .scale_register = METER_NO_REGISTER, .scale_num = 1, .scale_den = 1};
    const struct target targets[] = {{&point_table, point}};
    read_section(reader, node->key, node, targets, 1, others);
    if (node->kind != NODE_MAP)
        return;
    if (!node_child(node, "address"))
        wrong_at_key(reader, node, "%s needs address", node->key);
    else if (read_address(reader, node, "address", 0xffff, &number))
        point->address = (uint16_t)number;
    if (node_child(node, "scale_register") &&
        read_address(reader, node, "scale_register", 0xffff, &number))
        point->scale_register = (int32_t)number;
    if (node_child(node, "absent"))
        point->has_absent = read_address(reader, node, "absent", UINT64_MAX, &point->absent);
    read_unit(reader, node, point);
    map->point_count++;
}

static bool find_quantity(const char *word, enum meter_quantity *quantity)
{
    for (int q = 0; q < METER_QUANTITIES; q++)
        if (strcmp(meter_quantity_word((enum meter_quantity)q), word) == 0) {
            *quantity = (enum meter_quantity)q;
            return true;
        }
    return false;
}

static void read_points(const struct reader *reader, struct node *points, struct meter_map *map)
{
    const char *words[METER_QUANTITIES];
    for (int q = 0; q < METER_QUANTITIES; q++)
        words[q] = meter_quantity_word((enum meter_quantity)q);
    for (struct node *node = points->first; node; node = node->next) {
        enum meter_quantity quantity;
        if (node->used)
            continue; /* a second one */
        if (!find_quantity(node->key, &quantity)) {
            wrong_at_key(reader, node, "\"%s\" is no quantity of a meter%s", QUOTED(node->key),
                         HINT(node->key, words, METER_QUANTITIES));
            continue;
        }
        if (map->point_count == METER_POINTS_MAX)
            break;
        map->point[map->point_count].quantity = quantity;
        read_point(reader, node, map);
    }
}

static void name_map(const char *path, struct meter_map *map)
{
    const char *slash = strrchr(path, '/');
    snprintf(map->name, sizeof(map->name), "%.31s", slash ? slash + 1 : path);
    char *dot = strrchr(map->name, '.');
    if (dot)
        *dot = '\0';
}

static void check_map(const struct reader *reader, const struct meter_map *map)
{
    struct meter_plan plan;
    struct trouble trouble;
    if (map->point_count == 0)
        trouble_add(reader->troubles, (struct place){.file = reader->file},
                    "the map has no points");
    else if (!meter_plan_make(map, &plan, &trouble))
        trouble_add(reader->troubles, (struct place){.file = reader->file}, "%s", trouble.text);
}

bool map_read(const char *path, struct meter_map *map, struct settings_troubles *troubles)
{
    static const char *const others[] = {"line", "points", NULL};
    struct tree tree;
    int before = troubles->count;
    *map = (struct meter_map){.point_count = 0};
    if (!document_read(path, &tree, troubles))
        return false;
    const struct reader reader = {path, troubles};
    const struct target map_target[] = {{&map_table, map}}, line_target[] = {{&line_table, map}};
    read_section(&reader, "the map", tree.root, map_target, 1, others);
    if (tree.root->kind == NODE_MAP) {
        struct node *line = node_child(tree.root, "line");
        struct node *points = node_child(tree.root, "points");
        if (line)
            read_section(&reader, "line", line, line_target, 1, NULL);
        if (!points)
            wrong_at(&reader, tree.root, "the map needs points");
        else if (want_kind(&reader, points, NODE_MAP, "a group of points"))
            read_points(&reader, points, map);
    }
    name_map(path, map);
    if (troubles->count == before)
        check_map(&reader, map);
    document_free(&tree);
    return troubles->count == before;
}

bool settings_map_load(const char *path, struct meter_map *map, struct settings_troubles *troubles)
{
    return map_read(path, map, troubles);
}
