/* test_quantity.c - quantities: exact both ways, and every mistake named. */
#include "core/quantity.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "suite.h"

enum { KINDS = QUANTITY_COUNT + 1 };

static const struct {
    enum quantity_kind kind;
    const char *text;
    int64_t value;
} good[] = {
    {QUANTITY_POWER_W, "3.6 kW", 3600},
    {QUANTITY_POWER_W, "3.6kW", 3600},
    {QUANTITY_POWER_W, " 200 W ", 200},
    {QUANTITY_POWER_W, "-1.5 kW", -1500},
    {QUANTITY_POWER_W, "0.000001 MW", 1},
    {QUANTITY_POWER_W, "3.600000000000000000000000 kW", 3600},
    {QUANTITY_POWER_W, "0003 W", 3},
    {QUANTITY_POWER_W, "9223372036854775807 W", INT64_MAX},
    {QUANTITY_POWER_W, "9223372036854775.807 kW", INT64_MAX},
    {QUANTITY_POWER_W, "0 W", 0},
    {QUANTITY_ENERGY_MWH, "6 kWh", 6000000},
    {QUANTITY_ENERGY_MWH, "0.001 Wh", 1},
    {QUANTITY_ENERGY_MWH, "1.2 MWh", 1200000000},
    {QUANTITY_DURATION_MS, "2 h 30 min", 9000000},
    {QUANTITY_DURATION_MS, "2h30min", 9000000},
    {QUANTITY_DURATION_MS, "2.5 h", 9000000},
    {QUANTITY_DURATION_MS, "1 d 2 h 3 min 4 s 5 ms", 93784005},
    {QUANTITY_DURATION_MS, "0.015625 h", 56250},
    {QUANTITY_DURATION_MS, "90 s", 90000},
    {QUANTITY_DURATION_MS, "7 d", 604800000},
    {QUANTITY_DURATION_MS, "0 s", 0},
    {QUANTITY_TIME_S, "17:00", 61200},
    {QUANTITY_TIME_S, "6:30", 23400},
    {QUANTITY_TIME_S, "06:30:15", 23415},
    {QUANTITY_TIME_S, "0:00", 0},
    {QUANTITY_TIME_S, "24:00", 86400},
    {QUANTITY_SHARE_PERMILLE, "80 %", 800},
    {QUANTITY_SHARE_PERMILLE, "7.5%", 75},
    {QUANTITY_CURRENT_MA, "16 A", 16000},
    {QUANTITY_CURRENT_MA, "0.5 A", 500},
    {QUANTITY_CURRENT_MA, "20 mA", 20},
    {QUANTITY_VOLTAGE_MV, "230 V", 230000},
    {QUANTITY_VOLTAGE_MV, "0.4 kV", 400000},
    {QUANTITY_PRICE_MICRO, "0.30 /kWh", 300000},
    {QUANTITY_PRICE_MICRO, "-0.02 /kWh", -20000},
    {QUANTITY_PRICE_MICRO, "0.123456/kWh", 123456},
    {QUANTITY_DAILY_MICRO, "1.10 /day", 1100000},
    {QUANTITY_DEMAND_MICRO, "12.50 /kW", 12500000},
    {QUANTITY_TEMPERATURE_MC, "60 °C", 60000},
    {QUANTITY_TEMPERATURE_MC, "60 C", 60000},
    {QUANTITY_TEMPERATURE_MC, "-5.5°C", -5500},
    {QUANTITY_VOLUME_ML, "250 L", 250000},
    {QUANTITY_VOLUME_ML, "250 l", 250000},
    {QUANTITY_VOLUME_ML, "500 mL", 500},
    {QUANTITY_COUNT, "4", 4},
    {QUANTITY_COUNT, "-1", -1},
    {QUANTITY_COUNT, "4.0", 4},
};

START_TEST(test_good_texts_are_read_exactly)
{
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        int64_t value = 12345;
        struct trouble trouble;
        ck_assert_msg(quantity_parse(good[i].kind, good[i].text, &value, &trouble), "%s: %s",
                      good[i].text, trouble.text);
        ck_assert_msg(value == good[i].value, "%s: %" PRId64, good[i].text, value);
    }
}
END_TEST

static const struct {
    enum quantity_kind kind;
    const char *text, *trouble;
} bad[] = {
    {QUANTITY_POWER_W, "3600", "3600 has no unit: write a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "0", "0 has no unit: write a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "3 h", "3 h is a duration; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "6 kWh", "6 kWh is an energy; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "17:00", "17:00 is a time of day; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "2 h 30 min", "2 h 30 min is a duration; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "3.6 KW", "3.6 KW: the unit is written kW"},
    {QUANTITY_POWER_W, "3.6 kVA",
     "3.6 kVA: \"kVA\" is no unit known here; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "1e3 W",
     "1e3 W: \"e3\" is no unit known here; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "0x10 W",
     "0x10 W: \"x10\" is no unit known here; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "3,6 kW", "3,6 kW: decimals are written with a point, not a comma"},
    {QUANTITY_POWER_W, "3.6005 kW", "3.6005 kW is finer than 1 W, the smallest step of a power"},
    {QUANTITY_POWER_W, "0.5 W", "0.5 W is finer than 1 W, the smallest step of a power"},
    {QUANTITY_POWER_W, "9223372036854775808 W", "9223372036854775808 W is too large"},
    {QUANTITY_POWER_W, "9223372036854776 kW", "9223372036854776 kW is too large"},
    {QUANTITY_POWER_W, "", "nothing is written here; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "  ", "nothing is written here; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "much", "\"much\" is not a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, ".5 kW", "\".5 kW\" is not a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "5. kW", "\"5. kW\" is not a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "+5 kW", "\"+5 kW\" is not a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "3 kW 500 W", "\"3 kW 500 W\" is not a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "3.6 kW!",
     "3.6 kW!: \"kW!\" is no unit known here; expected a power, such as 3.6 kW"},
    {QUANTITY_POWER_W, "no", "\"no\" is not a power, such as 3.6 kW"},
    {QUANTITY_DURATION_MS, "60", "60 has no unit: write a duration, such as 2 h 30 min"},
    {QUANTITY_DURATION_MS, "2 h 30", "2 h 30 has no unit: write a duration, such as 2 h 30 min"},
    {QUANTITY_DURATION_MS, "2:30",
     "2:30 is a time of day; expected a duration, such as 2 h 30 min"},
    {QUANTITY_DURATION_MS, "30 min 2 h",
     "30 min 2 h: each unit once, the largest first, as in 2 h 30 min"},
    {QUANTITY_DURATION_MS, "2 h 2 h",
     "2 h 2 h: each unit once, the largest first, as in 2 h 30 min"},
    {QUANTITY_DURATION_MS, "-5 min", "-5 min: a duration is never negative"},
    {QUANTITY_DURATION_MS, "0.0001 s",
     "0.0001 s is finer than 1 ms, the smallest step of a duration"},
    {QUANTITY_DURATION_MS, "106751991168 d", "106751991168 d is too large"},
    {QUANTITY_DURATION_MS, "106751991167 d 24 h", "106751991167 d 24 h is too large"},
    {QUANTITY_DURATION_MS, "3 kW", "3 kW is a power; expected a duration, such as 2 h 30 min"},
    {QUANTITY_TIME_S, "17", "17 is a whole number; expected a time of day, such as 17:00"},
    {QUANTITY_TIME_S, "3 h", "3 h is a duration; expected a time of day, such as 17:00"},
    {QUANTITY_TIME_S, "24:01", "\"24:01\" is not a time of day, such as 17:00"},
    {QUANTITY_TIME_S, "17:60", "\"17:60\" is not a time of day, such as 17:00"},
    {QUANTITY_TIME_S, "17:0", "\"17:0\" is not a time of day, such as 17:00"},
    {QUANTITY_TIME_S, "5 pm", "\"5 pm\" is not a time of day, such as 17:00"},
    {QUANTITY_TIME_S, "", "nothing is written here; expected a time of day, such as 17:00"},
    {QUANTITY_SHARE_PERMILLE, "0.8", "0.8 has no unit: write a share, such as 80 %"},
    {QUANTITY_SHARE_PERMILLE, "7.55 %", "7.55 % is finer than 0.1 %, the smallest step of a share"},
    {QUANTITY_PRICE_MICRO, "0.30", "0.30 has no unit: write a price of energy, such as 0.30 /kWh"},
    {QUANTITY_DEMAND_MICRO, "12.50 /kWh",
     "12.50 /kWh is a price of energy; expected a demand charge, such as 12.50 /kW"},
    {QUANTITY_DAILY_MICRO, "-1 /day", "-1 /day: a daily charge is never negative"},
    {QUANTITY_TEMPERATURE_MC, "60", "60 has no unit: write a temperature, such as 60 °C"},
    {QUANTITY_COUNT, "4 h", "4 h is a duration; expected a whole number, such as 4"},
    {QUANTITY_COUNT, "4.5", "4.5 is finer than 1, the smallest step of a whole number"},
    {QUANTITY_COUNT, "four", "\"four\" is not a whole number, such as 4"},
};

START_TEST(test_each_mistake_is_named)
{
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        int64_t value = 12345;
        struct trouble trouble;
        ck_assert_msg(!quantity_parse(bad[i].kind, bad[i].text, &value, &trouble),
                      "\"%s\" was read", bad[i].text);
        ck_assert_str_eq(trouble.text, bad[i].trouble);
        ck_assert_str_eq(trouble.place, "");
        ck_assert_int_eq(value, 12345); /* left alone */
    }
}
END_TEST

START_TEST(test_a_very_long_text_is_quoted_short)
{
    char text[100000];
    int64_t value;
    struct trouble trouble;
    memset(text, '7', sizeof(text) - 1);
    text[sizeof(text) - 1] = '\0';
    ck_assert(!quantity_parse(QUANTITY_POWER_W, text, &value, &trouble));
    ck_assert_uint_lt(strlen(trouble.text), 100);
    ck_assert_ptr_nonnull(strstr(trouble.text, "777... is too large"));
}
END_TEST

/* ---- writing ------------------------------------------------------------------ */

static const struct {
    enum quantity_kind kind;
    int64_t value;
    const char *text;
} written[] = {
    {QUANTITY_POWER_W, 3600, "3.6 kW"},
    {QUANTITY_POWER_W, 3601, "3.601 kW"},
    {QUANTITY_POWER_W, 999, "999 W"},
    {QUANTITY_POWER_W, -1500, "-1.5 kW"},
    {QUANTITY_POWER_W, 0, "0 W"},
    {QUANTITY_POWER_W, 25000000, "25000 kW"},
    {QUANTITY_POWER_W, INT64_MIN, "-9223372036854775.808 kW"},
    {QUANTITY_ENERGY_MWH, 6000000, "6 kWh"},
    {QUANTITY_ENERGY_MWH, 1, "0.001 Wh"},
    {QUANTITY_ENERGY_MWH, 250000, "250 Wh"},
    {QUANTITY_DURATION_MS, 9000000, "2 h 30 min"},
    {QUANTITY_DURATION_MS, 90000000, "1 d 1 h"},
    {QUANTITY_DURATION_MS, 604800000, "7 d"},
    {QUANTITY_DURATION_MS, 1500, "1.5 s"},
    {QUANTITY_DURATION_MS, 500, "500 ms"},
    {QUANTITY_DURATION_MS, 60001, "1 min 1 ms"},
    {QUANTITY_DURATION_MS, 61250, "1 min 1.25 s"},
    {QUANTITY_DURATION_MS, 0, "0 s"},
    {QUANTITY_TIME_S, 61200, "17:00"},
    {QUANTITY_TIME_S, 23415, "06:30:15"},
    {QUANTITY_TIME_S, 86400, "24:00"},
    {QUANTITY_SHARE_PERMILLE, 75, "7.5 %"},
    {QUANTITY_SHARE_PERMILLE, 1000, "100 %"},
    {QUANTITY_CURRENT_MA, 16000, "16 A"},
    {QUANTITY_CURRENT_MA, 500, "500 mA"},
    {QUANTITY_CURRENT_MA, 0, "0 A"},
    {QUANTITY_VOLTAGE_MV, 230500, "230.5 V"},
    {QUANTITY_PRICE_MICRO, 300000, "0.30 /kWh"},
    {QUANTITY_PRICE_MICRO, 123456, "0.123456 /kWh"},
    {QUANTITY_PRICE_MICRO, -20000, "-0.02 /kWh"},
    {QUANTITY_PRICE_MICRO, 0, "0.00 /kWh"},
    {QUANTITY_DAILY_MICRO, 1100000, "1.10 /day"},
    {QUANTITY_DEMAND_MICRO, 5000, "0.005 /kW"},
    {QUANTITY_TEMPERATURE_MC, 60000, "60 °C"},
    {QUANTITY_TEMPERATURE_MC, -500, "-0.5 °C"},
    {QUANTITY_VOLUME_ML, 250000, "250 L"},
    {QUANTITY_VOLUME_ML, 0, "0 L"},
    {QUANTITY_COUNT, 4, "4"},
};

START_TEST(test_values_are_written_as_people_write_them)
{
    for (size_t i = 0; i < COUNT_OF(written); i++) {
        char buffer[64];
        struct text text = text_in(buffer, sizeof(buffer));
        quantity_write(written[i].kind, written[i].value, &text);
        ck_assert_str_eq(buffer, written[i].text);
    }
}
END_TEST

static int64_t least_of(enum quantity_kind kind)
{
    bool signs = kind == QUANTITY_POWER_W || kind == QUANTITY_ENERGY_MWH ||
                 kind == QUANTITY_PRICE_MICRO || kind == QUANTITY_TEMPERATURE_MC ||
                 kind == QUANTITY_COUNT;
    return signs ? -INT64_MAX : 0;
}

static int64_t random_value(enum quantity_kind kind, uint64_t *seed)
{
    if (kind == QUANTITY_TIME_S)
        return seeded_between(seed, 0, 86400);
    int64_t greatest = INT64_MAX >> seeded_between(seed, 0, 62);
    return seeded_between(seed, least_of(kind) ? -greatest : 0, greatest);
}

START_TEST(test_every_value_comes_back_as_it_went)
{
    for (uint64_t seed = 1; seed <= 100000; seed++) {
        uint64_t s = seed;
        enum quantity_kind kind = (enum quantity_kind)(seed % KINDS);
        char buffer[80];
        struct trouble trouble;
        struct text text = text_in(buffer, sizeof(buffer));
        int64_t value = random_value(kind, &s), read;
        quantity_write(kind, value, &text);
        if (!quantity_parse(kind, buffer, &read, &trouble))
            ck_abort_msg("seed %d: %s", (int)seed, trouble.text);
        if (read != value || text.full)
            ck_abort_msg("seed %d: %" PRId64 " as \"%s\" is %" PRId64, (int)seed, value, buffer,
                         read);
    }
}
END_TEST

/* A point put into the digits of a whole number by hand: nothing but text is moved. */
START_TEST(test_a_decimal_point_moves_digits_and_loses_none)
{
    static const struct {
        enum quantity_kind kind;
        const char *unit;
        int places;
    } units[] = {
        {QUANTITY_POWER_W, "kW", 3},        {QUANTITY_POWER_W, "MW", 6},
        {QUANTITY_ENERGY_MWH, "kWh", 6},    {QUANTITY_ENERGY_MWH, "MWh", 9},
        {QUANTITY_SHARE_PERMILLE, "%", 1},  {QUANTITY_DURATION_MS, "s", 3},
        {QUANTITY_PRICE_MICRO, "/kWh", 6},  {QUANTITY_VOLUME_ML, "L", 3},
        {QUANTITY_TEMPERATURE_MC, "°C", 3}, {QUANTITY_VOLTAGE_MV, "kV", 6},
    };
    for (uint64_t seed = 1; seed <= 50000; seed++) {
        uint64_t s = seed;
        size_t u = seed % COUNT_OF(units);
        int64_t value = INT64_MAX >> seeded_between(&s, 0, 62), read;
        value = seeded_between(&s, 0, value);
        char digits[40], text[60];
        struct trouble trouble;
        int length = snprintf(digits, sizeof(digits), "%020" PRId64, value);
        int point = length - units[u].places;
        snprintf(text, sizeof(text), "%.*s.%s %s", point, digits, digits + point, units[u].unit);
        if (!quantity_parse(units[u].kind, text, &read, &trouble))
            ck_abort_msg("seed %d: %s", (int)seed, trouble.text);
        if (read != value)
            ck_abort_msg("seed %d: %s is %" PRId64, (int)seed, text, read);
        snprintf(text, sizeof(text), "%.*s.%s1 %s", point, digits, digits + point, units[u].unit);
        if (quantity_parse(units[u].kind, text, &read, &trouble))
            ck_abort_msg("seed %d: %s was read", (int)seed, text);
    }
}
END_TEST

START_TEST(test_garbled_texts_are_read_or_refused_but_never_run_over)
{
    static const char letters[] = "0123456789..,-: kWhminsdAVL/%C\xc2\xb0\t\x80";
    for (uint64_t seed = 1; seed <= 50000; seed++) {
        uint64_t s = seed;
        size_t length = (size_t)seeded_between(&s, 0, 20);
        char *text = malloc(length + 1);
        for (size_t i = 0; i < length; i++)
            text[i] = letters[seeded_between(&s, 0, (int64_t)sizeof(letters) - 2)];
        text[length] = '\0';
        for (int kind = 0; kind < KINDS; kind++) {
            int64_t value;
            struct trouble trouble = {.text = ""};
            if (!quantity_parse((enum quantity_kind)kind, text, &value, &trouble) &&
                trouble.text[0] == '\0')
                ck_abort_msg("seed %d: refused without a word", (int)seed);
        }
        free(text);
    }
}
END_TEST

START_TEST(test_each_kind_gives_an_example_that_is_read)
{
    for (int kind = 0; kind < KINDS; kind++) {
        const char *expected = quantity_expected((enum quantity_kind)kind);
        const char *example = strstr(expected, ", such as ");
        int64_t value;
        struct trouble trouble;
        ck_assert_ptr_nonnull(example);
        ck_assert_msg(quantity_parse((enum quantity_kind)kind, example + strlen(", such as "),
                                     &value, &trouble),
                      "%s", trouble.text);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_good_texts_are_read_exactly,
        test_each_mistake_is_named,
        test_a_very_long_text_is_quoted_short,
        test_values_are_written_as_people_write_them,
        test_every_value_comes_back_as_it_went,
        test_a_decimal_point_moves_digits_and_loses_none,
        test_garbled_texts_are_read_or_refused_but_never_run_over,
        test_each_kind_gives_an_example_that_is_read,
    };
    return suite_run("quantity", tests, COUNT_OF(tests));
}
