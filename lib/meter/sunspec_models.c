/* sunspec_models.c - where SunSpec keeps each quantity.
 *
 * From the information models of github.com/sunspec/models, folder json, commit
 * 7abdf898 (Apache-2.0). The four integer meters 201-204 share one layout, as do
 * the four float meters 211-214 and the inverters 101-103; they differ in which
 * points a device fills in, and one that it does not fill in is absent. */
#include "sunspec_models.h"

#include <stddef.h>

#define SCALED(at, kind, scale, scale_at)                                                          \
    .offset = at, .type = kind, .scale_name = scale, .scale_offset = scale_at
#define PLAIN(at, kind) .offset = at, .type = kind

static const struct sunspec_point integer_meter[] = {
    {.quantity = METER_CURRENT_L1, .name = "AphA", SCALED(3, SUNSPEC_INT16, "A_SF", 6)},
    {.quantity = METER_CURRENT_L2, .name = "AphB", SCALED(4, SUNSPEC_INT16, "A_SF", 6)},
    {.quantity = METER_CURRENT_L3, .name = "AphC", SCALED(5, SUNSPEC_INT16, "A_SF", 6)},
    {.quantity = METER_VOLTAGE_L1, .name = "PhVphA", SCALED(8, SUNSPEC_INT16, "V_SF", 15)},
    {.quantity = METER_VOLTAGE_L2, .name = "PhVphB", SCALED(9, SUNSPEC_INT16, "V_SF", 15)},
    {.quantity = METER_VOLTAGE_L3, .name = "PhVphC", SCALED(10, SUNSPEC_INT16, "V_SF", 15)},
    {.quantity = METER_FREQUENCY,
     .name = "Hz",
     SCALED(16, SUNSPEC_INT16, "Hz_SF", 17),
     .scale_optional = true},
    {.quantity = METER_POWER, .name = "W", SCALED(18, SUNSPEC_INT16, "W_SF", 22)},
    {.quantity = METER_POWER_L1, .name = "WphA", SCALED(19, SUNSPEC_INT16, "W_SF", 22)},
    {.quantity = METER_POWER_L2, .name = "WphB", SCALED(20, SUNSPEC_INT16, "W_SF", 22)},
    {.quantity = METER_POWER_L3, .name = "WphC", SCALED(21, SUNSPEC_INT16, "W_SF", 22)},
    {.quantity = METER_EXPORT_ENERGY,
     .name = "TotWhExp",
     SCALED(38, SUNSPEC_ACC32, "TotWh_SF", 54)},
    {.quantity = METER_IMPORT_ENERGY,
     .name = "TotWhImp",
     SCALED(46, SUNSPEC_ACC32, "TotWh_SF", 54)},
};

static const struct sunspec_point float_meter[] = {
    {.quantity = METER_CURRENT_L1, .name = "AphA", PLAIN(4, SUNSPEC_FLOAT32)},
    {.quantity = METER_CURRENT_L2, .name = "AphB", PLAIN(6, SUNSPEC_FLOAT32)},
    {.quantity = METER_CURRENT_L3, .name = "AphC", PLAIN(8, SUNSPEC_FLOAT32)},
    {.quantity = METER_VOLTAGE_L1, .name = "PhVphA", PLAIN(12, SUNSPEC_FLOAT32)},
    {.quantity = METER_VOLTAGE_L2, .name = "PhVphB", PLAIN(14, SUNSPEC_FLOAT32)},
    {.quantity = METER_VOLTAGE_L3, .name = "PhVphC", PLAIN(16, SUNSPEC_FLOAT32)},
    {.quantity = METER_FREQUENCY, .name = "Hz", PLAIN(26, SUNSPEC_FLOAT32)},
    {.quantity = METER_POWER, .name = "W", PLAIN(28, SUNSPEC_FLOAT32)},
    {.quantity = METER_POWER_L1, .name = "WphA", PLAIN(30, SUNSPEC_FLOAT32)},
    {.quantity = METER_POWER_L2, .name = "WphB", PLAIN(32, SUNSPEC_FLOAT32)},
    {.quantity = METER_POWER_L3, .name = "WphC", PLAIN(34, SUNSPEC_FLOAT32)},
    {.quantity = METER_EXPORT_ENERGY, .name = "TotWhExp", PLAIN(60, SUNSPEC_FLOAT32)},
    {.quantity = METER_IMPORT_ENERGY, .name = "TotWhImp", PLAIN(68, SUNSPEC_FLOAT32)},
};

static const struct sunspec_point integer_inverter[] = {
    {.quantity = METER_CURRENT_L1, .name = "AphA", SCALED(3, SUNSPEC_UINT16, "A_SF", 6)},
    {.quantity = METER_CURRENT_L2, .name = "AphB", SCALED(4, SUNSPEC_UINT16, "A_SF", 6)},
    {.quantity = METER_CURRENT_L3, .name = "AphC", SCALED(5, SUNSPEC_UINT16, "A_SF", 6)},
    {.quantity = METER_VOLTAGE_L1, .name = "PhVphA", SCALED(10, SUNSPEC_UINT16, "V_SF", 13)},
    {.quantity = METER_VOLTAGE_L2, .name = "PhVphB", SCALED(11, SUNSPEC_UINT16, "V_SF", 13)},
    {.quantity = METER_VOLTAGE_L3, .name = "PhVphC", SCALED(12, SUNSPEC_UINT16, "V_SF", 13)},
    {.quantity = METER_POWER, .name = "W", SCALED(14, SUNSPEC_INT16, "W_SF", 15)},
    {.quantity = METER_FREQUENCY, .name = "Hz", SCALED(16, SUNSPEC_UINT16, "Hz_SF", 17)},
    {.quantity = METER_EXPORT_ENERGY, .name = "WH", SCALED(24, SUNSPEC_ACC32, "WH_SF", 26)},
    {.quantity = METER_STATE, .name = "St", PLAIN(38, SUNSPEC_ENUM16)},
};

#define POINTS(rows) .points = rows, .point_count = sizeof(rows) / sizeof(rows[0])

static const struct sunspec_model models[] = {
    {.first = 101, .last = 103, .inverter = true, POINTS(integer_inverter)},
    {.first = 201, .last = 204, POINTS(integer_meter)},
    {.first = 211, .last = 214, POINTS(float_meter)},
};

const struct sunspec_model *sunspec_model(uint16_t id)
{
    for (size_t i = 0; i < sizeof(models) / sizeof(models[0]); i++)
        if (id >= models[i].first && id <= models[i].last)
            return &models[i];
    return NULL;
}
