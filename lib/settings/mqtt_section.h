/* mqtt_section.h - the broker. */
#ifndef SLUICE_SETTINGS_MQTT_SECTION_H
#define SLUICE_SETTINGS_MQTT_SECTION_H

#include "read.h"

/* Without the section there is no broker; settings->mqtt.enabled tells. */
void mqtt_read(const struct reader *reader, const struct node *root, struct settings *settings);

#endif
