/* house.h - an invented house for the broker's tests. */
#ifndef TESTS_MQTT_HOUSE_H
#define TESTS_MQTT_HOUSE_H

#include "rig.h"

enum {
    GRID_POWER,
    ON,
    POWER,
    REASON,
    ENERGY,
    ORDER,
    BOOST,
    MODE,
    ENABLE,
    LIMIT,
    DEADLINE,
    HOUSE_COUNT,
};

extern const struct mqtt_property house[HOUSE_COUNT];

/* Started, described, every value known; `inbox` holds 8 messages. */
struct mqtt *house_start(const struct mqtt_settings *settings, struct mailbox **inbox);
void house_values(struct mqtt *mqtt);
void house_stop(struct mqtt *mqtt, struct mailbox *inbox);

#endif
