/* Units of map files, and the words of quantities. */
#include <check.h>
#include <string.h>

#include "meter/meter.h"

static const struct {
    enum meter_quantity quantity;
    const char *text;
    int64_t num, den;
} good[] = {
    {METER_POWER, "W", 1000, 1},
    {METER_POWER, "kW", 1000000, 1},
    {METER_POWER, "mW", 1, 1},
    {METER_POWER, "MW", 1000000000, 1},
    {METER_POWER, "0.1 W", 100, 1},
    {METER_POWER_L3, "0.01 W", 10, 1},
    {METER_POWER, "0.01W", 10, 1},
    {METER_POWER, "0.0001 kW", 100, 1},
    {METER_POWER, "0.0001 W", 1, 10},
    {METER_POWER, "10 W", 10000, 1},
    {METER_POWER, "2.5 W", 2500, 1},
    {METER_CURRENT_L1, "A", 1000, 1},
    {METER_CURRENT_L2, "mA", 1, 1},
    {METER_CURRENT_L2, "0.01 A", 10, 1},
    {METER_VOLTAGE_L1, "V", 1000, 1},
    {METER_VOLTAGE_L1, "0.1 V", 100, 1},
    {METER_VOLTAGE_L1, "kV", 1000000, 1},
    {METER_FREQUENCY, "Hz", 1000, 1},
    {METER_FREQUENCY, "0.01 Hz", 10, 1},
    {METER_IMPORT_ENERGY, "kWh", 1000000, 1},
    {METER_IMPORT_ENERGY, "0.1 kWh", 100000, 1},
    {METER_EXPORT_ENERGY, "0.01 kWh", 10000, 1},
    {METER_EXPORT_ENERGY, "Wh", 1000, 1},
    {METER_EXPORT_ENERGY, "MWh", 1000000000, 1},
    {METER_BATTERY_CHARGE, "%", 10, 1},
    {METER_BATTERY_CHARGE, "0.1 %", 1, 1},
    {METER_BATTERY_CHARGE, "0.01 %", 1, 10},
    {METER_TEMPERATURE, "°C", 1000, 1},
    {METER_TEMPERATURE, "0.1 C", 100, 1},
    {METER_STATE, "", 1, 1},
    {METER_STATE, "1", 1, 1},
};
enum { GOOD = sizeof good / sizeof good[0] };

START_TEST(test_unit_gives_the_exact_scale)
{
    int64_t num, den;
    struct trouble trouble;
    ck_assert_msg(meter_unit_parse(good[_i].quantity, good[_i].text, &num, &den, &trouble),
                  "\"%s\": %s", good[_i].text, trouble.text);
    ck_assert_int_eq(num, good[_i].num);
    ck_assert_int_eq(den, good[_i].den);
}
END_TEST

static const struct {
    enum meter_quantity quantity;
    const char *text, *told;
} bad[] = {
    {METER_POWER, "", "expected mW, W, kW or MW"},
    {METER_POWER, "w", "\"w\" is no unit of power: expected mW, W, kW or MW"},
    {METER_POWER, "kWh", "expected mW, W, kW or MW"},
    {METER_POWER, "0.1", "expected mW, W, kW or MW"},
    {METER_POWER, "W ", "expected mW, W, kW or MW"},
    {METER_POWER, "-1 W", "expected mW, W, kW or MW"},
    {METER_POWER, "0 W", "greater than 0"},
    {METER_POWER, "0.0 W", "greater than 0"},
    {METER_POWER, ".1 W", "such as 0.01"},
    {METER_POWER, "1. W", "such as 0.01"},
    {METER_POWER, "1.2.3 W", "such as 0.01"},
    {METER_POWER, "1234567890 W", "at most 9 digits"},
    {METER_POWER, "0,1 W", "expected mW, W, kW or MW"},
    {METER_IMPORT_ENERGY, "kW", "expected mWh, Wh, kWh or MWh"},
    {METER_TEMPERATURE, "F", "expected °C"},
    {METER_STATE, "W", "expected none"},
};
enum { BAD = sizeof bad / sizeof bad[0] };

START_TEST(test_wrong_unit_is_quoted_and_the_right_ones_named)
{
    int64_t num, den;
    struct trouble trouble;
    ck_assert(!meter_unit_parse(bad[_i].quantity, bad[_i].text, &num, &den, &trouble));
    ck_assert_msg(strstr(trouble.text, bad[_i].told) != NULL, "\"%s\": %s", bad[_i].text,
                  trouble.text);
}
END_TEST

START_TEST(test_every_quantity_has_a_word_of_its_own)
{
    for (int q = 0; q < METER_QUANTITIES; q++) {
        ck_assert_ptr_nonnull(meter_quantity_word((enum meter_quantity)q));
        for (int other = 0; other < q; other++)
            ck_assert_str_ne(meter_quantity_word((enum meter_quantity)q),
                             meter_quantity_word((enum meter_quantity)other));
    }
    ck_assert_ptr_null(meter_quantity_word(METER_QUANTITIES));
    ck_assert_str_eq(meter_quantity_word(METER_CURRENT_L1), "current-l1");
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("unit");
    TCase *cases = tcase_create("unit");
    tcase_add_loop_test(cases, test_unit_gives_the_exact_scale, 0, GOOD);
    tcase_add_loop_test(cases, test_wrong_unit_is_quoted_and_the_right_ones_named, 0, BAD);
    tcase_add_test(cases, test_every_quantity_has_a_word_of_its_own);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
