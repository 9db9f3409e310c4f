/* sections.c - the file's sections, and the rows that belong to no other room. */
#include "sections.h"

#include <string.h>

static const struct setting_choice roles[] = {
    {"grid", ROLE_GRID, "the meter at the connection point; import is positive"},
    {"solar", ROLE_SOLAR, "solar power, from an inverter or a meter"},
    {"battery", ROLE_BATTERY, "a battery; charging is positive"},
    {"load", ROLE_LOAD, "one load's own meter"},
    {"tank", ROLE_TANK, "a thermometer in the tank"},
    {NULL, 0, NULL},
};

static const struct setting_row own_site_rows[] = {
    {.key = "name",
     .kind = SETTING_TEXT,
     SETTING_AT(struct settings, site_name),
     .initial = "House",
     .example = "Wattle house",
     .text = "What the site is called on screens."},
    {.key = "timezone",
     .kind = SETTING_TEXT,
     SETTING_AT(struct settings, timezone),
     .initial = NULL,
     .example = "Australia/Sydney",
     .text = "The time zone of the household (timedatectl list-timezones), or a POSIX rule such as "
             "AEST-10AEDT,M10.1.0,M4.1.0/3."},
    {.key = "control_socket",
     .kind = SETTING_TEXT,
     SETTING_AT(struct settings, control_socket),
     .initial = "/run/sluice/control",
     .text = "Where the command `sluice` reaches the daemon."},
    {.key = "on_fault",
     .kind = SETTING_TEXT,
     SETTING_AT(struct settings, on_fault),
     .initial = "",
     .example = "/etc/sluice/on-fault",
     .text =
         "A command that /bin/sh runs when a fault appears, changes or ends: what changed is on "
         "its standard input as text, ready for mail. One at a time, at most once a minute, "
         "ended after 30 s. It runs as the daemon's user; README says what it gets."},
};
const struct setting_rows site_rows = SETTING_ROWS(own_site_rows);

static const struct setting_row own_installer_rows[] = {
    {.key = "name",
     .kind = SETTING_TEXT,
     SETTING_AT(struct installer, name),
     .initial = "",
     .example = "Example Solar and Electrical",
     .text = "Whom the household calls."},
    {.key = "phone",
     .kind = SETTING_TEXT,
     SETTING_AT(struct installer, phone),
     .initial = "",
     .example = "02 5550 0000",
     .text = "The number to call."},
    {.key = "email",
     .kind = SETTING_TEXT,
     SETTING_AT(struct installer, email),
     .initial = "",
     .example = "service@example.com",
     .text = "The address to write to."},
    {.key = "licence",
     .kind = SETTING_TEXT,
     SETTING_AT(struct installer, licence),
     .initial = "",
     .example = "EC 00000",
     .text = "The licence for the electrical work, where local codes ask for it to be stated."},
};
const struct setting_rows installer_rows = SETTING_ROWS(own_installer_rows);

/* ---- the tariff ----------------------------------------------------------------------------- */

static const struct setting_choice pers[] = {
    {"month", TARIFF_PER_MONTH, "once a month"},
    {"day", TARIFF_PER_DAY, "for each day of the month"},
    {NULL, 0, NULL},
};

/* When a band or a charge holds. */
#define WHEN_ROWS(type)                                                                            \
    {.key = "hours",                                                                               \
     .kind = SETTING_HOURS,                                                                        \
     SETTING_AT(type, hours),                                                                      \
     .initial = "",                                                                                \
     .example = "mon-fri 15:00-21:00",                                                             \
     .text = "When it holds; without them always."},                                               \
    {                                                                                              \
        .key = "months", .kind = SETTING_WORDS, SETTING_AT(type, first_month), .initial = "",      \
        .example = "nov-mar",                                                                      \
        .text = "Its season, such as nov-mar or jul; without it the whole year."                   \
    }

static const struct setting_row own_tariff_rows[] = {
    {.key = "daily",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DAILY_MICRO,
     SETTING_AT(struct tariff, daily_micro),
     .least = 0,
     .greatest = 1000000000,
     .initial = "0 /day",
     .text = "What the supply costs each day, used or not."},
    {.key = "feed_in",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_PRICE_MICRO,
     SETTING_AT(struct tariff, feed_in_micro),
     .least = -10000000,
     .greatest = 10000000,
     .initial = "0 /kWh",
     .text = "Credit for a kWh exported; negative: a cost."},
    {.key = "import",
     .kind = SETTING_WORDS,
     SETTING_AT(struct tariff, band),
     .initial = "",
     .example = "[{price: 0.30 /kWh}]",
     .text = "Import prices. The last band that holds at a moment counts: the first always holds, "
             "those after it are exceptions."},
    {.key = "feed_in_bands",
     .kind = SETTING_WORDS,
     SETTING_AT(struct tariff, feed_in_band),
     .initial = "",
     .example = "[{price: -0.02 /kWh, hours: \"10:00-15:00\"}]",
     .text = "Exceptions from feed_in; the last that holds at a moment counts."},
    {.key = "demand",
     .kind = SETTING_WORDS,
     SETTING_AT(struct tariff, demand),
     .initial = "",
     .example = "[{price: 12.50 /kW}]",
     .text = "Charges for the highest mean power of a month; up to four, which add up."},
};
const struct setting_rows tariff_rows = SETTING_ROWS(own_tariff_rows);

static const struct setting_row own_band_rows[] = {
    {.key = "price",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_PRICE_MICRO,
     SETTING_AT(struct tariff_band, price_micro),
     .least = -10000000,
     .greatest = 100000000,
     .initial = NULL,
     .example = "0.30 /kWh",
     .text = "Price of a kWh imported."},
    WHEN_ROWS(struct tariff_band),
};
const struct setting_rows band_rows = SETTING_ROWS(own_band_rows);

static const struct setting_row own_feed_in_band_rows[] = {
    {.key = "price",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_PRICE_MICRO,
     SETTING_AT(struct tariff_band, price_micro),
     .least = -10000000,
     .greatest = 10000000,
     .initial = NULL,
     .example = "-0.02 /kWh",
     .text = "Credit for a kWh exported; negative: a cost."},
    WHEN_ROWS(struct tariff_band),
};
const struct setting_rows feed_in_band_rows = SETTING_ROWS(own_feed_in_band_rows);

static const struct setting_row own_demand_rows[] = {
    {.key = "price",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DEMAND_MICRO,
     SETTING_AT(struct tariff_demand, price_micro),
     .least = 0,
     .greatest = 1000000000,
     .initial = NULL,
     .example = "12.50 /kW",
     .text = "What each kW of the month's highest import costs."},
    {.key = "per",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct tariff_demand, per),
     .initial = "month",
     .choices = pers,
     .text = "How often that price is paid."},
    {.key = "window",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct tariff_demand, window_ms),
     .least = MS_PER_MIN,
     .greatest = MS_PER_HOUR,
     .initial = "30 min",
     .text = "Over which the mean is taken; it divides the hour evenly."},
    WHEN_ROWS(struct tariff_demand),
};
const struct setting_rows demand_rows = SETTING_ROWS(own_demand_rows);

static const struct setting_row own_controlled_rows[] = {
    {.key = "hours",
     .kind = SETTING_HOURS,
     SETTING_AT(struct tariff_controlled, hours),
     .initial = NULL,
     .example = "22:00-06:00",
     .text = "When the supplier switches it on."},
    {.key = "daily",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DAILY_MICRO,
     SETTING_AT(struct tariff_controlled, daily_micro),
     .least = 0,
     .greatest = 1000000000,
     .initial = "0 /day",
     .text = "What this supply costs each day besides the other."},
    {.key = "import",
     .kind = SETTING_WORDS,
     SETTING_AT(struct tariff_controlled, band),
     .initial = "",
     .example = "[{price: 0.18 /kWh}]",
     .text = "Its prices; the last band that holds at a moment counts."},
};
const struct setting_rows controlled_rows = SETTING_ROWS(own_controlled_rows);

/* ---- meters and names ----------------------------------------------------------------------- */

static const struct setting_row own_meter_rows[] = {
    {.key = "role",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct meter_settings, role),
     .initial = NULL,
     .choices = roles,
     .example = "grid",
     .text = "What it measures."},
    {.key = "bus",
     .kind = SETTING_TEXT,
     SETTING_AT(struct meter_settings, bus),
     .initial = NULL,
     .example = "switchboard",
     .text = "The bus it is on, by its name under buses."},
    {.key = "unit",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct meter_settings, unit),
     .least = 1,
     .greatest = 247,
     .initial = "1",
     .text = "Its unit id, 1 to 247."},
    {.key = "map",
     .kind = SETTING_TEXT,
     SETTING_AT(struct meter_settings, map_name),
     .initial = NULL,
     .example = "eastron-sdm630",
     .text = "Its register map: a file of the folder meters, or sunspec."},
    {.key = "every",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct meter_settings, every_ms),
     .least = 100,
     .greatest = 60000,
     .initial = "1 s",
     .text = "How often it is read."},
    {.key = "totals_every",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct meter_settings, totals_every_ms),
     .least = 1000,
     .greatest = 3600000,
     .initial = "30 s",
     .text = "How often its energy registers are read."},
    {.key = "inverted",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct meter_settings, inverted),
     .initial = "no",
     .text = "It is wired the other way round. To find out: a load that is switched on must make "
             "the grid's power rise."},
    {.key = "load",
     .kind = SETTING_TEXT,
     .only = 1u << ROLE_LOAD | 1u << ROLE_TANK,
     SETTING_AT(struct meter_settings, load),
     .initial = "",
     .example = "pool-pump",
     .text = "The load that it measures, or whose tank. A thermometer needs none where only one "
             "load heats water."},
};
const struct setting_rows meter_rows = SETTING_ROWS(own_meter_rows);

static const struct setting_row own_name_rows[] = {
    {.key = "title",
     .kind = SETTING_TEXT,
     SETTING_AT(struct load_names, title),
     .initial = "",
     .example = "Water heater",
     .text = "What people call it; without one, its name."},
    {.key = "rated_operations",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct load_names, rated_operations),
     .least = 0,
     .greatest = 100000000,
     .initial = "0",
     .example = "200000",
     .text = "How many operations its contactor is rated for at this load (its data sheet, "
             "electrical life): at nine tenths of that its replacement is advised. 0: not stated."},
};
const struct setting_rows name_rows = SETTING_ROWS(own_name_rows);

static const struct setting_row own_lamp_rows[] = {
    {.key = "load",
     .kind = SETTING_TEXT,
     SETTING_AT(struct lamp_settings, load),
     .initial = "",
     .example = "water-heater",
     .text = "The load whose heating it shows; without it any of them."},
    {.key = "output",
     .kind = SETTING_WORDS,
     SETTING_AT(struct lamp_settings, output),
     .initial = "",
     .example = "{kind: line, line: 23}",
     .text =
         "What lights it, written as a load's output is: a transistor output or a GPIO line, as "
         "blinking wears a relay. It can't go over the broker."},
};
const struct setting_rows lamp_rows = SETTING_ROWS(own_lamp_rows);

static const struct section sections[] = {
    {"site", &site_rows, "The site and its supply."},
    {"site", &rules_site_rows, NULL},
    {"site.installer", &installer_rows,
     "Who set the house up; `sluice handover` prints it for whoever lives in it."},
    {"tariff", &tariff_rows,
     "What energy costs. Needed for floors bought in the cheapest hours and for a start fraction "
     "that is derived or learnt. The unit of money is yours."},
    {"tariff.import[]", &band_rows, NULL},
    {"tariff.feed_in_bands[]", &feed_in_band_rows, NULL},
    {"tariff.demand[]", &demand_rows, NULL},
    {"tariff.controlled", &controlled_rows,
     "An off-peak supply: a circuit of its own that the supplier switches by the clock. It is "
     "here to be compared with; sluice does not switch it."},
    {"tariff.controlled.import[]", &band_rows, NULL},
    {"buses.NAME", &bus_setting_rows,
     "Serial lines and Modbus TCP peers, each under a name of your own. A line has one master: "
     "where an inverter or a logger already polls the meter, sluice only listens (mode: listen; "
     "by a receive-only, isolated tap without added termination)."},
    {"meters.NAME", &meter_rows, "What is read. Exactly one has the role grid."},
    {"groups.NAME", &rules_group_rows, "Loads that share a limit, by name."},
    {"loads.NAME", &name_rows, "What is switched. Orders and topics use the load's name."},
    {"loads.NAME", &rules_load_rows, NULL},
    {"loads.NAME.water", &heat_rows,
     "What a water heater heats: for start_fraction: learnt, and for replays."},
    {"loads.NAME.output", &output_setting_rows,
     "What switches the load. A board's relay drives the contactor's coil, never the element."},
    {"loads.NAME.floors[]", &rules_floor_rows,
     "What is guaranteed, whatever the weather; up to four a load. Each is served from spare "
     "power first, and then bought, early enough for its deadline."},
    {"inputs.NAME", &input_role_rows,
     "What is sensed at the board, each under a name of your own: a push-button for hot water now, "
     "a hand-off-auto switch, what is behind a contactor, an off-peak supply, an inhibit."},
    {"inputs.NAME", &input_source_rows, NULL},
    {"sensors.NAME", &sensor_rows,
     "Temperature sensors in tanks that are no meters on a bus, each under a name of your own: one "
     "a load. In or on the tank, not on the pipe; a pocket or a strap under the insulation. Mains "
     "is near: isolate and prove dead before opening."},
    {"lamp", &lamp_rows,
     "A lamp at the board or in the hall: steady while the meter shows that there is heating, a "
     "blink each 5 s while something is wrong (sluice status says what)."},
    {"gateway", &gateway_setting_rows,
     "The meter for other masters. Its RS-485 pair allows one master, and that is sluice; others "
     "poll sluice: what it has just read is answered from that, the rest is passed on to the "
     "meter. Not for an inverter that limits export by this meter: that one keeps its own wire "
     "to it; listen there, or fit a second meter."},
    {"gateway.serve[]", &gateway_served_rows, NULL},
    {"mqtt", &mqtt_setting_rows,
     "The broker. Without this section there is none, and nothing else changes: no floor depends "
     "on it."},
    {"storage", &ledger_setting_rows, "What survives a restart."},
};

const struct section *section_at(const struct section *more, int k)
{
    const int own = sizeof(sections) / sizeof(sections[0]);
    return k < own ? &sections[k] : k == own ? more : NULL;
}

bool is_name(const char *text)
{
    size_t length = strlen(text);
    return length > 0 && length < SETTINGS_NAME_MAX &&
           strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-") == length && text[0] != '-' &&
           text[length - 1] != '-';
}
