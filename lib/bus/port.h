/* port.h - opening what a line's bytes go through: a serial port, or a TCP peer. */
#ifndef SLUICE_BUS_PORT_H
#define SLUICE_BUS_PORT_H

#include <modbus/modbus.h>

#include "bus/bus.h"

/* Can these settings be opened at all? */
bool port_check(const struct bus_settings *settings, struct trouble *trouble);

/* Bounded: at most about three seconds beyond name resolution. NULL: see `trouble`. */
modbus_t *port_open(const struct bus_settings *settings, struct trouble *trouble);
void port_close(const struct bus_settings *settings, modbus_t **context); /* NULL after */

#endif
