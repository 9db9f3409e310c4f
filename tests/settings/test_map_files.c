/* test_map_files.c - every shipped map is read by the code that reads users' own, and a
 * map that is broken says where. Addresses are those of the documents that each map names
 * as its source. */
#include <dirent.h>
#include <string.h>

#include "../core/suite.h"
#include "core/serial_line.h"
#include "rig.h"

static struct meter_map load_map(const char *name)
{
    struct settings_troubles troubles = {0};
    struct meter_map map;
    char path[512];
    snprintf(path, sizeof(path), MAPS_DIR "/%s", name);
    bool ok = settings_map_load(path, &map, &troubles);
    ck_assert_msg(ok, "%s: %s", name, troubles.count ? troubles.item[0].text : "no trouble said");
    ck_assert_int_eq(troubles.count, 0);
    return map;
}

static const struct meter_point *point_of(const struct meter_map *map, enum meter_quantity quantity)
{
    for (uint8_t k = 0; k < map->point_count; k++)
        if (map->point[k].quantity == quantity)
            return &map->point[k];
    ck_abort_msg("%s has no %s", map->name, meter_quantity_word(quantity));
    return NULL;
}

START_TEST(test_every_shipped_map_is_accepted_and_has_grid_power)
{
    DIR *folder = opendir(MAPS_DIR);
    const struct dirent *entry;
    int maps = 0;
    ck_assert_ptr_nonnull(folder);
    while ((entry = readdir(folder))) {
        if (!strstr(entry->d_name, ".yaml"))
            continue;
        struct meter_map map = load_map(entry->d_name);
        point_of(&map, METER_POWER);
        ck_assert_uint_gt(strlen(map.title), 0);
        ck_assert_uint_gt(strlen(map.source), 0);
        ck_assert_uint_eq(strlen(map.name), strlen(entry->d_name) - 5);
        maps++;
    }
    closedir(folder);
    ck_assert_int_ge(maps, 22);
}
END_TEST

static void check_point(const struct meter_map *map, enum meter_quantity quantity,
                        const struct meter_point *is)
{
    const struct meter_point *point = point_of(map, quantity);
    ck_assert_int_eq(point->table, is->table);
    ck_assert_uint_eq(point->address, is->address);
    ck_assert_int_eq(point->type, is->type);
    ck_assert_int_eq(point->order, is->order);
    /* as fractions */
    ck_assert_int_eq(point->scale_num * is->scale_den, is->scale_num * point->scale_den);
    ck_assert_int_eq(point->has_absent, is->has_absent);
    ck_assert_uint_eq(point->absent, is->absent);
    ck_assert_int_eq(point->scale_register, METER_NO_REGISTER);
    ck_assert(!point->inverted);
}

START_TEST(test_values_of_each_map_are_those_of_its_source)
{
    static const struct {
        const char *file;
        uint32_t baud;
        char parity;
        enum meter_quantity quantity;
        struct meter_point point;
    } rows[] = {
        {"eastron-sdm630.yaml",
         9600,
         'N',
         METER_POWER,
         {.table = METER_INPUT,
          .address = 0x34,
          .type = METER_FLOAT32,
          .scale_num = 1000,
          .scale_den = 1}},
        {"eastron-sdm630.yaml",
         9600,
         'N',
         METER_IMPORT_ENERGY,
         {.table = METER_INPUT,
          .address = 0x48,
          .type = METER_FLOAT32,
          .scale_num = 1000000,
          .scale_den = 1}},
        {"eastron-sdm120.yaml",
         2400,
         'N',
         METER_POWER,
         {.table = METER_INPUT,
          .address = 0x0c,
          .type = METER_FLOAT32,
          .scale_num = 1000,
          .scale_den = 1}},
        {"abb-b23.yaml",
         19200,
         'E',
         METER_POWER,
         {.table = METER_HOLDING,
          .address = 0x5b14,
          .type = METER_INT32,
          .scale_num = 10,
          .scale_den = 1,
          .has_absent = true,
          .absent = 0x7fffffff}},
        {"abb-b23.yaml",
         19200,
         'E',
         METER_IMPORT_ENERGY,
         {.table = METER_HOLDING,
          .address = 0x5000,
          .type = METER_UINT64,
          .scale_num = 10000,
          .scale_den = 1,
          .has_absent = true,
          .absent = UINT64_MAX}},
        {"carlo-gavazzi-em530.yaml",
         9600,
         'N',
         METER_POWER,
         {.table = METER_INPUT,
          .address = 0x28,
          .type = METER_INT32,
          .order = METER_LOW_FIRST,
          .scale_num = 100,
          .scale_den = 1,
          .has_absent = true,
          .absent = 0x7fffffff}},
        {"schneider-iem3155.yaml",
         19200,
         'E',
         METER_POWER,
         {.table = METER_HOLDING,
          .address = 3060 - 1,
          .type = METER_FLOAT32,
          .scale_num = 1000000,
          .scale_den = 1}},
        {"schneider-iem3155.yaml",
         19200,
         'E',
         METER_EXPORT_ENERGY,
         {.table = METER_HOLDING,
          .address = 0x0c87,
          .type = METER_INT64,
          .scale_num = 1000,
          .scale_den = 1,
          .has_absent = true,
          .absent = UINT64_C(1) << 63}},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        struct meter_map map = load_map(rows[k].file);
        ck_assert_uint_eq(map.baud, rows[k].baud);
        ck_assert_int_eq(parity_letter(map.parity), rows[k].parity);
        ck_assert_uint_eq(map.unit, 1);
        check_point(&map, rows[k].quantity, &rows[k].point);
    }
}
END_TEST

START_TEST(test_a_map_says_how_sure_it_is)
{
    struct meter_map read = load_map("abb-b23.yaml"), memory = load_map("goodwe-et-meter.yaml");
    struct meter_map pac = load_map("siemens-pac2200.yaml");
    ck_assert_uint_eq(read.verified, METER_VERIFIED_READ);
    ck_assert_uint_eq(memory.verified, METER_VERIFIED_MEMORY);
    ck_assert_ptr_nonnull(strstr(memory.unsure, "sign of power"));
    ck_assert_uint_eq(pac.stop_bits, 2);
    ck_assert_uint_eq(pac.unit, 126);
}
END_TEST

/* ---- broken ones ------------------------------------------------------------------------------
 */

static const char small_map[] =
    "title: A meter\n"
    "source: \"the maker's table\"\n"
    "line: {baud: 9600, parity: none, unit: 1}\n"
    "points:\n"
    "  power: {table: input, address: 0x0034, type: float32, unit: W}\n"
    "  voltage-l1: {table: input, address: 0, type: int16, unit: 0.1 V}\n";

static void expect_map(const char *text, const char *at, const char *says)
{
    struct settings_troubles troubles = {0};
    struct meter_map map;
    char place[TROUBLE_PLACE_MAX];
    const char *path = file_of(text);
    place_of(text, at, place);
    ck_assert_msg(!settings_map_load(path, &map, &troubles), "accepted:\n%s", text);
    ck_assert_str_eq(troubles.item[0].text, says);
    ck_assert_str_eq(troubles.item[0].place, place);
    ck_assert_msg(troubles.count == 1, "also: %s", troubles.item[1].text);
    settings_troubles_free(&troubles);
}

START_TEST(test_a_broken_map_says_what_and_where)
{
    static const struct mistake rows[] = {
        {"title: A meter\n", "", "source", "the map needs title: what the device is"},
        {"source: \"the maker's table\"\n", "", "title",
         "the map needs source: where these addresses are from"},
        {"baud: 9600", "baud: 300", "300", "baud: 300 is out of range; from 1200 to 115200"},
        {"parity: none", "parity: N", "N,",
         "parity: \"N\" is not one of the choices; write none, even or odd"},
        {"  power:", "  powers:", "powers",
         "\"powers\" is no quantity of a meter; do you mean \"power\"?"},
        {"  power:", "  reactive:", "reactive", "\"reactive\" is no quantity of a meter"},
        {"{table: input, address: 0x", "{address: 0x",
         "power:", "power needs table: holding or input"},
        {"{table: input", "{table: coils", "coils",
         "table: \"coils\" is not one of the choices; write holding or input"},
        {"type: float32", "type: float", "float,",
         "type: \"float\" is not one of the choices; write int16, uint16, int32, uint32, int64, "
         "uint64, "
         "float32 or float64"},
        {"address: 0x0034, ", "", "power:", "power needs address"},
        {"0x0034", "0x10000", "0x10000", "address is a number from 0 to 0xffff, not \"0x10000\""},
        {"0x0034", "-1", "-1", "address is a number from 0 to 0xffff, not \"-1\""},
        {"0x0034", "34h", "34h", "address is a number from 0 to 0xffff, not \"34h\""},
        {"0x0034", "0x", "0x,", "address is a number from 0 to 0xffff, not \"0x\""},
        {"0x0034", "[1]", "[1]", "a number is expected here, not a list"},
        {"unit: W", "unit: W, absent: 0x1FFFFFFFFFFFFFFFF", "0x1F",
         "absent is a number from 0 to 0xffffffff, not \"0x1FFFFFFFFFFFFFFFF\""},
        {"unit: 0.1 V", "unit: 0.1 V, absent: 0xFFFFFFFF", "0xFFFFFFFF",
         "absent is a number from 0 to 0xffff, not \"0xFFFFFFFF\""},
        {"type: float32, unit: W", "type: float, unit: W, absent: 0xFFFFFFFF", "float,",
         "type: \"float\" is not one of the choices; write int16, uint16, int32, uint32, int64, "
         "uint64, "
         "float32 or float64"},
        {"unit: 1}", "unit: 1, most: 126}", "126", "most: 126 is out of range; from 1 to 125"},
        {"unit: 1}", "unit: 1, most: 1}", NULL,
         "power: value and scale register are 2 registers apart; one request fetches at most 1"},
        {"line:", "verified: yes\nline:", "yes",
         "verified: \"yes\" is not one of the choices; write read or memory"},
        {"unit: 1}", "unit: 1, stop_bits: 3}", "3}", "stop_bits: 3 is out of range; from 1 to 2"},
        {"line:", "positive: export\nline:", "export",
         "positive: \"export\" is not one of the choices; write wired, import, production or "
         "charge"},
        {"unit: W", "unit: W, scale_register: x", "x}",
         "scale_register is a number from 0 to 0xffff, not \"x\""},
        {"unit: W", "unit: W, word_order: low", "word_order",
         "power has no setting \"word_order\""},
        {"unit: W", "unit: W, inverted: maybe", "maybe", "inverted: is yes or no, not \"maybe\""},
        {", unit: W", "", "power:", "power needs unit: such as W"},
        {"  voltage-l1:", "  power:", "power: {table: input, address: 0,",
         "\"power\" is here twice; the first is at 5:3"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = edited(small_map, rows[k].find, rows[k].write);
        expect_map(text, rows[k].at, rows[k].says);
        free(text);
    }
}
END_TEST

#define WHOLE_MARK "{table: holding, address: 0xFC02, type: uint16, is: 0x70}"
#define NEITHER "a mark needs either is: its value, or from: and to: the span it lies in"

START_TEST(test_a_broken_fingerprint_says_what_and_where)
{
    static const struct mistake rows[] = {
        {"- {table: holding", "- {table: coils", "coils",
         "table: \"coils\" is not one of the choices; write holding or input"},
        {"- {table: holding, ", "- {", "{address: 0xFC02", "a mark needs table: holding or input"},
        {"address: 0xFC02, ", "", "{table: holding", "a mark needs address"},
        {"is: 0x70", "is: p", "p}", "is is a whole number such as 112 or 0x70, not \"p\""},
        {"is: 0x70", "is: [1]", "[1]", "a number is expected here, not a list"},
        {"is: 0x70", "is: 0xFFFFFFFFFFFFFFFFF", "0xFFFFFFFFFFFFFFFFF",
         "is is a whole number such as 112 or 0x70, not \"0xFFFFFFFFFFFFFFFFF\""},
        {"is: 0x70", "is: 1, from: 1, to: 2", "{table: holding", NEITHER},
        {"is: 0x70", "from: 1", "{table: holding", NEITHER},
        {", is: 0x70", "", "{table: holding", NEITHER},
        {"is: 0x70", "from: -1, to: -2", "-2", "to: -2 is less than from: -1"},
        {"is: 0x70", "value: 0x70, is: 1", "value", "a mark has no setting \"value\""},
        {"type: uint16, is", "type: float32, is", "float32, is",
         "a mark is a whole number, not a float"},
        {"0xFC02, type: uint16", "0xFFFF, type: uint32", "{table: holding",
         "the mark ends beyond the last register, 0xffff"},
        {WHOLE_MARK, "0x70", "0x70",
         "a mark such as " WHOLE_MARK " is expected here, not a single value"},
        {"\n  - " WHOLE_MARK, " yes", "yes",
         "a list of marks is expected here, not a single value"},
        {"is: 0x70}\n",
         "is: 0x70}\n"
         "  - {table: input, address: 1, type: uint16, is: 1}\n"
         "  - {table: input, address: 1, type: uint16, is: 1}\n"
         "  - {table: input, address: 1, type: uint16, is: 1}\n"
         "  - {table: input, address: 5, type: uint16, is: 1}\n",
         "{table: input, address: 5", "a fingerprint has at most 4 marks"},
    };
    char *good = edited(small_map, "points:\n", "fingerprint:\n  - " WHOLE_MARK "\npoints:\n");
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = edited(good, rows[k].find, rows[k].write);
        expect_map(text, rows[k].at, rows[k].says);
        free(text);
    }
    free(good);
}
END_TEST

START_TEST(test_a_fingerprint_is_values_or_spans_with_their_sign)
{
    struct settings_troubles troubles = {0};
    struct meter_map map;
    char *text = edited(small_map, "points:\n",
                        "positive: production\n"
                        "fingerprint:\n"
                        "  - " WHOLE_MARK "\n"
                        "  - {table: input, address: 9, type: int32, order: low-first, from: -7, "
                        "to: 0x10}\n"
                        "points:\n");
    ck_assert(settings_map_load(file_of(text), &map, &troubles));
    ck_assert_int_eq(map.positive, METER_POSITIVE_PRODUCTION);
    ck_assert_uint_eq(map.mark_count, 2);
    ck_assert_int_eq(map.mark[0].table, METER_HOLDING);
    ck_assert_uint_eq(map.mark[0].address, 0xfc02);
    ck_assert_int_eq(map.mark[0].type, METER_UINT16);
    ck_assert_int_eq(map.mark[0].least, 112);
    ck_assert_int_eq(map.mark[0].greatest, 112);
    ck_assert_int_eq(map.mark[1].table, METER_INPUT);
    ck_assert_int_eq(map.mark[1].order, METER_LOW_FIRST);
    ck_assert_int_eq(map.mark[1].least, -7);
    ck_assert_int_eq(map.mark[1].greatest, 16);
    free(text);
}
END_TEST

/* ---- anything at all --------------------------------------------------------------------------
 */

static void spoil(char *text, size_t room, uint64_t *seed)
{
    static const char *const odd[] = {"{",
                                      "}",
                                      "[",
                                      "]",
                                      ":",
                                      ",",
                                      "-",
                                      "\n",
                                      " ",
                                      "0x",
                                      "-1",
                                      "&a",
                                      "*a",
                                      "!!int",
                                      "\t",
                                      "\"",
                                      "'",
                                      "\xff",
                                      "99999999999999999999",
                                      "fingerprint:",
                                      "points:",
                                      "power:",
                                      "is:",
                                      "from:",
                                      "absent:",
                                      "scale_register:",
                                      "float64",
                                      "\x01",
                                      "#",
                                      "|",
                                      "unit: 1e9 W",
                                      "0"};
    size_t length = strlen(text);
    size_t at = (size_t)seeded_between(seed, 0, (int64_t)length - 1);
    size_t gone = seeded_between(seed, 0, 3) == 0 ? (size_t)seeded_between(seed, 0, 30) : 1;
    const char *put = odd[seeded_between(seed, 0, (int64_t)COUNT_OF(odd) - 1)];
    gone = gone > length - at ? length - at : gone;
    if (length - gone + strlen(put) >= room)
        return;
    memmove(text + at + strlen(put), text + at + gone, length - at - gone + 1);
    memcpy(text + at, put, strlen(put));
}

/* What is accepted can be planned, and stays within the bounds of its own struct. */
static void judge(bool ok, const struct meter_map *map, const struct settings_troubles *troubles,
                  const char *text)
{
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert_msg(ok == (troubles->count == 0), "%s", text);
    if (!ok)
        return;
    ck_assert_uint_ge(map->point_count, 1);
    ck_assert_uint_le(map->point_count, METER_POINTS_MAX);
    ck_assert_uint_le(map->mark_count, METER_MARKS_MAX);
    ck_assert_msg(meter_plan_make(map, &plan, &trouble), "%s", text);
    for (uint8_t k = 0; k < plan.count; k++)
        ck_assert_uint_le(plan.block[k].count, METER_BLOCK_REGISTERS_MAX);
    for (uint8_t k = 0; k < map->mark_count; k++)
        ck_assert_int_le(map->mark[k].least, map->mark[k].greatest);
}

START_TEST(test_a_spoilt_map_is_refused_with_a_place_or_can_be_planned)
{
    enum { SEEDS = 1000, ROOM = 4096 };
    char *good = edited(small_map, "points:\n",
                        "positive: import\n"
                        "fingerprint:\n"
                        "  - " WHOLE_MARK "\n"
                        "  - {table: input, address: 9, type: int32, from: -7, to: 16}\n"
                        "points:\n");
    int tried = 0, refused = 0;
    for (uint64_t number = 1; number <= SEEDS; number += cases_step()) {
        uint64_t seed = number;
        struct settings_troubles troubles = {0};
        struct meter_map map;
        char text[ROOM];
        snprintf(text, sizeof text, "%s", good);
        for (int64_t times = seeded_between(&seed, 1, 4); times > 0; times--)
            spoil(text, sizeof text, &seed);
        const char *path = file_of(text);
        bool ok = settings_map_load(path, &map, &troubles);
        judge(ok, &map, &troubles, text);
        for (int k = 0; k < troubles.count; k++) {
            ck_assert_str_ne(troubles.item[k].text, "");
            ck_assert_int_eq(strncmp(troubles.item[k].place, path, strlen(path)), 0);
        }
        tried++;
        refused += !ok;
        settings_troubles_free(&troubles);
    }
    ck_assert_int_gt(refused, tried / 3);
    ck_assert_int_lt(refused, tried);
    free(good);
}
END_TEST

START_TEST(test_a_unit_of_a_map_must_be_one_of_the_quantity)
{
    struct settings_troubles troubles = {0};
    struct meter_map map;
    char *text = edited(small_map, "unit: W", "unit: V");
    ck_assert(!settings_map_load(file_of(text), &map, &troubles));
    ck_assert_int_eq(troubles.count, 1);
    ck_assert_ptr_nonnull(strstr(troubles.item[0].place, ".yaml:5:"));
    ck_assert_ptr_nonnull(strstr(troubles.item[0].text, "unit: "));
    ck_assert_ptr_nonnull(strstr(troubles.item[0].text, "\"V\""));
    settings_troubles_free(&troubles);
    free(text);
}
END_TEST

START_TEST(test_a_map_without_points_is_none)
{
    expect_map("title: A\nsource: b\n", "title", "the map needs points");
    expect_map("title: A\nsource: b\npoints: {}\n", NULL, "the map has no points");
    expect_map("title: A\nsource: b\npoints: [power]\n", "[power]",
               "a group of points is expected here, not a list");
    expect_map("", NULL, "is empty");
}
END_TEST

START_TEST(test_a_map_that_says_nothing_of_its_line_has_the_usual_one)
{
    struct settings_troubles troubles = {0};
    struct meter_map map;
    char *text = edited(small_map, "line: {baud: 9600, parity: none, unit: 1}\n", "");
    ck_assert(settings_map_load(file_of(text), &map, &troubles));
    ck_assert_uint_eq(map.baud, 9600);
    ck_assert_int_eq(map.parity, PARITY_NONE);
    ck_assert_uint_eq(map.unit, 1);
    free(text);
}
END_TEST

START_TEST(test_a_number_that_begins_with_0_is_decimal)
{
    struct settings_troubles troubles = {0};
    struct meter_map map;
    char *text = edited(small_map, "0x0034", "0052");
    ck_assert(settings_map_load(file_of(text), &map, &troubles));
    ck_assert_uint_eq(map.point[0].address, 52);
    free(text);
}
END_TEST

START_TEST(test_a_map_that_is_used_and_broken_is_said_at_its_own_line)
{
    struct settings_troubles troubles = {0};
    char folder[] = "/tmp/sluice-maps-XXXXXX", path[64];
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof(path), "%s/mine.yaml", folder);
    FILE *file = fopen(path, "we");
    ck_assert_ptr_nonnull(file);
    fputs("title: A\nsource: b\npoints:\n  power: {table: input, address: 0, type: int16}\n", file);
    fclose(file);
    char *text = edited(small_house, "map: sunspec", "map: mine");
    ck_assert_ptr_null(settings_load(file_of(text), folder, &with_quote, &troubles));
    ck_assert_int_eq(troubles.count, 1);
    char place[80];
    snprintf(place, sizeof(place), "%s:4:3", path);
    ck_assert_str_eq(troubles.item[0].place, place);
    ck_assert_str_eq(troubles.item[0].text, "power needs unit: such as W");
    settings_troubles_free(&troubles);
    free(text);
    remove(path);
    remove(folder);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_every_shipped_map_is_accepted_and_has_grid_power,
        test_values_of_each_map_are_those_of_its_source,
        test_a_map_says_how_sure_it_is,
        test_a_broken_map_says_what_and_where,
        test_a_broken_fingerprint_says_what_and_where,
        test_a_fingerprint_is_values_or_spans_with_their_sign,
        test_a_spoilt_map_is_refused_with_a_place_or_can_be_planned,
        test_a_unit_of_a_map_must_be_one_of_the_quantity,
        test_a_map_without_points_is_none,
        test_a_map_that_says_nothing_of_its_line_has_the_usual_one,
        test_a_number_that_begins_with_0_is_decimal,
        test_a_map_that_is_used_and_broken_is_said_at_its_own_line,
    };
    return suite_run("map files", tests, COUNT_OF(tests));
}
