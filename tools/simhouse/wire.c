/* libmodbus' server has traps for a single thread: modbus_receive waits for the
 * rest of a request that never comes, an RTU server takes other units' answers
 * for requests and serves one unit id only, a wrong quantity makes modbus_reply
 * sleep a response time-out. So each kind of line gets a context whose socket is
 * one end of a socket pair: whole requests are put into the other end and the
 * answer taken out there. It never waits, many units are possible, and a fault
 * can be put between the answer and the line. */
#include "wire.h"

#include <errno.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <unistd.h>

struct wire {
    modbus_t *context[2]; /* by enum wire_kind */
    int near[2], far[2];  /* ours, libmodbus' */
};

static bool open_pair(struct wire *wire, enum wire_kind kind, modbus_t *context)
{
    int pair[2];
    wire->context[kind] = context;
    if (!context || socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, pair) < 0)
        return false;
    wire->near[kind] = pair[0];
    wire->far[kind] = pair[1];
    modbus_set_socket(context, pair[1]);
    modbus_set_indication_timeout(context, 0, 1000);
    modbus_set_byte_timeout(context, 0, 1000);
    /* modbus_reply sleeps so long after a request with a wrong quantity. */
    modbus_set_response_timeout(context, 0, 1);
    return true;
}

struct wire *wire_new(void)
{
    struct wire *wire = calloc(1, sizeof(*wire));
    if (!wire)
        return NULL;
    for (int i = 0; i < 2; i++)
        wire->near[i] = wire->far[i] = -1;
    /* Never connected: the addresses are only there to satisfy the library. */
    if (open_pair(wire, WIRE_TCP, modbus_new_tcp("127.0.0.1", 502)) &&
        open_pair(wire, WIRE_RTU, modbus_new_rtu("/dev/null", 9600, 'N', 8, 1)))
        return wire;
    wire_free(wire);
    return NULL;
}

void wire_free(struct wire *wire)
{
    for (int i = 0; wire && i < 2; i++) {
        if (wire->near[i] >= 0)
            close(wire->near[i]);
        if (wire->far[i] >= 0)
            close(wire->far[i]);
        if (wire->context[i])
            modbus_free(wire->context[i]);
    }
    free(wire);
}

int wire_unit_at(enum wire_kind kind)
{
    return kind == WIRE_TCP ? 6 : 0;
}

static void drain(int fd)
{
    uint8_t rest[WIRE_FRAME_MAX];
    while (recv(fd, rest, sizeof(rest), MSG_DONTWAIT) > 0)
        ;
}

int wire_answer(struct wire *wire, enum wire_kind kind, const uint8_t *request, int length,
                modbus_mapping_t *map, unsigned exception, uint8_t answer[static WIRE_FRAME_MAX])
{
    modbus_t *context = wire->context[kind];
    uint8_t received[WIRE_FRAME_MAX];
    if (kind == WIRE_RTU)
        modbus_set_slave(context, request[0]);
    if (send(wire->near[kind], request, (size_t)length, MSG_NOSIGNAL) != length)
        return 0;
    int got = modbus_receive(context, received);
    if (got > 0 && exception)
        modbus_reply_exception(context, received, exception);
    else if (got > 0)
        modbus_reply(context, received, got, map);
    drain(wire->far[kind]); /* what libmodbus left of a request it didn't understand */
    ssize_t sent = recv(wire->near[kind], answer, WIRE_FRAME_MAX, MSG_DONTWAIT);
    return sent > 0 ? (int)sent : 0;
}

/* Modbus over Serial Line V1.02, 6.2.2. */
void wire_seal(uint8_t *frame, int length)
{
    uint16_t crc = 0xffff;
    for (int i = 0; i < length - 2; i++) {
        crc ^= frame[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (uint16_t)(crc & 1 ? crc >> 1 ^ 0xa001 : crc >> 1);
    }
    frame[length - 2] = (uint8_t)(crc & 0xff);
    frame[length - 1] = (uint8_t)(crc >> 8);
}
