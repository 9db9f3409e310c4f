/* subscriptions.h - the topics that we listen to: those of orders, and those asked for.
 *
 * Inside this room only; with the mutex held. */
#ifndef SLUICE_MQTT_SUBSCRIPTIONS_H
#define SLUICE_MQTT_SUBSCRIPTIONS_H

#include "mqtt/shared.h"

/* All of them, on a new connection. */
void subscriptions_begin(struct mqtt *mqtt, struct mosquitto *client);

/* What the broker says to them: what it denies is the connection's trouble. */
void subscriptions_granted(struct mqtt *mqtt, int count, const int granted[]);

/* What is new among the topics asked for. */
void subscriptions_add(struct mqtt *mqtt);

/* The orders of a new description. */
void subscriptions_exchange(struct mqtt *mqtt, const struct homie *old);

#endif
