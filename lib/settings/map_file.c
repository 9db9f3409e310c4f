/* map_file.c - register maps as people keep them: one file a device.
 *
 * title, source, line, fingerprint and points; a point is named by its quantity and
 * says where it stands and how it is written there. The unit gives the scale. A
 * fingerprint is a list of registers that tell this device from its relatives. */
#include "map_file.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "core/serial_line.h"

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
static const struct setting_choice verified[] = {
    {"read", METER_VERIFIED_READ, NULL}, {"memory", METER_VERIFIED_MEMORY, NULL}, {NULL, 0, NULL}};
static const struct setting_choice positives[] = {{"wired", METER_POSITIVE_WIRED, NULL},
                                                  {"import", METER_POSITIVE_IMPORT, NULL},
                                                  {"production", METER_POSITIVE_PRODUCTION, NULL},
                                                  {"charge", METER_POSITIVE_CHARGE, NULL},
                                                  {NULL, 0, NULL}};

static const struct setting_row map_rows[] = {
    {.key = "title",
     .kind = SETTING_TEXT,
     SETTING_AT(struct meter_map, title),
     .text = "what the device is"},
    {.key = "source",
     .kind = SETTING_TEXT,
     SETTING_AT(struct meter_map, source),
     .text = "where these addresses are from"},
    {.key = "verified",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_map, verified),
     .initial = "",
     .choices = verified,
     .text = "read: compared with the sources; memory: written from memory"},
    {.key = "unsure",
     .kind = SETTING_TEXT,
     SETTING_AT(struct meter_map, unsure),
     .initial = "",
     .text = "what no source settles, and what to look at on the meter"},
    {.key = "phases",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct meter_map, phases),
     .least = 1,
     .greatest = 3,
     .initial = "",
     .text = "how many phases it measures"},
    {.key = "positive",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_map, positive),
     .initial = "wired",
     .choices = positives,
     .text = "what positive power is"},
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
     .choices = parity_choices},
    {.key = "stop_bits",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct meter_map, stop_bits),
     .least = 1,
     .greatest = 2,
     .initial = ""},
    {.key = "unit",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct meter_map, unit),
     .least = 1,
     .greatest = 247,
     .initial = "1"},
    {.key = "most",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct meter_map, request_most),
     .least = 1,
     .greatest = METER_BLOCK_REGISTERS_MAX,
     .initial = "125",
     .text = "how many registers the device gives at once"},
};
static const struct setting_row mark_rows[] = {
    {.key = "table",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_mark, table),
     .choices = tables,
     .text = "holding or input"},
    {.key = "type",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_mark, type),
     .choices = types,
     .text = "such as uint16"},
    {.key = "order",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_mark, order),
     .initial = "high-first",
     .choices = orders},
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
static const struct setting_rows mark_table = SETTING_ROWS(mark_rows);

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

/* All bits of the type: an "absent" beyond them could never be met. */
static uint64_t greatest_of(enum meter_type type)
{
    return UINT64_MAX >> (64 - 16 * meter_type_registers(type));
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
        if (is_missing(point, "unit"))
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
    int before = reader->troubles->count;
    read_section(reader, node->key, node, targets, 1, others);
    bool type_known = reader->troubles->count == before;
    if (node->kind != NODE_MAP)
        return;
    if (is_missing(node, "address"))
        wrong_at_key(reader, node, "%s needs address", node->key);
    else if (read_address(reader, node, "address", 0xffff, &number))
        point->address = (uint16_t)number;
    if (node_child(node, "scale_register") &&
        read_address(reader, node, "scale_register", 0xffff, &number))
        point->scale_register = (int32_t)number;
    if (node_child(node, "absent"))
        point->has_absent =
            read_address(reader, node, "absent", type_known ? greatest_of(point->type) : UINT64_MAX,
                         &point->absent);
    read_unit(reader, node, point);
    map->point_count++;
}

/* ---- the fingerprint ------------------------------------------------------------------------ */

/* A whole number, decimal or with 0x, that may be negative. */
static bool read_whole(const struct reader *reader, const struct node *mark, const char *key,
                       int64_t *value)
{
    const struct node *node = node_child(mark, key);
    if (!want_kind(reader, node, NODE_TEXT, "a number"))
        return false;
    const char *digits = node->text + (node->text[0] == '-');
    char *end;
    errno = 0;
    *value = strtoll(node->text, &end, strncmp(digits, "0x", 2) == 0 ? 16 : 10);
    if (errno == 0 && *end == '\0' && digits[0] >= '0' && digits[0] <= '9')
        return true;
    return wrong_at(reader, node, "%s is a whole number such as 112 or 0x70, not \"%s\"", key,
                    QUOTED(node->text));
}

/* is: one value; from and to: any of a span. */
static bool read_span(const struct reader *reader, const struct node *node, struct meter_mark *mark)
{
    bool is = node_child(node, "is"), from = node_child(node, "from"), to = node_child(node, "to");
    if (is == (from || to) || from != to)
        return wrong_at(reader, node,
                        "a mark needs either is: its value, or from: and to: the span it lies in");
    if (is && read_whole(reader, node, "is", &mark->least)) {
        mark->greatest = mark->least;
        return true;
    }
    if (is || !read_whole(reader, node, "from", &mark->least) ||
        !read_whole(reader, node, "to", &mark->greatest))
        return false;
    if (mark->least <= mark->greatest)
        return true;
    return wrong_at(reader, node_child(node, "to"), "to: %" PRId64 " is less than from: %" PRId64,
                    mark->greatest, mark->least);
}

static void check_mark(const struct reader *reader, const struct node *node,
                       const struct meter_mark *mark)
{
    if (mark->type == METER_FLOAT32 || mark->type == METER_FLOAT64)
        wrong_at(reader, node_child(node, "type"), "a mark is a whole number, not a float");
    else if (mark->address + meter_type_registers(mark->type) > 65536)
        wrong_at(reader, node, "the mark ends beyond the last register, 0xffff");
}

static void read_mark(const struct reader *reader, struct node *node, struct meter_map *map)
{
    static const char *const others[] = {"address", "is", "from", "to", NULL};
    struct meter_mark *mark = &map->mark[map->mark_count];
    const struct target targets[] = {{&mark_table, mark}};
    int before = reader->troubles->count;
    uint64_t number = 0;
    if (!want_kind(reader, node, NODE_MAP,
                   "a mark such as {table: holding, address: 0xFC02, "
                   "type: uint16, is: 0x70}"))
        return;
    read_section(reader, "a mark", node, targets, 1, others);
    if (is_missing(node, "address"))
        wrong_at(reader, node, "a mark needs address");
    else if (read_address(reader, node, "address", 0xffff, &number))
        mark->address = (uint16_t)number;
    read_span(reader, node, mark);
    if (reader->troubles->count == before)
        check_mark(reader, node, mark);
    map->mark_count++;
}

static void read_fingerprint(const struct reader *reader, const struct node *list,
                             struct meter_map *map)
{
    if (!want_kind(reader, list, NODE_LIST, "a list of marks"))
        return;
    for (struct node *node = list->first; node; node = node->next) {
        if (map->mark_count == METER_MARKS_MAX) {
            wrong_at(reader, node, "a fingerprint has at most %d marks", METER_MARKS_MAX);
            return;
        }
        read_mark(reader, node, map);
    }
}

/* ---- the file ------------------------------------------------------------------------------- */

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

bool map_read(const char *path, struct meter_map *map, struct settings_source *source,
              struct settings_troubles *troubles)
{
    static const char *const others[] = {"line", "fingerprint", "points", NULL};
    struct tree tree;
    int before = troubles->count;
    *map = (struct meter_map){.point_count = 0};
    if (!document_read(path, &tree, troubles))
        return false;
    const struct reader reader = {path, troubles, NULL};
    const struct target map_target[] = {{&map_table, map}}, line_target[] = {{&line_table, map}};
    read_section(&reader, "the map", tree.root, map_target, 1, others);
    if (tree.root->kind == NODE_MAP) {
        struct node *line = node_child(tree.root, "line");
        struct node *points = node_child(tree.root, "points");
        const struct node *fingerprint = node_child(tree.root, "fingerprint");
        read_section(&reader, "line", line, line_target, 1, NULL); /* defaults, where it is none */
        if (fingerprint)
            read_fingerprint(&reader, fingerprint, map);
        if (is_missing(tree.root, "points"))
            wrong_at(&reader, tree.root, "the map needs points");
        if (points && want_kind(&reader, points, NODE_MAP, "a group of points"))
            read_points(&reader, points, map);
    }
    name_map(path, map);
    if (troubles->count == before)
        check_map(&reader, map);
    if (source)
        source_take(&tree, source);
    document_free(&tree);
    return troubles->count == before;
}

bool settings_map_load(const char *path, struct meter_map *map, struct settings_troubles *troubles)
{
    return map_read(path, map, NULL, troubles);
}
