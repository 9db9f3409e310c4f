#include "map_file.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LINE_MAX_BYTES = 512 };

/* The text behind "key: " in {key: value, key: value}; false: no such key. */
static bool value_of(const char *line, const char *key, char value[static 64])
{
    char wanted[32];
    snprintf(wanted, sizeof wanted, "%s: ", key);
    for (const char *at = strchr(line, '{'); at; at = strchr(at, ',')) {
        at += 1 + strspn(at + 1, " ");
        if (strncmp(at, wanted, strlen(wanted)) != 0)
            continue;
        at += strlen(wanted);
        size_t length = strcspn(at, ",}");
        ck_assert_uint_lt(length, 64);
        memcpy(value, at, length);
        value[length] = '\0';
        return true;
    }
    return false;
}

/* Which of the words it is; fails the test if none. */
static int choose(const char *line, const char *key, const char *const words[], const char *usual)
{
    char value[64];
    if (!value_of(line, key, value)) {
        ck_assert_msg(usual != NULL, "%s lacks %s", line, key);
        snprintf(value, sizeof value, "%s", usual);
    }
    for (int i = 0; words[i]; i++)
        if (strcmp(words[i], value) == 0)
            return i;
    ck_abort_msg("%s: %s", key, value);
}

static uint64_t number(const char *line, const char *key)
{
    char value[64], *end;
    ck_assert_msg(value_of(line, key, value), "%s lacks %s", line, key);
    uint64_t parsed = strtoull(value, &end, 0);
    ck_assert_msg(*end == '\0', "%s: %s", key, value);
    return parsed;
}

static enum meter_quantity quantity_of(const char *word, size_t length)
{
    for (int q = 0; q < METER_QUANTITIES; q++) {
        const char *known = meter_quantity_word((enum meter_quantity)q);
        if (strlen(known) == length && strncmp(known, word, length) == 0)
            return (enum meter_quantity)q;
    }
    ck_abort_msg("%s", word);
}

static const char *const tables[] = {"holding", "input", NULL};
static const char *const types[] = {"int16",  "uint16",  "int32",   "uint32", "int64",
                                    "uint64", "float32", "float64", NULL};
static const char *const orders[] = {"high-first", "low-first", NULL};
static const char *const positives[] = {"wired", "import", "production", "charge", NULL};

static struct meter_mark read_mark(const char *line)
{
    char value[64];
    bool is = value_of(line, "is", value);
    return (struct meter_mark){
        .table = (enum meter_table)choose(line, "table", tables, NULL),
        .address = (uint16_t)number(line, "address"),
        .type = (enum meter_type)choose(line, "type", types, NULL),
        .order = (enum meter_order)choose(line, "order", orders, "high-first"),
        .least = (int64_t)number(line, is ? "is" : "from"),
        .greatest = (int64_t)number(line, is ? "is" : "to"),
    };
}

static struct meter_point read_point(const char *line)
{
    char value[64];
    const char *word = line + strspn(line, " ");
    struct meter_point point = {.quantity = quantity_of(word, strcspn(word, ":")),
                                .table = (enum meter_table)choose(line, "table", tables, NULL),
                                .address = (uint16_t)number(line, "address"),
                                .type = (enum meter_type)choose(line, "type", types, NULL),
                                .order =
                                    (enum meter_order)choose(line, "order", orders, "high-first"),
                                .scale_register = METER_NO_REGISTER};
    struct trouble trouble;
    ck_assert_msg(value_of(line, "unit", value), "%s", line);
    ck_assert_msg(
        meter_unit_parse(point.quantity, value, &point.scale_num, &point.scale_den, &trouble), "%s",
        trouble.text);
    point.absent_zero = value_of(line, "absent_zero", value) && strcmp(value, "yes") == 0;
    point.inverted = value_of(line, "inverted", value) && strcmp(value, "yes") == 0;
    point.has_absent = value_of(line, "absent", value);
    point.absent = point.has_absent ? number(line, "absent") : 0;
    return point;
}

static void copy_text(char *to, size_t size, const char *text)
{
    ck_assert_uint_lt(strlen(text), size);
    memcpy(to, text, strlen(text) + 1);
}

static void read_line(struct meter_map *map, const char *line)
{
    char parity[64];
    if (strncmp(line, "title: ", 7) == 0) {
        copy_text(map->title, sizeof map->title, line + 7);
    } else if (strncmp(line, "source: ", 8) == 0) {
        copy_text(map->source, sizeof map->source, line + 8);
    } else if (strncmp(line, "line: ", 6) == 0) {
        map->baud = (uint32_t)number(line, "baud");
        map->unit = (uint8_t)number(line, "unit");
        ck_assert(value_of(line, "parity", parity));
        map->parity = (uint8_t)parity[0];
        map->request_most = (uint8_t)(value_of(line, "most", parity) ? number(line, "most") : 0);
    } else if (strncmp(line, "positive: ", 10) == 0) {
        map->positive = 0;
        while (positives[map->positive] && strcmp(positives[map->positive], line + 10) != 0)
            map->positive++;
        ck_assert_msg(positives[map->positive] != NULL, "%s", line);
    } else if (strncmp(line, "unsure: ", 8) == 0) {
        copy_text(map->unsure, sizeof map->unsure, line + 8);
    } else if (strncmp(line, "verified: ", 10) == 0) {
        map->verified = strcmp(line + 10, "read") == 0     ? METER_VERIFIED_READ
                        : strcmp(line + 10, "memory") == 0 ? METER_VERIFIED_MEMORY
                                                           : METER_VERIFIED_UNSAID;
    } else if (strncmp(line, "phases: ", 8) == 0) {
        map->phases = (uint8_t)(line[8] - '0');
    } else if (strncmp(line, "  - ", 4) == 0) {
        ck_assert_uint_lt(map->mark_count, METER_MARKS_MAX);
        map->mark[map->mark_count++] = read_mark(line);
    } else if (strncmp(line, "  ", 2) == 0) {
        ck_assert_uint_lt(map->point_count, METER_POINTS_MAX);
        map->point[map->point_count++] = read_point(line);
    } else {
        ck_assert_msg(line[0] == '#' || strcmp(line, "points:") == 0 ||
                          strcmp(line, "fingerprint:") == 0,
                      "%s", line);
    }
}

struct meter_map map_file_read(const char *name)
{
    struct meter_map map = {.point_count = 0};
    char path[512], line[LINE_MAX_BYTES];
    snprintf(path, sizeof path, "%s/%s.yaml", MAPS_DIR, name);
    FILE *file = fopen(path, "r");
    ck_assert_msg(file != NULL, "%s", path);
    while (fgets(line, sizeof line, file)) {
        line[strcspn(line, "\n")] = '\0';
        read_line(&map, line);
    }
    fclose(file);
    return map;
}
