/* test_payload.c - what a property takes, and what not.
 *
 * Rules: the Homie convention 5 (homieiot/convention, convention.md, "Property
 * Datatypes" and "Formats"). UTF-8: RFC 3629, section 4. */
#include "mqtt/payload.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct one {
    enum mqtt_datatype datatype;
    const char *format, *payload;
    const char *value; /* NULL: refused */
};

static struct mqtt_property property(enum mqtt_datatype datatype, const char *format)
{
    struct mqtt_property made = {.node = "n", .id = "p", .datatype = datatype, .settable = true};
    snprintf(made.format, sizeof(made.format), "%s", format);
    return made;
}

static void try_one(const struct one *one, size_t length)
{
    struct mqtt_property it = property(one->datatype, one->format);
    struct trouble trouble = {.text = ""};
    char value[MQTT_VALUE_MAX] = "";
    ck_assert_msg(payload_format_ok(&it, &trouble), "%s", trouble.text);
    bool accepted = payload_accept(&it, one->payload, length, value, &trouble);
    ck_assert_msg(accepted == (one->value != NULL), "\"%s\" for \"%s\": %s", one->payload,
                  one->format, trouble.text);
    if (accepted)
        ck_assert_str_eq(value, one->value);
    else
        ck_assert_str_ne(trouble.text, "");
}

static void try_all(const struct one *ones, size_t count)
{
    for (size_t i = 0; i < count; i++)
        try_one(&ones[i], strlen(ones[i].payload));
}

#define TRY(...)                                                                                   \
    try_all((const struct one[]){__VA_ARGS__},                                                     \
            sizeof((const struct one[]){__VA_ARGS__}) / sizeof(struct one))

START_TEST(test_boolean_is_true_or_false_in_small_letters)
{
    TRY({MQTT_BOOLEAN, "", "true", "true"}, {MQTT_BOOLEAN, "", "false", "false"},
        {MQTT_BOOLEAN, "", "True", NULL}, {MQTT_BOOLEAN, "", "1", NULL},
        {MQTT_BOOLEAN, "", "on", NULL}, {MQTT_BOOLEAN, "", "true ", NULL},
        {MQTT_BOOLEAN, "", "", NULL});
}
END_TEST

START_TEST(test_word_is_one_of_the_list_and_nothing_else)
{
    TRY({MQTT_ENUM, "auto,on,off", "auto", "auto"}, {MQTT_ENUM, "auto,on,off", "off", "off"},
        {MQTT_ENUM, "auto,on,off", "of", NULL}, {MQTT_ENUM, "auto,on,off", "OFF", NULL},
        {MQTT_ENUM, "auto,on,off", "auto,on", NULL}, {MQTT_ENUM, "auto,on,off", " on", NULL},
        {MQTT_ENUM, "auto,on,off", "", NULL});
}
END_TEST

START_TEST(test_whole_number_is_within_its_bounds)
{
    TRY({MQTT_INTEGER, "0:1440", "0", "0"}, {MQTT_INTEGER, "0:1440", "1440", "1440"},
        {MQTT_INTEGER, "0:1440", "1441", NULL}, {MQTT_INTEGER, "0:1440", "-1", NULL},
        {MQTT_INTEGER, "-5:5", "-5", "-5"}, {MQTT_INTEGER, "0:1440", "60.0", NULL},
        {MQTT_INTEGER, "0:1440", "60 min", NULL}, {MQTT_INTEGER, "0:1440", "+60", NULL},
        {MQTT_INTEGER, "0:1440", " 60", NULL}, {MQTT_INTEGER, "0:1440", "PT1H", NULL},
        {MQTT_INTEGER, "0:1440", "99999999999999999999", NULL}, {MQTT_INTEGER, "0:1440", "", NULL});
}
END_TEST

START_TEST(test_text_is_utf8_without_control_characters)
{
    TRY({MQTT_STRING, "", "on until 17:00", "on until 17:00"},
        {MQTT_STRING, "",
         "60 \xc2\xb0"
         "C",
         "60 \xc2\xb0"
         "C"},
        {MQTT_STRING, "", "\xf0\x9f\x8c\x9e", "\xf0\x9f\x8c\x9e"},
        {MQTT_STRING, "", "\xc0\xaf", NULL},                                  /* overlong */
        {MQTT_STRING, "", "\xe0\x80\xaf", NULL},                              /* overlong */
        {MQTT_STRING, "", "\xed\xa0\x80", NULL},                              /* surrogate */
        {MQTT_STRING, "", "\xf4\x90\x80\x80", NULL},                          /* above U+10FFFF */
        {MQTT_STRING, "", "\xff", NULL}, {MQTT_STRING, "", "\xe2\x82", NULL}, /* cut short */
        {MQTT_STRING, "", "a\x80", NULL}, {MQTT_STRING, "", "a\nb", NULL},
        {MQTT_STRING, "", "\x7f", NULL}, {MQTT_STRING, "", "", NULL});
}
END_TEST

START_TEST(test_zero_byte_is_refused_wherever_it_stands)
{
    static const struct one inside = {MQTT_STRING, "", "on\0 2 h", NULL};
    static const struct one alone = {MQTT_STRING, "", "\0", NULL};
    static const struct one after = {MQTT_BOOLEAN, "", "true\0", NULL};
    try_one(&inside, 7);
    try_one(&alone, 1);
    try_one(&after, 5);
}
END_TEST

START_TEST(test_longest_text_passes_and_one_byte_more_does_not)
{
    char longest[MQTT_VALUE_MAX + 1];
    memset(longest, 'a', sizeof(longest));
    longest[MQTT_VALUE_MAX - 1] = '\0';
    struct one one = {MQTT_STRING, "", longest, longest};
    try_one(&one, MQTT_VALUE_MAX - 1);
    one.value = NULL;
    longest[MQTT_VALUE_MAX - 1] = 'a';
    longest[MQTT_VALUE_MAX] = '\0';
    try_one(&one, MQTT_VALUE_MAX);
}
END_TEST

START_TEST(test_formats_that_make_no_sense_are_found_when_described)
{
    static const struct {
        enum mqtt_datatype datatype;
        const char *format;
    } bad[] = {{MQTT_ENUM, ""},       {MQTT_ENUM, "a,,b"},     {MQTT_ENUM, "a,b,a"},
               {MQTT_ENUM, "a,"},     {MQTT_INTEGER, "5"},     {MQTT_INTEGER, "10:5"},
               {MQTT_INTEGER, "a:b"}, {MQTT_INTEGER, "0:9:0"}, {MQTT_INTEGER, "0:9:1:1"},
               {MQTT_FLOAT, "1:0"},   {MQTT_FLOAT, "0:1:-1"},  {MQTT_STRING, "x"}};
    struct trouble trouble;
    for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++) {
        struct mqtt_property it = property(bad[i].datatype, bad[i].format);
        it.settable = false;
        ck_assert_msg(!payload_format_ok(&it, &trouble), "\"%s\"", bad[i].format);
    }
}
END_TEST

START_TEST(test_property_whose_orders_cannot_be_checked_cannot_be_set)
{
    static const struct {
        enum mqtt_datatype datatype;
        const char *format;
    } kinds[] = {{MQTT_INTEGER, ""},      {MQTT_INTEGER, "0:"}, {MQTT_INTEGER, ":9"},
                 {MQTT_INTEGER, "0:9:3"}, {MQTT_FLOAT, ""},     {MQTT_DATETIME, ""}};
    for (size_t i = 0; i < sizeof(kinds) / sizeof(kinds[0]); i++) {
        struct mqtt_property it = property(kinds[i].datatype, kinds[i].format);
        struct trouble trouble;
        ck_assert(!payload_format_ok(&it, &trouble));
        it.settable = false;
        ck_assert(payload_format_ok(&it, &trouble));
    }
}
END_TEST

START_TEST(test_refusal_quotes_what_came_and_says_what_was_expected)
{
    struct mqtt_property it = property(MQTT_ENUM, "auto,on,off");
    struct trouble trouble;
    char value[MQTT_VALUE_MAX];
    ck_assert(!payload_accept(&it, "maybe", 5, value, &trouble));
    ck_assert_str_eq(trouble.text, "\"maybe\": one of auto,on,off expected");
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("payload");
    TCase *cases = tcase_create("payload");
    tcase_add_test(cases, test_boolean_is_true_or_false_in_small_letters);
    tcase_add_test(cases, test_word_is_one_of_the_list_and_nothing_else);
    tcase_add_test(cases, test_whole_number_is_within_its_bounds);
    tcase_add_test(cases, test_text_is_utf8_without_control_characters);
    tcase_add_test(cases, test_zero_byte_is_refused_wherever_it_stands);
    tcase_add_test(cases, test_longest_text_passes_and_one_byte_more_does_not);
    tcase_add_test(cases, test_formats_that_make_no_sense_are_found_when_described);
    tcase_add_test(cases, test_property_whose_orders_cannot_be_checked_cannot_be_set);
    tcase_add_test(cases, test_refusal_quotes_what_came_and_says_what_was_expected);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
