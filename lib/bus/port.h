/* port.h - opening what the bytes go through: a serial port, or a TCP peer. */
#ifndef SLUICE_BUS_PORT_H
#define SLUICE_BUS_PORT_H

#include <modbus/modbus.h>

#include "bus/bus.h"

/* An open port: libmodbus's context and, for a serial port, the descriptor that
 * holds the lock. */
struct port {
    modbus_t *context; /* NULL: closed */
    int lock;          /* -1: none */
};

/* Can these settings be opened at all? */
bool port_check(const struct bus_settings *settings, struct trouble *trouble);

/* Bounded: at most about three seconds beyond name resolution. */
bool port_open(struct port *port, const struct bus_settings *settings, struct trouble *trouble);
void port_close(struct port *port);

/* A serial port for reading alone, without waiting; -1: see `trouble`. The line that
 * may switch an adapter to sending is let go. */
int port_listen(const struct bus_settings *settings, struct trouble *trouble);
void port_listen_end(int fd); /* -1 is nothing to end */

#endif
