/* test_inputs.c - the inputs' section, and supply_hours: what they become, and what is wrong
 * with them. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

#define MQTT "mqtt:\n"

static const char whole[] =
    "inputs:\n"
    "  boost: {role: button, load: heater, bus: board, unit: 10, address: 3}\n"
    "  behind: {role: contact, load: heater, bus: board, unit: 10, address: 4, table: coil,\n"
    "           every: 1 s, debounce: 2 s, active_low: yes}\n"
    "  tap: {role: button, load: pump, for: 30 min, kind: line, line: 5, pull: up}\n"
    "  pipes: {role: inhibit, kind: line, chip: gpiochip1, line: 5}\n" MQTT;

static char *with(const char *find, const char *write)
{
    char *all = edited(small_house, MQTT, whole);
    char *text = edited(all, find, write);
    free(all);
    return text;
}

/* The description without its line breaks. */
static char *told(const struct settings *settings)
{
    char *text = described(settings), *to = text;
    for (const char *from = text; *from; from++) {
        bool wrapped = *from == '\n';
        *to++ = wrapped ? ' ' : *from;
        from += wrapped ? strspn(from + 1, " ") : 0;
    }
    *to = '\0';
    return text;
}

START_TEST(test_inputs_become_what_they_say)
{
    char *text = with(MQTT, MQTT);
    struct settings *settings = load_good(text);
    const struct input_settings *input = settings->inputs;
    ck_assert_uint_eq(settings->input_count, 4);
    ck_assert_str_eq(input[0].name, "boost");
    ck_assert_int_eq(input[0].role, INPUT_BUTTON);
    ck_assert_int_eq(input[0].run_ms, MS_PER_HOUR);
    ck_assert_int_eq(input[0].load_index, settings_find_load(settings, "heater"));
    ck_assert_int_eq(input[0].kind, INPUT_MODBUS);
    ck_assert_str_eq(settings->buses[input[0].bus_index].name, "board");
    ck_assert_int_eq(input[0].address, 3);
    ck_assert_int_eq(input[0].table, INPUT_DISCRETE);
    ck_assert_int_eq(input[0].every_ms, 250);
    ck_assert_int_eq(input[0].debounce_ms, 100);
    ck_assert_int_eq(input[1].table, INPUT_COIL);
    ck_assert_int_eq(input[1].every_ms, 1000);
    ck_assert_int_eq(input[1].debounce_ms, 2000);
    ck_assert(input[1].active_low);
    ck_assert_int_eq(input[2].kind, INPUT_LINE);
    ck_assert_int_eq(input[2].run_ms, 30 * MS_PER_MIN);
    ck_assert_int_eq(input[2].line, 5);
    ck_assert_int_eq(input[2].pull, INPUT_PULL_UP);
    ck_assert_str_eq(input[2].chip, "gpiochip0");
    ck_assert_int_eq(input[3].load_index, INPUT_ALL_LOADS);
    char *said = told(settings);
    ck_assert_ptr_nonnull(strstr(said, "a press runs heater for 1 h"));
    free(said);
    settings_free(settings);
    free(text);
}
END_TEST

START_TEST(test_mistakes_of_inputs_are_said_at_their_place)
{
    static const struct mistake rows[] = {
        {"role: button, load: heater,", "role: buton, load: heater,", "buton", "button"},
        {"load: heater, bus", "load: heatr, bus", "heatr", "there is no load \"heatr\""},
        {"load: heater, bus", "bus", "boost", "input boost needs load"},
        {"bus: board, unit: 10, address: 3", "bus: bord, unit: 10, address: 3", "bord, unit",
         "there is no bus \"bord\""},
        {"bus: board, unit: 10, address: 3", "unit: 10, address: 3", "boost",
         "input boost needs bus"},
        {"unit: 10, address: 3", "unit: 10", "boost", "input boost needs address"},
        {"unit: 10, address: 3", "unit: 10, address: many", "many", "address: "},
        {"unit: 10, address: 3", "unit: 10, address: [3, 4]", "[3, 4]", "a single value"},
        {"unit: 10, address: 3", "unit: 10, address: 70000", "70000", "address: "},
        {"unit: 10, address: 3", "unit: 300, address: 3", "300", "unit: "},
        {"address: 3}", "address: 3, line: 5}", "line: 5}", "line goes only with kind: line"},
        {"role: contact, load: heater", "role: contact, for: 1 h, load: heater", "for: 1 h",
         "for goes only with role: button"},
        {"line: 5, pull: up", "line: 5, pull: sideways", "sideways", "pull: "},
        {"kind: line, line: 5, pull: up", "kind: line, pull: up", "tap", "input tap needs line"},
        {"chip: gpiochip1, line: 5", "line: 5", "pipes", "inputs tap and pipes have the same line"},
        {"role: button, load: pump, for: 30 min,", "role: contact, load: heater,", "tap",
         "inputs behind and tap are both the contact of load heater"},
        {"address: 4, table: coil", "address: 0, table: coil", "behind",
         "input behind reads the coil that switches heater"},
        {"every: 1 s", "every: 1 h", "1 h", "every: "},
        {"active_low: yes", "active_low: maybe", "maybe", "active_low: is yes or no"},
        {"  boost: {role: button, load: heater, bus: board, unit: 10, address: 3}", "  boost: 3",
         "3\n", "a group of settings"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = with(rows[k].find, rows[k].write);
        expect_only_words(text, "inputs:", rows[k].at, rows[k].says);
        free(text);
    }
}
END_TEST

START_TEST(test_a_lamp_is_an_output_that_is_no_loads)
{
    static const struct mistake rows[] = {
        {MQTT, "lamp: {load: heater, output: {bus: board, unit: 10, address: 7}}\n" MQTT, NULL,
         NULL},
        {MQTT, "lamp: {output: {kind: line, line: 7}}\n" MQTT, NULL, NULL},
    };
    expect_accepted(rows, COUNT_OF(rows));
    static const struct mistake wrong[] = {
        {MQTT, "lamp: {load: heatr, output: {bus: board, unit: 10, address: 7}}\n" MQTT, "heatr,",
         "load: there is no load \"heatr\"; do you mean \"heater\"?"},
        {MQTT, "lamp: {load: heater}\n" MQTT, "lamp:", "lamp needs output: what lights it"},
        {MQTT, "lamp: {output: {bus: board, unit: 10, address: 1}}\n" MQTT,
         "output: {bus: board, unit: 10, address: 1}}",
         "the lamp and load pump have the same output"},
        {MQTT, "lamp: {output: {kind: topic, topic: lamp/set}}\n" MQTT, "output: {kind: topic",
         "a lamp can't go over the broker: each blink is a message"},
        {MQTT, "lamp: {output: {bus: board, unit: 10, address: [6, 7]}}\n" MQTT,
         "output: {bus: board, unit: 10, address: [6", "a lamp has one address"},
    };
    expect_mistakes(wrong, COUNT_OF(wrong));
}
END_TEST

START_TEST(test_an_input_that_is_gone_may_be_a_cut)
{
    char *before_text = with(MQTT, MQTT), *after_text = edited(small_house, MQTT, MQTT);
    struct settings *before = load_good(before_text), *after = load_good(after_text);
    char why[TROUBLE_TEXT_MAX];
    struct text text = text_in(why, sizeof(why));
    ck_assert(settings_look_cut(before, after, &text));
    ck_assert_ptr_nonnull(strstr(why, "input boost and 3 more are gone"));
    settings_free(before);
    settings_free(after);
    free(before_text);
    free(after_text);
}
END_TEST

START_TEST(test_a_load_runs_within_the_hours_of_its_supply)
{
    char *text = edited(small_house, "thermostat: yes",
                        "thermostat: yes\n    supply_hours: \"22:00-06:00\"");
    struct settings *settings = load_good(text);
    int heater = settings_find_load(settings, "heater");
    const struct load_settings *load = &settings->loads[heater];
    ck_assert_uint_eq(load->supply_hours.count, 1);
    for (int32_t hour = 0; hour < 24; hour++) {
        struct local local = {.day = 20000, .second = hour * 3600};
        ck_assert(!hours_open(&load->hours, &local) || hour < 6 || hour >= 22);
    }
    ck_assert_uint_gt(load->hours.count, 0);
    settings_free(settings);
    free(text);
}
END_TEST

START_TEST(test_hours_that_never_meet_those_of_the_supply_are_refused)
{
    char *text = edited(small_house, "thermostat: yes",
                        "thermostat: yes\n    hours: 10:00-12:00\n"
                        "    supply_hours: \"03:00-03:30\"");
    expect_only(text, "\"03:00-03:30\"",
                "supply_hours: never hold within its hours: it could never run");
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_inputs_become_what_they_say,
        test_mistakes_of_inputs_are_said_at_their_place,
        test_a_lamp_is_an_output_that_is_no_loads,
        test_an_input_that_is_gone_may_be_a_cut,
        test_a_load_runs_within_the_hours_of_its_supply,
        test_hours_that_never_meet_those_of_the_supply_are_refused,
    };
    return suite_run("inputs", tests, COUNT_OF(tests));
}
