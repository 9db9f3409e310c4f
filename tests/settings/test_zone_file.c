/* test_zone_file.c - zone files that nobody's system should have: crafted, cut, mutated.
 *
 * The layout is that of RFC 8536, sections 3.1 to 3.3. */
#include <stdio.h>
#include <string.h>

#include "../core/suite.h"
#include "settings/zone_file.h"

enum { HEADER = 44, FILE_MAX = 64 * 1024, NOW_S = 1768435200 /* 2026-01-15T00:00:00Z */ };

static void put_big(unsigned char *at, int size, uint64_t value)
{
    for (int k = size - 1; k >= 0; k--, value >>= 8)
        at[k] = (unsigned char)value;
}

static unsigned char *put_header(unsigned char *at, uint32_t times, uint32_t types)
{
    memset(at, 0, HEADER);
    memcpy(at, "TZif2", 5);
    put_big(at + 32, 4, times);
    put_big(at + 36, 4, types);
    return at + HEADER;
}

/* A zone ten hours ahead for ever, whose list has one change, to `offset_s`, at `at_s`. */
static size_t make_file(unsigned char *bytes, int64_t at_s, int32_t offset_s)
{
    static const char footer[] = "\nAEST-10\n";
    unsigned char *at = put_header(put_header(bytes, 0, 0), 1, 1);
    put_big(at, 8, (uint64_t)at_s);
    at[8] = 0;
    put_big(at + 9, 4, (uint32_t)offset_s);
    at[13] = at[14] = 0;
    memcpy(at + 15, footer, strlen(footer));
    return (size_t)(at - bytes) + 15 + strlen(footer);
}

static bool is_odd(int64_t at_s, int32_t offset_s)
{
    unsigned char bytes[256];
    struct zone zone;
    struct trouble trouble;
    bool odd;
    size_t size = make_file(bytes, at_s, offset_s);
    ck_assert(zone_of_bytes("Made/Up", bytes, size, NOW_S, &zone, &odd, &trouble));
    ck_assert_int_eq(zone.standard_offset_s, 36000);
    return odd;
}

START_TEST(test_a_coming_change_that_the_rule_does_not_give_is_told)
{
    ck_assert(is_odd(NOW_S + 1000, 39600));
    ck_assert(!is_odd(NOW_S + 1000, 36000));
    ck_assert(!is_odd(NOW_S - 1000, 39600)); /* over */
}
END_TEST

/* RFC 8536, section 3.2: a moment is any signed number of 64 bits. */
START_TEST(test_changes_beyond_all_calendars_are_not_reckoned_with)
{
    static const int64_t moments[] = {INT64_MAX, INT64_MAX / 1000,      INT64_MAX / 1000 + 1,
                                      INT64_MIN, INT64_C(253402300800), INT64_C(1) << 59};
    for (size_t k = 0; k < COUNT_OF(moments); k++) {
        ck_assert(!is_odd(moments[k], 39600));
        ck_assert(!is_odd(moments[k], INT32_MIN));
    }
    ck_assert(is_odd(NOW_S + 1000, INT32_MIN));
    ck_assert(is_odd(NOW_S + 1000, INT32_MAX));
}
END_TEST

/* What is said of some bytes is either a zone that a clock can have, or what is wrong. */
static void assert_bounded(unsigned char *bytes, size_t size)
{
    struct zone zone;
    struct trouble trouble = {.text = ""};
    bool odd = true;
    if (!zone_of_bytes("Made/Up", bytes, size, NOW_S, &zone, &odd, &trouble)) {
        ck_assert(trouble.text[0] != '\0');
        ck_assert(!odd);
        return;
    }
    ck_assert_int_ge(zone.standard_offset_s, -25 * 3600);
    ck_assert_int_le(zone.standard_offset_s, 25 * 3600);
}

START_TEST(test_counts_that_the_file_has_no_room_for_are_not_believed)
{
    unsigned char bytes[256];
    for (int header = 0; header < 2; header++)
        for (int field = 20; field < HEADER; field += 4)
            for (int k = 0; k < 33; k++) {
                size_t size = make_file(bytes, NOW_S + 1000, 36000);
                put_big(bytes + header * HEADER + field, 4, UINT64_C(0xffffffff) >> k);
                assert_bounded(bytes, size);
            }
}
END_TEST

static size_t read_zone(const char *name, unsigned char *bytes)
{
    char path[128];
    snprintf(path, sizeof(path), "/usr/share/zoneinfo/%s", name);
    FILE *file = fopen(path, "re");
    ck_assert_ptr_nonnull(file);
    size_t size = fread(bytes, 1, FILE_MAX, file);
    fclose(file);
    return size;
}

/* A handful of bytes is changed, mostly in headers and footer; now and then it is cut. */
static size_t mutate(unsigned char *bytes, size_t size, uint64_t *seed)
{
    for (int64_t left = seeded_between(seed, 1, 8); left > 0; left--) {
        int64_t at = seeded_between(seed, 0, (int64_t)size - 1);
        if (seeded_between(seed, 0, 3) == 0)
            at = (int64_t)size - seeded_between(seed, 1, 40);
        bytes[at] = (unsigned char)seeded_between(seed, 0, 255);
    }
    return seeded_between(seed, 0, 9) ? size : (size_t)seeded_between(seed, 0, (int64_t)size);
}

/* SLUICE_ZONE_ROUNDS asks for more of them. */
START_TEST(test_mutated_zone_files_give_a_zone_or_say_what_is_wrong)
{
    static const char *const names[] = {"Australia/Sydney", "Europe/Dublin",    "Africa/Casablanca",
                                        "Asia/Gaza",        "America/New_York", "UTC"};
    static unsigned char whole[FILE_MAX], bytes[FILE_MAX];
    const char *asked = getenv("SLUICE_ZONE_ROUNDS");
    uint64_t seed = 8536;
    for (size_t k = 0; k < COUNT_OF(names); k++) {
        size_t size = read_zone(names[k], whole);
        for (long round = asked ? atol(asked) : 300; round > 0; round--) {
            memcpy(bytes, whole, size);
            assert_bounded(bytes, mutate(bytes, size, &seed));
        }
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_coming_change_that_the_rule_does_not_give_is_told,
        test_changes_beyond_all_calendars_are_not_reckoned_with,
        test_counts_that_the_file_has_no_room_for_are_not_believed,
        test_mutated_zone_files_give_a_zone_or_say_what_is_wrong,
    };
    return suite_run("zone_file", tests, COUNT_OF(tests));
}
