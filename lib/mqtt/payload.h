/* payload.h - is this what the property takes?
 *
 * Bytes from a broker are anybody's. They become a value only when the property's
 * datatype and format allow them, as the Homie convention 5 writes them. Pure. */
#ifndef SLUICE_MQTT_PAYLOAD_H
#define SLUICE_MQTT_PAYLOAD_H

#include <stddef.h>

#include "mqtt/mqtt.h"

/* Its name in a description. */
const char *payload_datatype(enum mqtt_datatype datatype);

/* Whether datatype and format make sense together, and orders of it can be checked; false fills
 * `trouble`. */
bool payload_format_ok(const struct mqtt_property *property, struct trouble *trouble);

/* Writes the value as the loop will see it: the payload itself. False: `trouble` quotes what
 * came and says what was expected. */
bool payload_accept(const struct mqtt_property *property, const void *payload, size_t length,
                    char value[static MQTT_VALUE_MAX], struct trouble *trouble);

/* Terminated text without control characters, UTF-8 throughout and short enough. */
bool payload_text(const void *payload, size_t length, char value[static MQTT_VALUE_MAX],
                  struct trouble *trouble);

#endif
