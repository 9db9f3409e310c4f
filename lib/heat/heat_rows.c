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
          "Where the thermostat opens. Stored water under 60 °C can grow Legionella; "
          "over 50 °C at the tap it scalds: local codes say what is required."),
    WATER("hysteresis", QUANTITY_TEMPERATURE_MC, hysteresis_mc, 500, 20000, "6 °C",
          "How far it cools before the thermostat closes again."),
    WATER("cold", QUANTITY_TEMPERATURE_MC, cold_mc, 1000, 35000, "16 °C",
          "Mains water, mean of the year."),
    WATER("room", QUANTITY_TEMPERATURE_MC, room_mc, -10000, 45000, "20 °C",
          "Air around the tank, mean of the year."),
    {.key = "standing_loss",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_ENERGY_MWH,
     SETTING_AT(struct heat_settings, loss_mwh),
     .least = 100000,
     .greatest = 20000000,
     .initial = "",
     .example = "2.66 kWh",
     .text = "What the tank loses in a day at 55 K over the room, by its nameplate. Left out: the "
             "most that AS/NZS 4692.2 allows a tank of its volume (2.66 kWh for 315 L)."},
    WATER("usable", QUANTITY_SHARE_PERMILLE, usable_permille, 200, 1000, "75 %",
          "The share of a full tank's heat that comes hot enough before it turns lukewarm. A tank "
          "that is heated whole and layers well gives up to 85 %, one that mixes or is seldom "
          "heated whole less than half. More saves more and risks a cold shower."),
    WATER("missing", QUANTITY_PRICE_MICRO, missing_micro, 0, 100000000, "10 /kWh",
          "What a kWh of hot water that is missing weighs: more buys earlier."),
    {.key = "probe",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct heat_settings, probed),
     .initial = "no",
     .text = "A sensor, or a meter of role tank, reads this tank."},
    {.key = "probe_height",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_SHARE_PERMILLE,
     SETTING_AT(struct heat_settings, probe_permille),
     .least = 10,
     .greatest = 990,
     .initial = "",
     .example = "25 %",
     .text = "Where the probe sits: 0 % the bottom, 100 % the top; at the thermostat it is "
             "about 25 %. Left out: it reads about the tank's mean, as in a tank that mixes."},
};

const struct setting_rows heat_rows = SETTING_ROWS(rows);

/* AS/NZS 4692.2, the greatest standing loss in a day at 55 K by delivery (2005), as published
 * at energyrating.gov.au; delivery is taken as volume. Between two rows, and beyond the
 * ends, on the line through the nearest two (no source). */
static const struct {
    int32_t volume_ml, loss_mwh;
} most_loss[] = {
    {25000, 980000},   {31500, 1050000},  {40000, 1120000},  {50000, 1190000},  {63000, 1330000},
    {80000, 1470000},  {100000, 1610000}, {125000, 1750000}, {160000, 1960000}, {200000, 2170000},
    {250000, 2380000}, {315000, 2660000}, {400000, 2870000}, {500000, 3150000}, {630000, 3430000},
};

int32_t heat_usual_loss_mwh(int32_t volume_ml)
{
    size_t k = 0;
    while (k + 2 < sizeof(most_loss) / sizeof(most_loss[0]) &&
           volume_ml > most_loss[k + 1].volume_ml)
        k++;
    int64_t rise_mwh = most_loss[k + 1].loss_mwh - most_loss[k].loss_mwh;
    int64_t run_ml = most_loss[k + 1].volume_ml - most_loss[k].volume_ml;
    int64_t beyond_ml = volume_ml - most_loss[k].volume_ml;
    return (int32_t)(most_loss[k].loss_mwh + rise_mwh * beyond_ml / run_ml);
}
