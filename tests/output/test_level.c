/* test_level.c - watts to counts and words, and back. */
#include "output/level.h"

#include "output/backend.h"
#include "own.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

static struct output_settings amps(enum output_kind kind, int32_t scale_ma, int32_t watts_per_amp)
{
    return (struct output_settings){
        .kind = (uint8_t)kind, .scale_ma = scale_ma, .watts_per_amp = watts_per_amp};
}

/* IEC 61851-1: a charger takes whole or tenth amps, at least 6 A; 230 V one
 * phase: 6 A are 1380 W. Bought power is what rounding up would give. */
START_TEST(test_set_point_is_never_more_than_allowed)
{
    const struct output_settings whole = amps(OUTPUT_REGISTER, 1000, 230);
    ck_assert_int_eq(level_amount(&whole, 1380), 6);
    ck_assert_int_eq(level_amount(&whole, 1609), 6);
    ck_assert_int_eq(level_amount(&whole, 1610), 7);
    ck_assert_int_eq(level_amount(&whole, 1379), 5);
    ck_assert_int_eq(level_amount(&whole, 0), 0);
    ck_assert_int_eq(level_amount(&whole, -50), 0);
    const struct output_settings watts = {.kind = OUTPUT_REGISTER, .scale_w = 100};
    ck_assert_int_eq(level_amount(&watts, 1999), 19);
    ck_assert_int_eq(level_amount_w(&watts, 19), 1900);
}
END_TEST

START_TEST(test_no_set_point_at_any_level_passes_what_is_allowed)
{
    static const struct output_settings kinds[] = {
        {.kind = OUTPUT_REGISTER, .scale_w = 1},
        {.kind = OUTPUT_REGISTER, .scale_w = 37},
        {.kind = OUTPUT_REGISTER, .scale_ma = 100, .watts_per_amp = 230},
        {.kind = OUTPUT_REGISTER, .scale_ma = 1000, .watts_per_amp = 690},
        {.kind = OUTPUT_TOPIC, .scale_ma = 100, .watts_per_amp = 241},
        {.kind = OUTPUT_TOPIC, .scale_w = 50},
    };
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        for (int32_t level_w = 0; level_w <= 22000; level_w += 7) {
            int32_t told_w = level_amount_w(&kinds[i], level_amount(&kinds[i], level_w));
            ck_assert_int_le(told_w, level_w);
            ck_assert_int_ge(told_w, level_w - 692); /* and not a whole step less */
        }
    }
}
END_TEST

START_TEST(test_register_holds_no_more_than_sixteen_bits)
{
    const struct output_settings watts = {.kind = OUTPUT_REGISTER, .scale_w = 1};
    ck_assert_int_eq(level_amount(&watts, 70000), 65535);
}
END_TEST

START_TEST(test_normally_closed_contact_turns_on_and_off_round)
{
    const struct output_settings coil = {.kind = OUTPUT_COIL, .normally_closed = true};
    ck_assert_int_eq(level_switch(&coil, true), 0);
    ck_assert_int_eq(level_switch(&coil, false), 1);
    ck_assert(level_is_on(&coil, 0));
    ck_assert(!level_is_on(&coil, 1));
    struct output_settings value = {.kind = OUTPUT_REGISTER, .normally_closed = true};
    own_number(&value, "on_value", 0x100);
    own_number(&value, "off_value", 0x200);
    ck_assert_int_eq(level_switch(&value, true), 0x200);
    ck_assert(!level_is_on(&value, 0x100));
}
END_TEST

START_TEST(test_register_that_holds_neither_value_is_not_off)
{
    struct output_settings value = {.kind = OUTPUT_REGISTER};
    own_number(&value, "on_value", 1);
    own_number(&value, "off_value", 2);
    ck_assert(level_is_on(&value, 1));
    ck_assert(!level_is_on(&value, 2));
    ck_assert(level_is_on(&value, 7));
}
END_TEST

static struct output_settings on_and_off(void)
{
    struct output_settings words = {.kind = OUTPUT_TOPIC};
    own_text(&words, "on_payload", "ON");
    own_text(&words, "off_payload", "OFF");
    return words;
}

static bool keep(void *context, const char *topic, const char *payload)
{
    (void)topic;
    strcpy(context, payload);
    return true;
}

static bool parse(const struct output_settings *settings, const char *payload, size_t length,
                  int32_t *value)
{
    return backend_of(settings)->parse(settings, payload, length, value);
}

static void assert_says(const struct output_settings *settings, int32_t value, const char *words)
{
    char buffer[48];
    struct trouble trouble;
    const struct output_doors doors = {.context = buffer, .publish = keep};
    const struct backend_call call = {.settings = settings, .doors = &doors};
    ck_assert_int_eq(backend_of(settings)->set(&call, value, &trouble), BACKEND_DONE);
    ck_assert_str_eq(buffer, words);
    int32_t back = -1;
    ck_assert(parse(settings, buffer, strlen(buffer), &back));
    ck_assert_int_eq(back, value);
}

START_TEST(test_payloads_are_words_watts_or_amps)
{
    const struct output_settings words = on_and_off();
    assert_says(&words, 1, "ON");
    assert_says(&words, 0, "OFF");
    const struct output_settings watts = {.kind = OUTPUT_TOPIC, .scale_w = 1};
    assert_says(&watts, 2390, "2390");
    const struct output_settings current = amps(OUTPUT_TOPIC, 100, 230);
    assert_says(&current, 9600, "9.600");
    assert_says(&current, 16000, "16");
    assert_says(&current, 0, "0");
}
END_TEST

/* What comes over a topic may be anything: no terminator, any length. */
START_TEST(test_payload_that_is_neither_word_nor_number_is_no_report)
{
    const struct output_settings words = on_and_off();
    static const char *const no_word[] = {"", "on", "ON ", "O", "OFFF", "ONOFF"};
    int32_t value;
    for (size_t i = 0; i < sizeof no_word / sizeof no_word[0]; i++) {
        ck_assert_msg(!parse(&words, no_word[i], strlen(no_word[i]), &value), "%s", no_word[i]);
    }
    ck_assert(parse(&words, "ONE", 2, &value)); /* two bytes long: ON */
    const struct output_settings watts = {.kind = OUTPUT_TOPIC, .scale_w = 1};
    static const char *const no_number[] = {"",    "-5",   "1e9",         "nan",
                                            "inf", "0x10", "1.2.3",       ".",
                                            "5 ",  "5W",   "99999999999", "1111111111111111111111"};
    for (size_t i = 0; i < sizeof no_number / sizeof no_number[0]; i++) {
        ck_assert_msg(!parse(&watts, no_number[i], strlen(no_number[i]), &value), "%s",
                      no_number[i]);
    }
    ck_assert(!parse(&watts, "5\0006", 3, &value));
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("level");
    tcase_add_test(cases, test_set_point_is_never_more_than_allowed);
    tcase_add_test(cases, test_no_set_point_at_any_level_passes_what_is_allowed);
    tcase_add_test(cases, test_register_holds_no_more_than_sixteen_bits);
    tcase_add_test(cases, test_normally_closed_contact_turns_on_and_off_round);
    tcase_add_test(cases, test_register_that_holds_neither_value_is_not_off);
    tcase_add_test(cases, test_payloads_are_words_watts_or_amps);
    tcase_add_test(cases, test_payload_that_is_neither_word_nor_number_is_no_report);
    Suite *suite = suite_create("level");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
