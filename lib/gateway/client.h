/* client.h - one master that asks: a TCP connection, or the second serial port.
 *
 * Bytes are gathered until a request is whole; one request at a time is being served,
 * and no other is taken before its answer has gone out: a client that does not read is
 * not read from either. */
#ifndef SLUICE_GATEWAY_CLIENT_H
#define SLUICE_GATEWAY_CLIENT_H

#include <netinet/in.h>

#include "gateway/rate_limit.h"
#include "gateway/rtu.h"
#include "gateway/service.h"

enum client_kind { CLIENT_NONE, CLIENT_TCP, CLIENT_SERIAL };

enum { CLIENT_INPUT_MAX = 2 * FRAME_TCP_MAX };

/* A question that waits for a bus. */
struct waiting {
    bool waits;
    bool asked; /* it is the one under way there, or equal to it */
    uint8_t bus, unit;
    uint8_t length;
    uint8_t pdu[FRAME_PDU_MAX];
    int64_t until_us;
};

struct client {
    enum client_kind kind;
    int fd;
    uint32_t watched; /* the epoll events asked for */
    struct in6_addr address;
    bool ended; /* it sends no more */
    bool broken;
    uint8_t input[CLIENT_INPUT_MAX], output[FRAME_TCP_MAX];
    size_t in_used, in_taken, out_used, out_sent;
    int64_t reply_us; /* CLIENT_SERIAL: not to be sent before */
    int64_t heard_us; /* last whole request, or the beginning */
    int64_t begun_us; /* of a request that is not whole; 0: none */
    int64_t stuck_us; /* since when it has not read; 0: it reads */
    struct rate_limit limit;
    uint16_t transaction; /* of the request being served */
    uint8_t asked_unit;
    struct waiting waiting;
    struct rtu rtu; /* CLIENT_SERIAL */
};

void client_begin_tcp(struct client *client, int fd, const struct in6_addr *address, int32_t rate,
                      int64_t now_us);
void client_begin_serial(struct client *client, int fd, const struct gateway_settings *settings,
                         int64_t now_us);
void client_end(struct client *client); /* closes; the place is free */

void client_read(struct client *client, int64_t now_us);
void client_write(struct client *client, int64_t now_us);

/* The next whole request, where one may be served now; its bytes stay until
 * the next call of client_next or client_read. Sets `broken` where no Modbus came. */
bool client_next(struct client *client, const struct service *service, int64_t now_us,
                 struct frame_content *content);

/* Frames the reply to the request last taken, and sends it as far as it goes. */
void client_reply(struct client *client, const struct reply *reply, int64_t now_us);

/* The epoll events that it waits for now. */
uint32_t client_wants(const struct client *client, int64_t now_us);

/* When something about it is due without any event; INT64_MAX: nothing. */
int64_t client_due_us(const struct client *client, const struct gateway_settings *settings);

/* Whether it has been idle, slow or deaf for longer than is granted. */
bool client_is_overdue(const struct client *client, const struct gateway_settings *settings,
                       int64_t now_us);

#endif
