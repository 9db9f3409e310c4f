/* wire.h - libmodbus as the server, without letting it near a socket.
 *
 * A whole request goes in, the whole answer comes out; framing in and out of
 * real sockets is server.c's. libmodbus does the decoding, the checks and the
 * answer. */
#ifndef SIMHOUSE_WIRE_H
#define SIMHOUSE_WIRE_H

#include <modbus/modbus.h>
#include <stdbool.h>
#include <stdint.h>

enum { WIRE_FRAME_MAX = MODBUS_MAX_ADU_LENGTH };

enum wire_kind { WIRE_TCP, WIRE_RTU };

struct wire;

struct wire *wire_new(void); /* NULL: no memory or descriptors; errno tells */
void wire_free(struct wire *wire);

/* Where the unit id and the PDU stand in a frame. */
int wire_unit_at(enum wire_kind kind);

/* Bytes of the answer, 0 for none. `exception` instead of an answer where it is
 * not 0; `map` may be NULL then. */
int wire_answer(struct wire *wire, enum wire_kind kind, const uint8_t *request, int length,
                modbus_mapping_t *map, unsigned exception, uint8_t answer[static WIRE_FRAME_MAX]);

/* Puts the CRC on an RTU frame whose last two bytes are free. */
void wire_seal(uint8_t *frame, int length);

#endif
