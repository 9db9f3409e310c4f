/* The room's table of SunSpec points against the published definitions, copies of
 * which lie in sunspec/ (see its README for source and licence). */
#include <check.h>
#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "meter/sunspec_models.h"

static const uint16_t published[] = {101, 103, 201, 202, 203, 204, 211, 212, 213, 214};
enum { PUBLISHED = sizeof published / sizeof published[0] };

static cJSON *read_model(unsigned id)
{
    static char text[65536];
    char path[512];
    snprintf(path, sizeof path, "%s/model_%u.json", SUNSPEC_DIR, id);
    FILE *file = fopen(path, "r");
    ck_assert_msg(file != NULL, "%s", path);
    size_t length = fread(text, 1, sizeof text - 1, file);
    fclose(file);
    text[length] = '\0';
    cJSON *json = cJSON_Parse(text);
    ck_assert_msg(json != NULL, "%s", path);
    ck_assert_int_eq(cJSON_GetObjectItem(json, "id")->valueint, (int)id);
    return json;
}

static const cJSON *points_of(const cJSON *model)
{
    return cJSON_GetObjectItem(cJSON_GetObjectItem(model, "group"), "points");
}

static const char *text_of(const cJSON *point, const char *key)
{
    const cJSON *item = cJSON_GetObjectItem(point, key);
    return item ? item->valuestring : NULL;
}

/* The point of that name; its offset is the sum of the sizes before it. */
static const cJSON *find_point(const cJSON *model, const char *name, int *offset)
{
    const cJSON *point;
    *offset = 0;
    cJSON_ArrayForEach(point, points_of(model))
    {
        if (strcmp(text_of(point, "name"), name) == 0)
            return point;
        *offset += cJSON_GetObjectItem(point, "size")->valueint;
    }
    return NULL;
}

static const char *const type_names[] = {
    [SUNSPEC_INT16] = "int16", [SUNSPEC_UINT16] = "uint16",   [SUNSPEC_ENUM16] = "enum16",
    [SUNSPEC_ACC32] = "acc32", [SUNSPEC_FLOAT32] = "float32",
};

static const char *unit_of(enum meter_quantity quantity)
{
    if (quantity <= METER_POWER_L3)
        return "W";
    if (quantity <= METER_CURRENT_L3)
        return "A";
    if (quantity <= METER_VOLTAGE_L3)
        return "V";
    return quantity == METER_FREQUENCY ? "Hz" : quantity == METER_STATE ? NULL : "Wh";
}

static void assert_scale(const cJSON *model, const struct sunspec_point *row, const cJSON *point)
{
    const char *name = text_of(point, "sf");
    int offset;
    if (!name) {
        ck_assert_ptr_null(row->scale_name);
        return;
    }
    ck_assert_str_eq(row->scale_name, name);
    const cJSON *scale = find_point(model, name, &offset);
    ck_assert_int_eq(row->scale_offset, offset);
    ck_assert_str_eq(text_of(scale, "type"), "sunssf");
    ck_assert_int_eq(row->scale_optional, text_of(scale, "mandatory") == NULL);
}

START_TEST(test_every_offset_type_and_scale_is_the_published_one)
{
    cJSON *model = read_model(published[_i]);
    const struct sunspec_model *ours = sunspec_model(published[_i]);
    ck_assert_ptr_nonnull(ours);
    ck_assert_uint_gt(ours->point_count, 0);
    for (uint8_t i = 0; i < ours->point_count; i++) {
        const struct sunspec_point *row = &ours->points[i];
        int offset;
        const cJSON *point = find_point(model, row->name, &offset);
        ck_assert_msg(point != NULL, "model %u has no %s", published[_i], row->name);
        ck_assert_msg(offset == row->offset, "%u %s: %d", published[_i], row->name, offset);
        ck_assert_str_eq(text_of(point, "type"), type_names[row->type]);
        if (unit_of(row->quantity))
            ck_assert_str_eq(text_of(point, "units"), unit_of(row->quantity));
        assert_scale(model, row, point);
    }
    cJSON_Delete(model);
}
END_TEST

/* Phases are A, B and C there and 1, 2, 3 here; Exp and Imp are as they say. */
START_TEST(test_names_and_quantities_go_together)
{
    static const struct {
        const char *name;
        enum meter_quantity quantity;
    } pairs[] = {
        {"W", METER_POWER},
        {"WphA", METER_POWER_L1},
        {"WphB", METER_POWER_L2},
        {"WphC", METER_POWER_L3},
        {"AphA", METER_CURRENT_L1},
        {"AphB", METER_CURRENT_L2},
        {"AphC", METER_CURRENT_L3},
        {"PhVphA", METER_VOLTAGE_L1},
        {"PhVphB", METER_VOLTAGE_L2},
        {"PhVphC", METER_VOLTAGE_L3},
        {"Hz", METER_FREQUENCY},
        {"TotWhImp", METER_IMPORT_ENERGY},
        {"TotWhExp", METER_EXPORT_ENERGY},
        {"WH", METER_EXPORT_ENERGY},
        {"St", METER_STATE},
    };
    const struct sunspec_model *ours = sunspec_model(published[_i]);
    for (uint8_t i = 0; i < ours->point_count; i++) {
        bool paired = false;
        for (size_t k = 0; k < sizeof pairs / sizeof pairs[0]; k++)
            paired |= strcmp(pairs[k].name, ours->points[i].name) == 0 &&
                      pairs[k].quantity == ours->points[i].quantity;
        ck_assert_msg(paired, "%s", ours->points[i].name);
    }
}
END_TEST

START_TEST(test_split_phase_inverter_is_taken_like_the_others)
{
    ck_assert_ptr_eq(sunspec_model(102), sunspec_model(101));
    ck_assert_ptr_eq(sunspec_model(103), sunspec_model(101));
    ck_assert(sunspec_model(102)->inverter);
}
END_TEST

START_TEST(test_other_models_become_no_map)
{
    static const uint16_t others[] = {0,   1,   100, 104, 111, 120,  160,
                                      200, 205, 210, 215, 220, 65535};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        ck_assert_ptr_null(sunspec_model(others[i]));
}
END_TEST

/* The walk reads maker, device and serial number as 64 registers behind the
 * header: 0, 16 and 48. */
START_TEST(test_strings_of_the_common_model_lie_where_the_walk_reads_them)
{
    cJSON *model = read_model(1);
    static const struct {
        const char *name;
        int offset;
    } strings[] = {{"Mn", 2}, {"Md", 18}, {"SN", 50}};
    for (size_t i = 0; i < 3; i++) {
        int offset;
        const cJSON *point = find_point(model, strings[i].name, &offset);
        ck_assert_int_eq(offset, strings[i].offset);
        ck_assert_int_eq(cJSON_GetObjectItem(point, "size")->valueint, 16);
    }
    cJSON_Delete(model);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("models");
    TCase *cases = tcase_create("models");
    tcase_add_loop_test(cases, test_every_offset_type_and_scale_is_the_published_one, 0, PUBLISHED);
    tcase_add_loop_test(cases, test_names_and_quantities_go_together, 0, PUBLISHED);
    tcase_add_test(cases, test_split_phase_inverter_is_taken_like_the_others);
    tcase_add_test(cases, test_other_models_become_no_map);
    tcase_add_test(cases, test_strings_of_the_common_model_lie_where_the_walk_reads_them);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
