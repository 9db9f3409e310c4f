/* client.c - bytes in, one request at a time, bytes out; and what is too slow.
 *
 * Nothing here waits. Backpressure does the rest: while a request is being served, while
 * its answer has not gone out, or while the client is ahead of its rate, no more than a
 * buffer is read from it, and TCP lets it wait. */
#include "gateway/client.h"

#include <errno.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "bus/serial_port.h"

/* Nobody needs that long for 260 bytes; one who holds a place so is put out. */
enum { HALF_A_FRAME_US = 10 * 1000000, DEAF_US = 10 * 1000000 };

static bool is_serial(const struct client *client)
{
    return client->kind == CLIENT_SERIAL;
}

void client_begin_tcp(struct client *client, int fd, const struct in6_addr *address, int32_t rate,
                      int64_t now_us)
{
    *client = (struct client){.kind = CLIENT_TCP,
                              .fd = fd,
                              .address = *address,
                              .heard_us = now_us,
                              .limit = rate_limit_begin(rate, now_us)};
}

void client_begin_serial(struct client *client, int fd, const struct gateway_settings *settings,
                         int64_t now_us)
{
    *client = (struct client){.kind = CLIENT_SERIAL, .fd = fd, .heard_us = now_us};
    rtu_begin(&client->rtu, settings);
}

void client_end(struct client *client)
{
    if (is_serial(client))
        serial_close(client->fd);
    else
        close(client->fd);
    client->kind = CLIENT_NONE;
}

/* ---- in ------------------------------------------------------------------------------ */

static void drop_taken(struct client *client)
{
    if (client->in_taken == 0)
        return;
    client->in_used -= client->in_taken;
    memmove(client->input, client->input + client->in_taken, client->in_used);
    client->in_taken = 0;
    client->begun_us = 0;
}

void client_read(struct client *client, int64_t now_us)
{
    drop_taken(client);
    size_t room = sizeof(client->input) - client->in_used;
    if (room == 0)
        return;
    ssize_t got = read(client->fd, client->input + client->in_used, room);
    if (got > 0) {
        client->in_used += (size_t)got;
        client->rtu.last_us = now_us;
    } else if (got == 0 && !is_serial(client)) {
        client->ended = true;
    } else if (got == 0 || (errno != EAGAIN && errno != EINTR)) {
        client->broken = true; /* of a serial port: it was pulled out */
    }
}

static bool may_take(const struct client *client, int64_t now_us)
{
    if (client->out_used > 0)
        return false;
    if (is_serial(client))
        return true;
    return !client->waiting.waits && now_us >= rate_limit_next_us(&client->limit);
}

static bool next_tcp(struct client *client, struct frame_content *content)
{
    int length = frame_mbap_check(client->input, client->in_used, content);
    client->broken |= length < 0;
    client->in_taken = length > 0 ? (size_t)length : 0;
    return length > 0;
}

/* A master on a serial line that asks again has given up what it asked before. */
static bool next_serial(struct client *client, const struct service *service, int64_t now_us,
                        struct frame_content *content)
{
    bool found = false;
    client->in_taken =
        rtu_find(&client->rtu, service, client->input, client->in_used, now_us, content, &found);
    if (found)
        client->waiting.waits = false;
    else
        drop_taken(client);
    return found;
}

bool client_next(struct client *client, const struct service *service, int64_t now_us,
                 struct frame_content *content)
{
    drop_taken(client);
    if (client->broken || client->in_used == 0 || !may_take(client, now_us))
        return false;
    bool found = is_serial(client) ? next_serial(client, service, now_us, content)
                                   : next_tcp(client, content);
    if (!found) {
        client->begun_us = client->in_used == 0 ? 0 : client->begun_us ? client->begun_us : now_us;
        return false;
    }
    if (!is_serial(client))
        rate_limit_take(&client->limit, now_us);
    client->heard_us = now_us;
    client->transaction = content->transaction;
    client->asked_unit = content->unit;
    return true;
}

/* ---- out ----------------------------------------------------------------------------- */

static ssize_t send_some(const struct client *client)
{
    const uint8_t *from = client->output + client->out_sent;
    size_t left = client->out_used - client->out_sent;
    return is_serial(client) ? write(client->fd, from, left)
                             : send(client->fd, from, left, MSG_NOSIGNAL | MSG_DONTWAIT);
}

void client_write(struct client *client, int64_t now_us)
{
    if (client->out_used == 0 || now_us < client->reply_us)
        return;
    ssize_t sent = send_some(client);
    if (sent < 0 && errno != EAGAIN && errno != EINTR)
        client->broken = true;
    if (sent > 0)
        client->out_sent += (size_t)sent;
    if (client->out_sent == client->out_used) {
        client->out_used = client->out_sent = 0;
        client->stuck_us = 0;
    } else if (client->stuck_us == 0) {
        client->stuck_us = now_us;
    }
}

/* Serial Line V1.02, 2.5.1.1: frames are 3.5 characters apart. What we have sent is
 * remembered, should the adapter give it back. */
static void frame_serial(struct client *client, const struct reply *reply, int64_t now_us)
{
    struct rtu *rtu = &client->rtu;
    client->out_used =
        frame_rtu_build(client->output, client->asked_unit, reply->pdu, reply->length);
    client->reply_us = rtu->last_us + rtu->gap_us;
    memcpy(rtu->answer, client->output, client->out_used);
    rtu->sent = client->out_used;
    rtu->sent_us = (client->reply_us > now_us ? client->reply_us : now_us) +
                   (int64_t)client->out_used * rtu->byte_us;
}

void client_reply(struct client *client, const struct reply *reply, int64_t now_us)
{
    client->waiting.waits = false;
    client->out_sent = 0;
    if (is_serial(client))
        frame_serial(client, reply, now_us);
    else
        client->out_used = frame_mbap_build(client->output, client->transaction, client->asked_unit,
                                            reply->pdu, reply->length);
    client_write(client, now_us);
}

/* ---- what it waits for ------------------------------------------------------------------ */

static bool has_room(const struct client *client)
{
    return client->in_used - client->in_taken < sizeof(client->input);
}

uint32_t client_wants(const struct client *client, int64_t now_us)
{
    bool limited = !is_serial(client) && now_us < rate_limit_next_us(&client->limit);
    uint32_t wants = 0;
    if (!client->ended && !limited && has_room(client))
        wants |= EPOLLIN;
    if (client->out_used > 0 && now_us >= client->reply_us)
        wants |= EPOLLOUT;
    return wants;
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t overdue_us(const struct client *client, const struct gateway_settings *settings)
{
    int64_t due = INT64_MAX;
    if (client->stuck_us)
        due = client->stuck_us + DEAF_US;
    if (is_serial(client) || client->waiting.waits)
        return due;
    if (client->begun_us)
        due = earlier(due, client->begun_us + HALF_A_FRAME_US);
    return earlier(due, client->heard_us + (int64_t)settings->idle_ms * 1000);
}

int64_t client_due_us(const struct client *client, const struct gateway_settings *settings)
{
    int64_t due = overdue_us(client, settings);
    if (client->waiting.waits)
        due = earlier(due, client->waiting.until_us);
    if (is_serial(client) && client->out_used > 0 && client->stuck_us == 0)
        due = earlier(due, client->reply_us);
    else if (is_serial(client) && client->in_used > 0)
        due = earlier(due, rtu_quiet_us(&client->rtu));
    else if (!is_serial(client) && !client->waiting.waits && client->out_used == 0 &&
             client->limit.paid_us > 0 && !client->ended)
        due = earlier(due,
                      client->watched & EPOLLIN ? INT64_MAX : rate_limit_next_us(&client->limit));
    return due;
}

bool client_is_overdue(const struct client *client, const struct gateway_settings *settings,
                       int64_t now_us)
{
    return now_us >= overdue_us(client, settings);
}
