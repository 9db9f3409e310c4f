/* heat_rows.c - a store of hot water, as people write it. */
#include "heat.h"

#define WATER(key_, unit_, field_, least_, greatest_, initial_, text_)                             \
    {                                                                                              \
        .key = key_, .kind = SETTING_QUANTITY, .unit = unit_,                                      \
        SETTING_AT(struct heat_settings, field_), .least = least_, .greatest = greatest_,          \
        .initial = initial_, .text = text_                                                         \
    }

static const struct setting_row rows[] = {
    {.key = "volume",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_VOLUME_ML,
     SETTING_AT(struct heat_settings, volume_ml),
     .least = 10000,
     .greatest = 2000000,
     .initial = NULL,
     .example = "315 L",
     .text = "What the tank holds, by its nameplate."},
    WATER("set", QUANTITY_TEMPERATURE_MC, set_mc, 40000, 90000, "65 °C",
          "Where the thermostat opens. Stored water under 60 degrees can grow Legionella; "
          "over 50 at the tap it scalds: local codes say what is required."),
    WATER("hysteresis", QUANTITY_TEMPERATURE_MC, hysteresis_mc, 500, 20000, "6 °C",
          "By how much it cools before the thermostat closes again."),
    WATER("cold", QUANTITY_TEMPERATURE_MC, cold_mc, 1000, 35000, "16 °C",
          "The mains water, mean of the year."),
    WATER("room", QUANTITY_TEMPERATURE_MC, room_mc, -10000, 45000, "20 °C",
          "The air around the tank, mean of the year."),
    WATER("standing_loss", QUANTITY_ENERGY_MWH, loss_mwh, 100000, 20000000, "2.2 kWh",
          "What the tank loses in a day at 55 K over the room, by its nameplate."),
    WATER("usable", QUANTITY_SHARE_PERMILLE, usable_permille, 200, 1000, "55 %",
          "Of a full tank's heat, what comes at the wanted temperature before it turns lukewarm. "
          "A tank that is wholly heated and layers well gives up to 85 %, one that is mixed or "
          "seldom wholly heated less than half. More saves more and risks a cold shower."),
    WATER("missing", QUANTITY_PRICE_MICRO, missing_micro, 0, 100000000, "10 /kWh",
          "What a kWh of hot water that is wanted and not there weighs against the cost of heat: "
          "more buys earlier."),
    {.key = "probe",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct heat_settings, probed),
     .initial = "no",
     .text = "The meter that reads a tank's temperature reads this one's, at about its mean. It "
             "shows what a guess must keep in reserve."},
};

const struct setting_rows heat_rows = SETTING_ROWS(rows);
