/* inbox.h - one message has arrived. Inside this room only. */
#ifndef SLUICE_MQTT_INBOX_H
#define SLUICE_MQTT_INBOX_H

#include "mqtt/shared.h"

/* Takes the mutex. */
void inbox_message(struct mqtt *mqtt, const struct mosquitto_message *message);

#endif
