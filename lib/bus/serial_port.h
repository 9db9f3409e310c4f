/* serial_port.h - opening a serial port, for whoever talks Modbus on it.
 *
 * Two programs on one line garble both, so a port is ours alone while it is open: locked
 * before its speed is touched, and closed to other users after. */
#ifndef SLUICE_BUS_SERIAL_PORT_H
#define SLUICE_BUS_SERIAL_PORT_H

#include "core/serial_line.h"
#include "core/trouble.h"

enum serial_use {
    SERIAL_TALK,
    SERIAL_LISTEN, /* read only: no code in this program can write to the descriptor */
};

/* Whether it is a speed of serial lines here. */
bool serial_baud_is_known(int32_t baud);

/* The open port, raw and without waiting; -1: `trouble` (at `place`) says why. */
int serial_open(const char *port, int32_t baud, uint8_t parity, uint8_t stop_bits,
                enum serial_use use, const char *place, struct trouble *trouble);
void serial_close(int fd); /* -1 is nothing to close */

#endif
