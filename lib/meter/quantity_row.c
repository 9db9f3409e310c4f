/* quantity_row.c - the quantities that a meter may know, as rows: the word and
 * the units of each in map files, and the greatest value that can be true.
 *
 * The limits are far beyond any building, so that they never argue with a
 * meter; they catch floats read in the wrong word order and keep sums of
 * phases within 64 bits. */
#include "meter/quantity_row.h"

#include <stddef.h>

static const struct meter_unit power_units[] = {
    {"mW", 1}, {"W", 1000}, {"kW", 1000000}, {"MW", 1000000000}, {NULL, 0}};
static const struct meter_unit current_units[] = {{"mA", 1}, {"A", 1000}, {NULL, 0}};
static const struct meter_unit voltage_units[] = {
    {"mV", 1}, {"V", 1000}, {"kV", 1000000}, {NULL, 0}};
static const struct meter_unit frequency_units[] = {{"mHz", 1}, {"Hz", 1000}, {NULL, 0}};
static const struct meter_unit energy_units[] = {
    {"mWh", 1}, {"Wh", 1000}, {"kWh", 1000000}, {"MWh", 1000000000}, {NULL, 0}};
static const struct meter_unit share_units[] = {{"%", 10}, {NULL, 0}};
static const struct meter_unit temperature_units[] = {{"°C", 1000}, {"C", 1000}, {NULL, 0}};
static const struct meter_unit no_units[] = {{"", 1}, {NULL, 0}};

#define POWER(name)                                                                                \
    {                                                                                              \
        .word = name, .units = power_units, .unit_names = "mW, W, kW or MW",                       \
        .greatest = 1000000000000                                                                  \
    }
#define CURRENT(name)                                                                              \
    {                                                                                              \
        .word = name, .units = current_units, .unit_names = "mA or A", .greatest = INT32_MAX       \
    }
#define VOLTAGE(name)                                                                              \
    {                                                                                              \
        .word = name, .units = voltage_units, .unit_names = "mV, V or kV", .greatest = INT32_MAX   \
    }
#define ENERGY(name)                                                                               \
    {                                                                                              \
        .word = name, .units = energy_units, .unit_names = "mWh, Wh, kWh or MWh",                  \
        .greatest = 10000000000000000                                                              \
    }

static const struct meter_quantity_row rows[METER_QUANTITIES] = {
    [METER_POWER] = POWER("power"),
    [METER_POWER_L1] = POWER("power-l1"),
    [METER_POWER_L2] = POWER("power-l2"),
    [METER_POWER_L3] = POWER("power-l3"),
    [METER_CURRENT_L1] = CURRENT("current-l1"),
    [METER_CURRENT_L2] = CURRENT("current-l2"),
    [METER_CURRENT_L3] = CURRENT("current-l3"),
    [METER_VOLTAGE_L1] = VOLTAGE("voltage-l1"),
    [METER_VOLTAGE_L2] = VOLTAGE("voltage-l2"),
    [METER_VOLTAGE_L3] = VOLTAGE("voltage-l3"),
    [METER_FREQUENCY] = {.word = "frequency",
                         .units = frequency_units,
                         .unit_names = "mHz or Hz",
                         .greatest = INT32_MAX},
    [METER_IMPORT_ENERGY] = ENERGY("import-energy"),
    [METER_EXPORT_ENERGY] = ENERGY("export-energy"),
    [METER_BATTERY_CHARGE] = {.word = "battery-charge",
                              .units = share_units,
                              .unit_names = "%",
                              .greatest = INT32_MAX},
    [METER_TEMPERATURE] = {.word = "temperature",
                           .units = temperature_units,
                           .unit_names = "°C",
                           .greatest = INT32_MAX},
    [METER_STATE] = {.word = "state",
                     .units = no_units,
                     .unit_names = "none",
                     .greatest = INT32_MAX},
};

const struct meter_quantity_row *meter_quantity_row(enum meter_quantity quantity)
{
    return (unsigned)quantity < METER_QUANTITIES ? &rows[quantity] : NULL;
}

const char *meter_quantity_word(enum meter_quantity quantity)
{
    const struct meter_quantity_row *row = meter_quantity_row(quantity);
    return row ? row->word : NULL;
}

const char *meter_table_word(enum meter_table table)
{
    return table == METER_INPUT ? "input" : "holding";
}
