/* The walk along devices that keep to the models, and along some that do not.
 *
 * Places of the marker and patterns of values that are not implemented: SunSpec
 * Information Model Specification, as quoted by public implementations. Offsets:
 * sunspec/models; test_models.c compares the room's with the published files. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "image.h"

static struct image *image;
static struct sunspec_walk walk;

static void begin(void)
{
    image = image_new();
    sunspec_begin(&walk);
}

static void end(void)
{
    free(image);
}

static uint16_t put_marker(uint16_t base)
{
    image_put_string(image, base, 2, "SunS");
    return (uint16_t)(base + 2);
}

/* A model whose registers are all 0x8000, "not implemented" for most; returns where the
 * next begins. */
static uint16_t put_model(uint16_t at, uint16_t id, uint16_t length)
{
    image_put(image, at, id);
    image_put(image, (uint16_t)(at + 1), length);
    for (uint16_t i = 0; i < length; i++)
        image_put(image, (uint16_t)(at + 2 + i), 0x8000);
    return (uint16_t)(at + 2 + length);
}

static uint16_t put_common(uint16_t at, uint16_t length, const char *maker)
{
    uint16_t next = put_model(at, 1, length);
    image_put_string(image, (uint16_t)(at + 2), 16, maker);
    image_put_string(image, (uint16_t)(at + 18), 16, "Meter 3");
    image_put_string(image, (uint16_t)(at + 50), 16, "0012345");
    return next;
}

static void put_end(uint16_t at)
{
    image_put(image, at, 0xffff);
    image_put(image, (uint16_t)(at + 1), 0);
}

static const int8_t amps_exponent = -2, volts_exponent = -1, watts_exponent = 1;

static uint16_t put_integer_meter(uint16_t at, uint16_t id)
{
    static const int16_t values[][2] = {
        {3, 1234},
        {4, -250},
        {5, 17},
        {6, amps_exponent}, /* A */
        {8, 2301},
        {9, 2312},
        {10, 2298},
        {15, volts_exponent}, /* V */
        {16, 50},             /* Hz, without Hz_SF */
        {18, -150},
        {19, 28},
        {20, -200},
        {21, 22},
        {22, watts_exponent}, /* W */
        {54, 0},
    };
    uint16_t next = put_model(at, id, 105);
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++)
        image_put(image, (uint16_t)(at + values[i][0]), (uint16_t)values[i][1]);
    image_put_32(image, (uint16_t)(at + 38), 1234567);
    image_put_32(image, (uint16_t)(at + 46), 7654321);
    return next;
}

static uint16_t put_float_meter(uint16_t at, uint16_t id)
{
    static const struct {
        uint16_t offset;
        float value;
    } values[] = {
        {4, 12.25f},    {12, 230.125f}, {26, 49.5f},      {28, -1500.0f},   {30, 280.0f},
        {32, -2000.0f}, {34, 220.0f},   {60, 1234567.0f}, {68, 7654321.0f},
    };
    uint16_t next = put_model(at, id, 124);
    for (uint16_t offset = 2; offset < 124; offset += 2)
        image_put_float(image, (uint16_t)(at + offset), NAN);
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++)
        image_put_float(image, (uint16_t)(at + values[i].offset), values[i].value);
    return next;
}

static uint16_t put_inverter(uint16_t at, uint16_t id)
{
    uint16_t next = put_model(at, id, 50);
    image_put(image, (uint16_t)(at + 4), 0xffff); /* one phase: the others are not there */
    image_put(image, (uint16_t)(at + 5), 0xffff);
    image_put(image, (uint16_t)(at + 11), 0xffff);
    image_put(image, (uint16_t)(at + 12), 0xffff);
    image_put(image, (uint16_t)(at + 3), 2174);
    image_put(image, (uint16_t)(at + 6), (uint16_t)-2);
    image_put(image, (uint16_t)(at + 10), 2301);
    image_put(image, (uint16_t)(at + 13), (uint16_t)-1);
    image_put(image, (uint16_t)(at + 14), 5000);
    image_put(image, (uint16_t)(at + 15), 0);
    image_put(image, (uint16_t)(at + 16), 4998);
    image_put(image, (uint16_t)(at + 17), (uint16_t)-2);
    image_put_32(image, (uint16_t)(at + 24), 8765432);
    image_put(image, (uint16_t)(at + 26), 0);
    image_put(image, (uint16_t)(at + 38), 5); /* THROTTLED */
    return next;
}

static void assert_value(const struct meter_sample *sample, enum meter_quantity quantity,
                         int64_t value)
{
    ck_assert_msg(sample->has >> quantity & 1, "%s is missing", meter_quantity_word(quantity));
    ck_assert_msg(sample->value[quantity] == value, "%s: %lld", meter_quantity_word(quantity),
                  (long long)sample->value[quantity]);
}

static void assert_missing(const struct meter_sample *sample, enum meter_quantity quantity)
{
    ck_assert_msg((sample->has >> quantity & 1) == 0, "%s", meter_quantity_word(quantity));
}

START_TEST(test_integer_meter_is_found_and_read)
{
    static const uint16_t bases[] = {40000, 50000, 0};
    uint16_t base = bases[_i % 3], id = (uint16_t)(201 + _i / 3);
    put_end(put_integer_meter(put_common(put_marker(base), 66, "Acme"), id));
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_FOUND);
    ck_assert_uint_eq(walk.model, id);
    ck_assert_str_eq(walk.maker, "Acme");
    ck_assert_str_eq(walk.device, "Meter 3");
    ck_assert_str_eq(walk.serial, "0012345");
    struct meter_sample sample = image_sample(image, &walk.map);
    assert_value(&sample, METER_POWER, -1500000);
    assert_value(&sample, METER_POWER_L1, 280000);
    assert_value(&sample, METER_POWER_L2, -2000000);
    assert_value(&sample, METER_POWER_L3, 220000);
    assert_value(&sample, METER_CURRENT_L1, 12340);
    assert_value(&sample, METER_CURRENT_L2, -2500);
    assert_value(&sample, METER_CURRENT_L3, 170);
    assert_value(&sample, METER_VOLTAGE_L1, 230100);
    assert_value(&sample, METER_VOLTAGE_L2, 231200);
    assert_value(&sample, METER_VOLTAGE_L3, 229800);
    assert_value(&sample, METER_FREQUENCY, 50000); /* Hz_SF is 0x8000 */
    assert_value(&sample, METER_EXPORT_ENERGY, 1234567000);
    assert_value(&sample, METER_IMPORT_ENERGY, 7654321000);
}
END_TEST

START_TEST(test_float_meter_is_found_and_read)
{
    put_end(put_float_meter(put_common(put_marker(40000), 66, "Acme"), (uint16_t)(211 + _i)));
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_FOUND);
    struct meter_sample sample = image_sample(image, &walk.map);
    assert_value(&sample, METER_POWER, -1500000);
    assert_value(&sample, METER_POWER_L2, -2000000);
    assert_value(&sample, METER_CURRENT_L1, 12250);
    assert_value(&sample, METER_VOLTAGE_L1, 230125);
    assert_value(&sample, METER_FREQUENCY, 49500);
    assert_value(&sample, METER_EXPORT_ENERGY, 1234567000);
    assert_value(&sample, METER_IMPORT_ENERGY, 7654321000);
    assert_missing(&sample, METER_CURRENT_L2);
    assert_missing(&sample, METER_VOLTAGE_L3);
}
END_TEST

START_TEST(test_inverter_shows_what_it_produces_and_that_it_is_throttled)
{
    put_end(put_inverter(put_common(put_marker(40000), 66, "Acme"), (uint16_t)(101 + _i)));
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_FOUND);
    struct meter_sample sample = image_sample(image, &walk.map);
    assert_value(&sample, METER_POWER, 5000000);
    assert_value(&sample, METER_CURRENT_L1, 21740);
    assert_value(&sample, METER_VOLTAGE_L1, 230100);
    assert_value(&sample, METER_FREQUENCY, 49980);
    assert_value(&sample, METER_EXPORT_ENERGY, 8765432000);
    assert_value(&sample, METER_STATE, 5);
    assert_missing(&sample, METER_IMPORT_ENERGY);
    assert_missing(&sample, METER_CURRENT_L2);
    assert_missing(&sample, METER_VOLTAGE_L2);
}
END_TEST

START_TEST(test_common_model_of_old_devices_is_one_register_shorter)
{
    put_end(put_integer_meter(put_common(put_marker(40000), 65, "Acme"), 203));
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_FOUND);
    ck_assert_str_eq(walk.serial, "0012345");
    ck_assert_uint_eq(walk.map.point[0].address, 40002 + 67 + 3); /* AphA */
}
END_TEST

START_TEST(test_models_that_are_not_known_are_passed)
{
    uint16_t at = put_common(put_marker(40000), 66, "Acme");
    at = put_model(at, 120, 26);
    at = put_model(at, 64001, 1);
    at = put_model(at, 64002, 0); /* empty, but a model */
    put_end(put_integer_meter(at, 203));
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_FOUND);
    ck_assert_uint_eq(walk.model, 203);
}
END_TEST

/* An inverter with a meter of its own: a second common model names the meter. */
START_TEST(test_wanted_kind_is_found_past_the_other)
{
    uint16_t at = put_common(put_marker(40000), 66, "Roof");
    at = put_inverter(at, 103);
    at = put_common(at, 65, "Door");
    put_end(put_integer_meter(at, 203));
    image_walk(image, &walk);
    ck_assert_uint_eq(walk.model, 103);
    ck_assert_str_eq(walk.maker, "Roof");
    sunspec_begin(&walk);
    walk.wanted = SUNSPEC_METER;
    image_walk(image, &walk);
    ck_assert_uint_eq(walk.model, 203);
    ck_assert_str_eq(walk.maker, "Door");
    sunspec_begin(&walk);
    walk.wanted = SUNSPEC_INVERTER;
    image_walk(image, &walk);
    ck_assert_uint_eq(walk.model, 103);
}
END_TEST

START_TEST(test_whole_model_of_124_registers_needs_two_reads)
{
    put_end(put_float_meter(put_common(put_marker(40000), 66, "Acme"), 213));
    image_walk(image, &walk);
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert(meter_plan_make(&walk.map, &plan, &trouble));
    ck_assert_uint_eq(plan.count, 2);
    ck_assert(!plan.block[0].totals);
    ck_assert(plan.block[1].totals);
}
END_TEST

START_TEST(test_mandatory_scale_that_is_missing_costs_the_value)
{
    uint16_t at = put_common(put_marker(40000), 66, "Acme");
    put_end(put_integer_meter(at, 203));
    image_put(image, (uint16_t)(at + 22), 0x8000); /* W_SF */
    image_walk(image, &walk);
    struct meter_sample sample = image_sample(image, &walk.map);
    assert_missing(&sample, METER_POWER);
    assert_value(&sample, METER_VOLTAGE_L1, 230100);
}
END_TEST

START_TEST(test_values_not_implemented_are_missing)
{
    uint16_t at = put_common(put_marker(40000), 66, "Acme");
    put_end(put_integer_meter(at, 201));
    image_put(image, (uint16_t)(at + 20), 0x8000); /* int16 */
    image_put_32(image, (uint16_t)(at + 46), 0);   /* acc32: not accumulated */
    image_walk(image, &walk);
    struct meter_sample sample = image_sample(image, &walk.map);
    assert_missing(&sample, METER_POWER_L2);
    assert_missing(&sample, METER_IMPORT_ENERGY);
    assert_value(&sample, METER_EXPORT_ENERGY, 1234567000);
}
END_TEST

START_TEST(test_model_shorter_than_defined_gives_what_lies_within)
{
    uint16_t at = put_common(put_marker(40000), 66, "Acme");
    put_integer_meter(at, 203);
    image_put(image, (uint16_t)(at + 1), 36); /* ends before the energies */
    for (uint32_t gone = at + 38U; gone < 65536; gone++)
        image->there[gone] = false;
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_FOUND);
    struct meter_sample sample = image_sample(image, &walk.map);
    assert_value(&sample, METER_POWER, -1500000);
    assert_missing(&sample, METER_IMPORT_ENERGY);
}
END_TEST

START_TEST(test_model_that_ends_before_a_scale_factor_lacks_its_values)
{
    uint16_t at = put_common(put_marker(40000), 66, "Acme");
    put_integer_meter(at, 203);
    image_put(image, (uint16_t)(at + 1), 20); /* W at 18 to 21 is within, W_SF at 22 not */
    image_walk(image, &walk);
    struct meter_sample sample = image_sample(image, &walk.map);
    assert_missing(&sample, METER_POWER);
    assert_value(&sample, METER_FREQUENCY, 50000);
}
END_TEST

START_TEST(test_names_are_cleaned)
{
    put_end(put_integer_meter(put_common(put_marker(40000), 66, "A\tb\xffz   "), 203));
    image_walk(image, &walk);
    ck_assert_str_eq(walk.maker, "A?b?z");
    ck_assert_str_eq(walk.map.title, "A?b?z Meter 3, SunSpec model 203");
    ck_assert_str_eq(walk.map.name, "sunspec-203");
}
END_TEST

START_TEST(test_name_of_32_characters_is_whole)
{
    static const char name[] = "abcdefghijklmnopqrstuvwxyz012345";
    put_end(put_integer_meter(put_common(put_marker(40000), 66, name), 203));
    image_walk(image, &walk);
    ck_assert_str_eq(walk.maker, name);
}
END_TEST

START_TEST(test_common_model_that_cannot_be_read_costs_only_the_names)
{
    uint16_t at = put_common(put_marker(40000), 66, "Acme");
    put_end(put_integer_meter(at, 203));
    image->there[40010] = false;
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_FOUND);
    ck_assert_str_eq(walk.maker, "");
    ck_assert_str_eq(walk.map.title, "unnamed, SunSpec model 203");
}
END_TEST

/* ---- devices that do not keep to it --------------------------------------------- */

START_TEST(test_device_without_marker_is_not_found_after_three_questions)
{
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(walk.state, SUNSPEC_ASKING);
        sunspec_feed(&walk, NULL);
    }
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
    sunspec_feed(&walk, NULL);
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
}
END_TEST

START_TEST(test_marker_with_swapped_words_is_no_marker)
{
    image_put_string(image, 40000, 2, "nSSu");
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
}
END_TEST

START_TEST(test_chain_without_a_model_of_use_is_not_found)
{
    put_end(put_model(put_common(put_marker(40000), 66, "Acme"), 120, 26));
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
}
END_TEST

START_TEST(test_chain_that_stops_without_end_is_not_found)
{
    put_model(put_common(put_marker(40000), 66, "Acme"), 120, 26);
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
}
END_TEST

START_TEST(test_chain_that_never_ends_is_left)
{
    for (uint32_t at = put_marker(40000); at < 65536; at++)
        image_put(image, (uint16_t)at, at % 2 == 0 ? 120 : 0); /* empty models for ever */
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
    ck_assert_uint_le(walk.hops, 101);
}
END_TEST

START_TEST(test_zeros_behind_the_marker_are_no_chain)
{
    for (uint16_t at = put_marker(0); at < 1000; at++)
        image_put(image, at, 0);
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
    ck_assert_uint_eq(walk.hops, 0);
}
END_TEST

START_TEST(test_length_that_leads_past_the_last_register_ends_the_walk)
{
    static const uint16_t lengths[] = {25532, 25533, 40000};
    uint16_t at = put_marker(40000);
    image_put(image, at, _i % 2 ? 203 : 120);
    image_put(image, (uint16_t)(at + 1), lengths[_i / 2]);
    /* A chain that went round at the end of the table would find this. */
    put_integer_meter((uint16_t)(at + 2 + lengths[_i / 2]), 204);
    image_walk(image, &walk);
    bool fits = _i % 2 && lengths[_i / 2] == 25532; /* a meter that ends with the table */
    ck_assert_int_eq(walk.state, fits ? SUNSPEC_FOUND : SUNSPEC_NOT_FOUND);
}
END_TEST

START_TEST(test_model_too_short_for_any_value_is_not_found)
{
    uint16_t at = put_model(put_marker(40000), 203, 1);
    put_end(at);
    image_walk(image, &walk);
    ck_assert_int_eq(walk.state, SUNSPEC_NOT_FOUND);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("sunspec");
    TCase *cases = tcase_create("sunspec");
    tcase_add_checked_fixture(cases, begin, end);
    tcase_add_loop_test(cases, test_integer_meter_is_found_and_read, 0, 12);
    tcase_add_loop_test(cases, test_float_meter_is_found_and_read, 0, 4);
    tcase_add_loop_test(cases, test_inverter_shows_what_it_produces_and_that_it_is_throttled, 0, 3);
    tcase_add_test(cases, test_common_model_of_old_devices_is_one_register_shorter);
    tcase_add_test(cases, test_models_that_are_not_known_are_passed);
    tcase_add_test(cases, test_wanted_kind_is_found_past_the_other);
    tcase_add_test(cases, test_whole_model_of_124_registers_needs_two_reads);
    tcase_add_test(cases, test_mandatory_scale_that_is_missing_costs_the_value);
    tcase_add_test(cases, test_values_not_implemented_are_missing);
    tcase_add_test(cases, test_model_shorter_than_defined_gives_what_lies_within);
    tcase_add_test(cases, test_model_that_ends_before_a_scale_factor_lacks_its_values);
    tcase_add_test(cases, test_names_are_cleaned);
    tcase_add_test(cases, test_name_of_32_characters_is_whole);
    tcase_add_test(cases, test_common_model_that_cannot_be_read_costs_only_the_names);
    tcase_add_test(cases, test_device_without_marker_is_not_found_after_three_questions);
    tcase_add_test(cases, test_marker_with_swapped_words_is_no_marker);
    tcase_add_test(cases, test_chain_without_a_model_of_use_is_not_found);
    tcase_add_test(cases, test_chain_that_stops_without_end_is_not_found);
    tcase_add_test(cases, test_chain_that_never_ends_is_left);
    tcase_add_test(cases, test_zeros_behind_the_marker_are_no_chain);
    tcase_add_loop_test(cases, test_length_that_leads_past_the_last_register_ends_the_walk, 0, 6);
    tcase_add_test(cases, test_model_too_short_for_any_value_is_not_found);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
