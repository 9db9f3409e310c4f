/* The shipped maps against register images of each meter, and each meter recognised
 * by its own map.
 *
 * images/maps.image holds a device's registers and the values that they mean, written
 * by images/construct.py: constructed from the documented format, not recorded from a
 * device. They prove that file and decoding agree with the document, not that the
 * document agrees with the meter. */
#include <check.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "image.h"
#include "map_file.h"
#include "meter/recognise.h"

enum { METERS = 22, CASES_MAX = 4, LINE_BYTES = 256 };

struct image_case {
    char name[32];
    struct image *table[2]; /* by enum meter_table */
    struct meter_sample expected;
    uint32_t absent; /* quantities that must be missing, bit by bit */
};

struct metered {
    char file[32];
    uint32_t baud;
    char parity;
    uint8_t unit;
    uint8_t blocks; /* requests for everything */
    uint8_t case_count;
    struct image_case cases[CASES_MAX];
};

static struct metered meters[METERS];
static int meter_count;

/* ---- the images ------------------------------------------------------------------ */

/* What lies between the documented registers must not matter. */
static struct image *image_of_noise(void)
{
    struct image *image = image_new();
    for (uint32_t at = 0; at < 65536; at++)
        image_put(image, (uint16_t)at, 0xabcd);
    return image;
}

static void begin_meter(const char *line)
{
    unsigned baud, unit, blocks;
    ck_assert_int_lt(meter_count, METERS);
    struct metered *meter = &meters[meter_count++];
    ck_assert_int_eq(
        sscanf(line, "meter %31s %u %c %u %u", meter->file, &baud, &meter->parity, &unit, &blocks),
        5);
    meter->baud = baud;
    meter->unit = (uint8_t)unit;
    meter->blocks = (uint8_t)blocks;
}

static void begin_case(const char *line)
{
    struct metered *meter = &meters[meter_count - 1];
    ck_assert_uint_lt(meter->case_count, CASES_MAX);
    struct image_case *at = &meter->cases[meter->case_count++];
    ck_assert_int_eq(sscanf(line, "case %31s", at->name), 1);
    at->table[METER_HOLDING] = image_of_noise();
    at->table[METER_INPUT] = image_of_noise();
}

static struct image_case *last_case(void)
{
    struct metered *meter = &meters[meter_count - 1];
    return &meter->cases[meter->case_count - 1];
}

static void take_words(const char *line)
{
    enum meter_table table = line[0] == 'i' ? METER_INPUT : METER_HOLDING;
    char *at = strchr(line, ' ');
    unsigned long address = strtoul(at, &at, 16);
    for (; *at == ' '; address++)
        image_put(last_case()->table[table], (uint16_t)address, (uint16_t)strtoul(at, &at, 16));
    ck_assert_msg(*at == '\0', "%s", line);
}

static void take_value(const char *line)
{
    struct image_case *into = last_case();
    char word[32], value[32];
    ck_assert_msg(sscanf(line, "%31s is %31s", word, value) == 2, "%s", line);
    int q = 0;
    while (q < METER_QUANTITIES && strcmp(meter_quantity_word((enum meter_quantity)q), word) != 0)
        q++;
    ck_assert_msg(q < METER_QUANTITIES, "%s", line);
    if (strcmp(value, "absent") == 0) {
        into->absent |= UINT32_C(1) << q;
        return;
    }
    into->expected.has |= UINT32_C(1) << q;
    into->expected.value[q] = strtoll(value, NULL, 10);
}

static void read_images(void)
{
    char line[LINE_BYTES];
    FILE *file = fopen(IMAGES, "r");
    ck_assert_ptr_nonnull(file);
    while (fgets(line, sizeof line, file)) {
        line[strcspn(line, "\n")] = '\0';
        if (strncmp(line, "meter ", 6) == 0)
            begin_meter(line);
        else if (strncmp(line, "case ", 5) == 0)
            begin_case(line);
        else if (strstr(line, " is "))
            take_value(line);
        else if (line[0] != '#')
            take_words(line);
    }
    fclose(file);
    ck_assert_int_eq(meter_count, METERS);
}

static void free_images(void)
{
    for (int i = 0; i < meter_count; i++)
        for (int k = 0; k < meters[i].case_count; k++) {
            free(meters[i].cases[k].table[METER_HOLDING]);
            free(meters[i].cases[k].table[METER_INPUT]);
        }
}

/* ---- each map ----------------------------------------------------------------------- */

static struct meter_sample sample_of(const struct image_case *from, const struct meter_map *map)
{
    struct meter_sample sample = {.has = 0};
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert_msg(meter_plan_make(map, &plan, &trouble), "%s", trouble.text);
    for (uint8_t i = 0; i < plan.count; i++) {
        const struct meter_block *block = &plan.block[i];
        meter_decode(map, block,
                     image_read(from->table[block->table], block->address, block->count), &sample);
    }
    return sample;
}

START_TEST(test_image_of_the_meter_gives_the_expected_values)
{
    const struct metered *meter = &meters[_i];
    struct meter_map map = map_file_read(meter->file);
    ck_assert_uint_ge(meter->case_count, 1);
    for (int k = 0; k < meter->case_count; k++) {
        const struct image_case *from = &meter->cases[k];
        struct meter_sample sample = sample_of(from, &map);
        ck_assert_int_eq(__builtin_popcount(from->expected.has | from->absent), map.point_count);
        for (int q = 0; q < METER_QUANTITIES; q++) {
            const char *word = meter_quantity_word((enum meter_quantity)q);
            ck_assert_msg((sample.has >> q & 1) == (from->expected.has >> q & 1),
                          "%s, %s: %s is there or not", meter->file, from->name, word);
            ck_assert_msg(sample.value[q] == from->expected.value[q], "%s, %s: %s is %lld",
                          meter->file, from->name, word, (long long)sample.value[q]);
        }
    }
}
END_TEST

START_TEST(test_map_names_title_source_and_line)
{
    struct meter_map map = map_file_read(meters[_i].file);
    ck_assert_str_ne(map.title, "");
    ck_assert_str_ne(map.source, "");
    ck_assert_uint_ne(map.verified, METER_VERIFIED_UNSAID);
    /* what was not read in a source says what to look at */
    ck_assert(map.verified == METER_VERIFIED_READ || map.unsure[0] != '\0');
    if (strstr(map.source, "from memory"))
        ck_assert_str_ne(map.unsure, "");
    ck_assert_uint_eq(map.baud, meters[_i].baud);
    ck_assert_uint_eq(map.unit, meters[_i].unit);
    ck_assert_int_eq(map.parity, meters[_i].parity == 'E' ? 'e' : 'n');
}
END_TEST

START_TEST(test_map_is_read_in_few_requests)
{
    struct meter_map map = map_file_read(meters[_i].file);
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert_msg(meter_plan_make(&map, &plan, &trouble), "%s", trouble.text);
    ck_assert_msg(plan.count == meters[_i].blocks, "%s: %u requests", meters[_i].file, plan.count);
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

START_TEST(test_every_shipped_map_has_an_image)
{
    DIR *folder = opendir(MAPS_DIR);
    const struct dirent *entry;
    int maps = 0;
    ck_assert_ptr_nonnull(folder);
    while ((entry = readdir(folder))) {
        size_t length = strlen(entry->d_name);
        bool found = false;
        if (length < 6 || strcmp(entry->d_name + length - 5, ".yaml") != 0)
            continue;
        for (int i = 0; i < meter_count && !found; i++)
            found = strlen(meters[i].file) == length - 5 &&
                    strncmp(meters[i].file, entry->d_name, length - 5) == 0;
        ck_assert_msg(found, "%s has no image", entry->d_name);
        maps++;
    }
    closedir(folder);
    ck_assert_int_eq(maps, METERS);
}
END_TEST

/* ---- recognising ------------------------------------------------------------------------ */

static struct recognition recognise(const struct meter_map *map, const struct image_case *device)
{
    struct meter_block reads[RECOGNISE_READS_MAX];
    const uint16_t *answers[RECOGNISE_READS_MAX];
    struct recognition recognition;
    uint8_t count = meter_fingerprint_reads(map, reads);
    for (uint8_t i = 0; i < count; i++)
        answers[i] = image_read(device->table[reads[i].table], reads[i].address, reads[i].count);
    meter_recognise(map, reads, answers, count, &recognition);
    return recognition;
}

START_TEST(test_a_meter_is_recognised_by_its_own_map_and_by_no_other_as_surely)
{
    const struct metered *meter = &meters[_i];
    const struct image_case *device = &meter->cases[0];
    struct meter_map own = map_file_read(meter->file);
    struct recognition as_own = recognise(&own, device);
    ck_assert_msg(as_own.verdict == (own.mark_count ? RECOGNISED_SURE : RECOGNISED_LIKELY),
                  "%s: %s", meter->file, as_own.why);
    for (int i = 0; i < meter_count; i++) {
        struct meter_map other = map_file_read(meters[i].file);
        struct recognition as_other = recognise(&other, device);
        /* one inverter has three maps: itself, its meter, its battery; and two versions of a
         * meter differ in their totals alone */
        bool relative = strncmp(meter->file, meters[i].file, strlen("huawei-sun2000")) == 0 ||
                        strncmp(meter->file, meters[i].file, strlen("chint-dtsu666")) == 0;
        if (i == _i || relative)
            continue;
        ck_assert_msg(as_other.verdict == RECOGNISED_NOT, "%s is taken for %s: %s", meter->file,
                      meters[i].file, as_other.why);
        ck_assert_str_ne(as_other.why, "");
    }
}
END_TEST

START_TEST(test_a_device_of_nothing_but_zeros_is_recognised_by_no_map)
{
    struct image_case device = {.table = {image_new(), image_new()}};
    for (uint32_t at = 0; at < 65536; at++)
        for (int table = 0; table < 2; table++)
            image_put(device.table[table], (uint16_t)at, 0);
    struct meter_map map = map_file_read(meters[_i].file);
    ck_assert_int_eq(recognise(&map, &device).verdict, RECOGNISED_NOT);
    for (uint32_t at = 0; at < 65536; at++)
        for (int table = 0; table < 2; table++)
            image_put(device.table[table], (uint16_t)at, 0xffff);
    ck_assert_int_eq(recognise(&map, &device).verdict, RECOGNISED_NOT);
    free(device.table[0]);
    free(device.table[1]);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("maps");
    TCase *cases = tcase_create("maps");
    tcase_add_unchecked_fixture(cases, read_images, free_images);
    tcase_add_loop_test(cases, test_image_of_the_meter_gives_the_expected_values, 0, METERS);
    tcase_add_loop_test(cases, test_map_names_title_source_and_line, 0, METERS);
    tcase_add_loop_test(cases, test_map_is_read_in_few_requests, 0, METERS);
    tcase_add_loop_test(cases, test_no_quantity_stands_twice, 0, METERS);
    tcase_add_test(cases, test_every_shipped_map_has_an_image);
    tcase_add_loop_test(cases, test_a_meter_is_recognised_by_its_own_map_and_by_no_other_as_surely,
                        0, METERS);
    tcase_add_loop_test(cases, test_a_device_of_nothing_but_zeros_is_recognised_by_no_map, 0,
                        METERS);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
