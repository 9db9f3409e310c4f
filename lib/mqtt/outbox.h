/* outbox.h - messages to the broker, as many as may be on their way.
 *
 * Inside this room only; with the mutex held. */
#ifndef SLUICE_MQTT_OUTBOX_H
#define SLUICE_MQTT_OUTBOX_H

#include "mqtt/shared.h"

/* As much of what is due as may go out now. */
void outbox_pump(struct mqtt *mqtt);

/* Something retained at the root or below is to be removed. */
void outbox_remove(struct mqtt *mqtt, const char *topic);

/* With the link up: QoS 1. False: it was not taken. */
bool outbox_publish(struct mqtt *mqtt, const char *topic, const void *payload, size_t length,
                    bool retain, int *id);

#endif
