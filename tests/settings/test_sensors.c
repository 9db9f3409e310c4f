/* test_sensors.c - the sensors' section: what it becomes, and what is wrong with it. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

#define MQTT "mqtt:\n"
#define WIRE "  wire: {load: heater, file: /sys/bus/w1/devices/28-1/temperature, every: 5 s}\n"
#define NTC                                                                                        \
    "  ntc: {kind: ntc, load: heater, file: /sys/in_voltage0_raw, r25: 5 kohm, beta: 3977,\n"      \
    "        divider: 4700 ohm, supply: 5 V, to: supply}\n"
#define TOPIC "  topic: {kind: topic, load: heater, topic: cellar/tank, max_age: 5 min}\n"

static char *with_sensors(const char *sensor)
{
    char all[1024];
    snprintf(all, sizeof all, "sensors:\n%s" MQTT, sensor);
    return edited(small_house, MQTT, all);
}

START_TEST(test_each_kind_becomes_what_it_says)
{
    static const char *const sensors[] = {WIRE, NTC, TOPIC};
    for (uint8_t kind = 0; kind < COUNT_OF(sensors); kind++) {
        char *text = with_sensors(sensors[kind]);
        struct settings *settings = load_good(text);
        const struct sensor_settings *sensor = settings->sensors;
        ck_assert_uint_eq(settings->sensor_count, 1);
        ck_assert_uint_eq(sensor->kind, kind);
        ck_assert_int_eq(sensor->load_index, settings_find_load(settings, "heater"));
        ck_assert(settings_read_tank(settings, sensor->load_index));
        ck_assert(!settings_read_tank(settings, (uint16_t)(1 - sensor->load_index)));
        if (kind == SENSOR_ONE_WIRE) {
            ck_assert_str_eq(sensor->file, "/sys/bus/w1/devices/28-1/temperature");
            ck_assert_int_eq(sensor->every_ms, 5000);
        } else if (kind == SENSOR_NTC) {
            ck_assert_int_eq(sensor->r25_ohm, 5000);
            ck_assert_int_eq(sensor->beta_k, 3977);
            ck_assert_int_eq(sensor->divider_ohm, 4700);
            ck_assert_int_eq(sensor->supply_mv, 5000);
            ck_assert_int_eq(sensor->side, SENSOR_TO_SUPPLY);
        } else {
            ck_assert_str_eq(sensor->topic, "cellar/tank");
            ck_assert_int_eq(sensor->max_age_ms, 5 * MS_PER_MIN);
        }
        settings_free(settings);
        free(text);
    }
}
END_TEST

START_TEST(test_mistakes_of_sensors_are_said_at_their_place)
{
    static const struct mistake rows[] = {
        {"", "  wire: {load: heater}\n", "wire", "sensor wire needs file"},
        {"", "  ntc: {kind: ntc, load: heater}\n", "ntc", "sensor ntc needs file"},
        {"", "  here: {kind: topic, load: heater}\n", "here", "sensor here needs topic"},
        {"", "  wire: {load: heatr, file: /sys/t}\n", "heatr", "there is no load \"heatr\""},
        {"", "  wire: {load: heater, file: t}\n", "t}", "expected a whole path"},
        {"", "  ntc: {kind: ntc, load: heater, file: /sys/in_voltage0_input}\n", "/sys",
         "in_voltageN_raw"},
        {"", "  ntc: {kind: ntc, load: heater, file: /sys/in_voltage0_raw, r25: 10 kW}\n", "10 kW",
         "r25: "},
        {"", "  here: {kind: topic, load: heater, topic: cellar/#}\n", "cellar",
         "topic: one topic, without + or #"},
        {"", "  wire: {load: heater, file: /sys/t, topic: a/b}\n", "topic: a",
         "topic goes only with kind: topic"},
        {"", "  here: {kind: topic, load: heater, topic: a, file: /sys/t}\n", "file: /sys",
         "file goes only with kind: one_wire or ntc"},
        {"", WIRE TOPIC,
         "topic:", "sensor topic reads the tank of heater, which wire does already"},
        {"", "  a: {load: heater, file: /sys/t}\n  b: {load: pump, file: /sys/t}\n",
         "b:", "sensors a and b are read at the same place"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = with_sensors(rows[k].write);
        expect_only_words(text, "sensors:", rows[k].at, rows[k].says);
        free(text);
    }
}
END_TEST

START_TEST(test_a_sensor_that_is_gone_makes_the_file_look_cut)
{
    char why[TROUBLE_TEXT_MAX] = "", *before_text = with_sensors(WIRE);
    struct text said = text_in(why, sizeof why);
    struct settings *before = load_good(before_text), *after = load_good(small_house);
    ck_assert(settings_look_cut(before, after, &said));
    ck_assert_ptr_nonnull(strstr(why, "sensor wire is gone"));
    settings_free(before);
    settings_free(after);
    free(before_text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_each_kind_becomes_what_it_says,
        test_mistakes_of_sensors_are_said_at_their_place,
        test_a_sensor_that_is_gone_makes_the_file_look_cut,
    };
    return suite_run("sensors", tests, COUNT_OF(tests));
}
