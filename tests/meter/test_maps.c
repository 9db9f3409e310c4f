/* The shipped maps against register images of each meter.
 *
 * The images are built by hand from the documented format (addresses, types, word
 * order and scale as the file's source gives them), not recorded from a device:
 * they prove that file and decoding agree with the document, not that the document
 * agrees with the meter. Words are written out as they stand in the registers. */
#include <check.h>
#include <stdlib.h>

#include "image.h"
#include "map_file.h"

struct words {
    uint16_t address;
    uint8_t count;
    uint16_t word[4];
};

struct expected {
    enum meter_quantity quantity;
    int64_t value;
};

struct meter {
    const char *file;
    uint32_t baud;
    uint8_t blocks; /* requests for everything */
    struct words words[14];
    struct expected expected[14];
    uint8_t value_count;
};

/* Floats worked out apart: 4366 3333 = 230.2, C4BB 8000 = -1500, 449A 5000 = 1234.5,
 * 4248 0000 = 50, 41AC CCCD = 21.6. */
static const struct meter meters[] = {
    {.file = "eastron-sdm630",
     .baud = 9600,
     .blocks = 2,
     .words = {{0x0000, 2, {0x4366, 0x3333}},
               {0x0002, 2, {0x4367, 0x0000}},
               {0x0004, 2, {0x4365, 0x8000}},
               {0x0006, 2, {0x41ac, 0xcccd}},
               {0x0008, 2, {0x3f80, 0x0000}},
               {0x000a, 2, {0x4000, 0x0000}},
               {0x000c, 2, {0xc51c, 0x4000}},
               {0x000e, 2, {0x4366, 0x0000}},
               {0x0010, 2, {0x4448, 0x0000}},
               {0x0034, 2, {0xc4b7, 0xc000}},
               {0x0046, 2, {0x4248, 0x0000}},
               {0x0048, 2, {0x449a, 0x5000}},
               {0x004a, 2, {0x461c, 0x4000}}},
     .expected = {{METER_VOLTAGE_L1, 230200},
                  {METER_VOLTAGE_L2, 231000},
                  {METER_VOLTAGE_L3, 229500},
                  {METER_CURRENT_L1, 21600},
                  {METER_CURRENT_L2, 1000},
                  {METER_CURRENT_L3, 2000},
                  {METER_POWER_L1, -2500000},
                  {METER_POWER_L2, 230000},
                  {METER_POWER_L3, 800000},
                  {METER_POWER, -1470000},
                  {METER_FREQUENCY, 50000},
                  {METER_IMPORT_ENERGY, 1234500000},
                  {METER_EXPORT_ENERGY, 10000000000}},
     .value_count = 13},
    {.file = "eastron-sdm120",
     .baud = 2400,
     .blocks = 2,
     .words = {{0x0000, 2, {0x4366, 0x3333}},
               {0x0006, 2, {0x41ac, 0xcccd}},
               {0x000c, 2, {0xc4bb, 0x8000}},
               {0x0046, 2, {0x4248, 0x0000}},
               {0x0048, 2, {0x449a, 0x5000}},
               {0x004a, 2, {0x461c, 0x4000}}},
     .expected = {{METER_VOLTAGE_L1, 230200},
                  {METER_CURRENT_L1, 21600},
                  {METER_POWER, -1500000},
                  {METER_FREQUENCY, 50000},
                  {METER_IMPORT_ENERGY, 1234500000},
                  {METER_EXPORT_ENERGY, 10000000000}},
     .value_count = 6},
    /* -1500.00 W = -150000 = FFFD B610; 1234.56 kWh = 123456 = 1 E240. */
    {.file = "abb-b23",
     .baud = 19200,
     .blocks = 2,
     .words = {{0x5000, 4, {0, 0, 0x0001, 0xe240}},
               {0x5004, 4, {0, 0, 0x0000, 0x2710}},
               {0x5b00, 2, {0, 2302}},
               {0x5b02, 2, {0, 2310}},
               {0x5b04, 2, {0, 2295}},
               {0x5b0c, 2, {0, 2160}},
               {0x5b0e, 2, {0, 100}},
               {0x5b10, 2, {0, 200}},
               {0x5b14, 2, {0xfffd, 0xb610}},
               {0x5b16, 2, {0xfffc, 0x2f70}},
               {0x5b18, 2, {0x0000, 0x59d8}},
               {0x5b1a, 2, {0x0001, 0x2cc8}},
               {0x5b2c, 1, {4998}}},
     .expected = {{METER_IMPORT_ENERGY, 1234560000},
                  {METER_EXPORT_ENERGY, 100000000},
                  {METER_VOLTAGE_L1, 230200},
                  {METER_VOLTAGE_L2, 231000},
                  {METER_VOLTAGE_L3, 229500},
                  {METER_CURRENT_L1, 21600},
                  {METER_CURRENT_L2, 1000},
                  {METER_CURRENT_L3, 2000},
                  {METER_POWER, -1500000},
                  {METER_POWER_L1, -2500000},
                  {METER_POWER_L2, 230000},
                  {METER_POWER_L3, 770000},
                  {METER_FREQUENCY, 49980}},
     .value_count = 13},
    /* Low word first: -1500.0 W = -15000 = FFFF C568 stands as C568 FFFF. */
    {.file = "carlo-gavazzi-em530",
     .baud = 9600,
     .blocks = 2,
     .words = {{0x000c, 2, {21600, 0}},
               {0x000e, 2, {1000, 0}},
               {0x0010, 2, {2000, 0}},
               {0x0012, 2, {0x9e58, 0xffff}},
               {0x0014, 2, {2300, 0}},
               {0x0016, 2, {7700, 0}},
               {0x0028, 2, {0xc568, 0xffff}},
               {0x0034, 2, {0xe240, 0x0001}},
               {0x004e, 2, {1000, 0}}},
     .expected = {{METER_CURRENT_L1, 21600},
                  {METER_CURRENT_L2, 1000},
                  {METER_CURRENT_L3, 2000},
                  {METER_POWER_L1, -2500000},
                  {METER_POWER_L2, 230000},
                  {METER_POWER_L3, 770000},
                  {METER_POWER, -1500000},
                  {METER_IMPORT_ENERGY, 12345600000},
                  {METER_EXPORT_ENERGY, 100000000}},
     .value_count = 9},
    /* Kilowatts: BFC0 0000 = -1.5; energy in Wh. */
    {.file = "schneider-iem3155",
     .baud = 19200,
     .blocks = 5,
     .words = {{0x0bb7, 2, {0x41ac, 0xcccd}},
               {0x0bb9, 2, {0x3f80, 0x0000}},
               {0x0bbb, 2, {0x4000, 0x0000}},
               {0x0bd3, 2, {0x4366, 0x3333}},
               {0x0bd5, 2, {0x4367, 0x0000}},
               {0x0bd7, 2, {0x4365, 0x8000}},
               {0x0bed, 2, {0xc020, 0x0000}},
               {0x0bef, 2, {0x3e80, 0x0000}},
               {0x0bf1, 2, {0x3f40, 0x0000}},
               {0x0bf3, 2, {0xbfc0, 0x0000}},
               {0x0c25, 2, {0x4248, 0x0000}},
               {0x0c83, 4, {0, 0, 0x0001, 0xe240}},
               {0x0c87, 4, {0, 0, 0, 1000}}},
     .expected = {{METER_CURRENT_L1, 21600},
                  {METER_CURRENT_L2, 1000},
                  {METER_CURRENT_L3, 2000},
                  {METER_VOLTAGE_L1, 230200},
                  {METER_VOLTAGE_L2, 231000},
                  {METER_VOLTAGE_L3, 229500},
                  {METER_POWER_L1, -2500000},
                  {METER_POWER_L2, 250000},
                  {METER_POWER_L3, 750000},
                  {METER_POWER, -1500000},
                  {METER_FREQUENCY, 50000},
                  {METER_IMPORT_ENERGY, 123456000},
                  {METER_EXPORT_ENERGY, 1000000}},
     .value_count = 13},
};
enum { METERS = sizeof meters / sizeof meters[0] };

/* What lies between the documented registers must not matter. */
static struct image *image_of(const struct meter *meter)
{
    struct image *image = image_new();
    for (uint32_t at = 0; at < 65536; at++)
        image_put(image, (uint16_t)at, 0xabcd);
    for (int i = 0; i < meter->value_count; i++)
        for (uint8_t k = 0; k < meter->words[i].count; k++)
            image_put(image, (uint16_t)(meter->words[i].address + k), meter->words[i].word[k]);
    return image;
}

START_TEST(test_image_of_the_meter_gives_the_expected_values)
{
    const struct meter *meter = &meters[_i];
    struct meter_map map = map_file_read(meter->file);
    struct image *image = image_of(meter);
    struct meter_sample sample = image_sample(image, &map);
    ck_assert_uint_eq(map.point_count, meter->value_count);
    for (int i = 0; i < meter->value_count; i++) {
        enum meter_quantity quantity = meter->expected[i].quantity;
        const char *word = meter_quantity_word(quantity);
        ck_assert_msg(sample.has >> quantity & 1, "%s: no %s", meter->file, word);
        ck_assert_msg(sample.value[quantity] == meter->expected[i].value, "%s: %s is %lld",
                      meter->file, word, (long long)sample.value[quantity]);
    }
    free(image);
}
END_TEST

START_TEST(test_map_names_title_source_and_line)
{
    struct meter_map map = map_file_read(meters[_i].file);
    ck_assert_str_ne(map.title, "");
    ck_assert_str_ne(map.source, "");
    ck_assert_uint_eq(map.baud, meters[_i].baud);
    ck_assert_uint_eq(map.unit, 1);
    ck_assert(map.parity == 'n' || map.parity == 'e');
}
END_TEST

START_TEST(test_map_is_read_in_few_requests)
{
    struct meter_map map = map_file_read(meters[_i].file);
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert_msg(meter_plan_make(&map, &plan, &trouble), "%s", trouble.text);
    ck_assert_uint_eq(plan.count, meters[_i].blocks);
    for (uint8_t i = 0; i < plan.count; i++)
        ck_assert_uint_le(plan.block[i].count, 50);
}
END_TEST

START_TEST(test_no_quantity_stands_twice)
{
    struct meter_map map = map_file_read(meters[_i].file);
    uint32_t seen = 0;
    for (uint8_t i = 0; i < map.point_count; i++) {
        ck_assert((seen >> map.point[i].quantity & 1) == 0);
        seen |= UINT32_C(1) << map.point[i].quantity;
    }
}
END_TEST

/* A single-phase ABB says that it has no phases 2 and 3; the values are those of the
 * file. */
START_TEST(test_phases_that_the_meter_lacks_are_missing)
{
    static const uint16_t powers[] = {0x5b18, 0x5b1a}, currents[] = {0x5b0e, 0x5b10};
    struct meter_map map = map_file_read("abb-b23");
    struct image *image = image_of(&meters[2]);
    for (int i = 0; i < 2; i++) {
        image_put_32(image, powers[i], 0x7fffffff);
        image_put_32(image, currents[i], 0xffffffff);
    }
    struct meter_sample sample = image_sample(image, &map);
    ck_assert(sample.has >> METER_POWER & 1);
    ck_assert(sample.has >> METER_POWER_L1 & 1);
    ck_assert((sample.has >> METER_POWER_L2 & 3) == 0);
    ck_assert((sample.has >> METER_CURRENT_L2 & 3) == 0);
    free(image);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("maps");
    TCase *cases = tcase_create("maps");
    tcase_add_loop_test(cases, test_image_of_the_meter_gives_the_expected_values, 0, METERS);
    tcase_add_loop_test(cases, test_map_names_title_source_and_line, 0, METERS);
    tcase_add_loop_test(cases, test_map_is_read_in_few_requests, 0, METERS);
    tcase_add_loop_test(cases, test_no_quantity_stands_twice, 0, METERS);
    tcase_add_test(cases, test_phases_that_the_meter_lacks_are_missing);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
