/* link.h - the connection: one thread that comes and goes with the broker.
 *
 * Inside this room only. */
#ifndef SLUICE_MQTT_LINK_H
#define SLUICE_MQTT_LINK_H

/* The link's thread: `context` is the struct mqtt. Frees it at its end if abandoned. */
void *link_run(void *context);

#endif
