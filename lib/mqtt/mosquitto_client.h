/* mosquitto_client.h - the library's client, ready to connect. Inside this room only. */
#ifndef SLUICE_MQTT_MOSQUITTO_CLIENT_H
#define SLUICE_MQTT_MOSQUITTO_CLIENT_H

#include <mosquitto.h>

#include "mqtt/mqtt.h"

/* NULL: `trouble` says why not. Its callbacks get `context`. */
struct mosquitto *mosquitto_client_new(const struct mqtt_settings *settings, void *context,
                                       const char *will_topic, struct trouble *trouble);

#endif
