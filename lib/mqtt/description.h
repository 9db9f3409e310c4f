/* description.h - the device's $description, and whether its parts may be in one. */
#ifndef SLUICE_MQTT_DESCRIPTION_H
#define SLUICE_MQTT_DESCRIPTION_H

#include <stddef.h>

#include "mqtt/mqtt.h"

/* Homie 5, "Topic IDs": a-z, 0-9 and hyphen. */
bool description_id_ok(const char *id);

/* Ids legal, none twice, formats that make sense, orders only where they can be
 * checked. False: `trouble` names the property. */
bool description_ok(const struct mqtt_property properties[], int count, struct trouble *trouble);

/* JSON, to be freed; NULL where memory is out. */
char *description_write(const char *home_name, const struct mqtt_property properties[], int count,
                        int64_t version);

/* Calls `each` with every property in somebody's description whose ids are legal. */
void description_each(const void *json, size_t length,
                      void (*each)(void *context, const char *node, const char *id, bool settable),
                      void *context);

/* The version in somebody's description, 0 where there is none to be had. */
int64_t description_version(const void *json, size_t length);

#endif
