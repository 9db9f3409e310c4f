/* house.c - one load with every datatype, and the grid. */
#include "house.h"

#include <check.h>

#define LOAD .node = "water-heater", .node_name = "Water heater"

const struct mqtt_property house[HOUSE_COUNT] = {
    [GRID_POWER] = {.node = "site",
                    .node_name = "Wattle house",
                    .id = "grid-power",
                    .name = "Grid power",
                    .datatype = MQTT_INTEGER,
                    .unit = "W"},
    [ON] = {LOAD, .id = "on", .name = "On", .datatype = MQTT_BOOLEAN},
    [POWER] = {LOAD, .id = "power", .name = "Power", .datatype = MQTT_INTEGER, .unit = "W"},
    [REASON] = {LOAD, .id = "reason", .name = "Reason", .datatype = MQTT_STRING},
    [ENERGY] = {LOAD, .id = "energy", .name = "Energy", .datatype = MQTT_FLOAT, .unit = "kWh"},
    [ORDER] = {LOAD, .id = "order", .name = "Order", .datatype = MQTT_STRING, .settable = true},
    [BOOST] = {LOAD, .id = "boost", .name = "Boost", .datatype = MQTT_STRING, .settable = true},
    [MODE] = {LOAD, .id = "mode", .name = "Mode", .datatype = MQTT_ENUM, .format = "auto,on,off",
              .settable = true},
    [ENABLE] = {LOAD, .id = "enable", .name = "Enable", .datatype = MQTT_BOOLEAN, .settable = true},
    [LIMIT] = {LOAD, .id = "limit", .name = "Limit", .datatype = MQTT_FLOAT, .unit = "kW"},
    [DEADLINE] = {LOAD, .id = "deadline", .name = "Deadline", .datatype = MQTT_DATETIME},
};

void house_values(struct mqtt *mqtt)
{
    static const char *const values[HOUSE_COUNT] = {
        [GRID_POWER] = "-1200",
        [ON] = "false",
        [POWER] = "0",
        [REASON] = "off: spare 1.2 kW of 3.6 kW needed",
        [ENERGY] = "3.250",
        [ORDER] = "auto",
        [BOOST] = "0",
        [MODE] = "auto",
        [ENABLE] = "true",
        [LIMIT] = "3.6",
        [DEADLINE] = "2026-01-14T18:30:00+11:00",
    };
    for (int i = 0; i < HOUSE_COUNT; i++)
        mqtt_value(mqtt, i, values[i]);
}

struct mqtt *house_start(const struct mqtt_settings *settings, struct mailbox **inbox)
{
    struct trouble trouble = {.text = ""};
    *inbox = mailbox_new(8, sizeof(struct mqtt_message));
    struct mqtt *mqtt =
        mqtt_start(settings, "Wattle house", house, HOUSE_COUNT, "", *inbox, &trouble);
    ck_assert_msg(mqtt != NULL, "%s", trouble.text);
    house_values(mqtt);
    return mqtt;
}

void house_stop(struct mqtt *mqtt, struct mailbox *inbox)
{
    mqtt_stop(mqtt);
    mailbox_free(inbox);
}
