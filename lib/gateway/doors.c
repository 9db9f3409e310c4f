/* doors.c - who comes in.
 *
 * A door that can't be opened is tried again each few seconds: an address may come with
 * the network, an adapter be plugged in. Of those who knock by TCP, peers that are not
 * allowed and those beyond the limits are disconnected at once; but where all places are
 * taken and one has been unused for a while, the one longest unused makes room
 * (recommended by Modbus Messaging on TCP/IP Implementation Guide V1.0b, 4.2; from
 * memory). */
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "bus/serial_port.h"
#include "gateway/inside.h"
#include "gateway/watch.h"

enum {
    AGAIN_US = 5 * 1000000,
    NO_DESCRIPTOR_US = 1000000,
    UNUSED_US = 10 * 1000000,
    BACKLOG = 32,
    ACCEPTS_AT_ONCE = 16,
};

/* ---- opening ---------------------------------------------------------------------------- */

static socklen_t listen_address(const struct gateway_settings *settings,
                                struct sockaddr_storage *address)
{
    struct sockaddr_in *v4 = (struct sockaddr_in *)address;
    struct sockaddr_in6 *v6 = (struct sockaddr_in6 *)address;
    in_port_t port = htons((uint16_t)settings->tcp_port);
    memset(address, 0, sizeof(*address));
    if (inet_pton(AF_INET, settings->listen, &v4->sin_addr) == 1) {
        v4->sin_family = AF_INET;
        v4->sin_port = port;
        return sizeof(*v4);
    }
    memset(address, 0, sizeof(*address));
    if (inet_pton(AF_INET6, settings->listen, &v6->sin6_addr) != 1)
        return 0;
    v6->sin6_family = AF_INET6;
    v6->sin6_port = port;
    return sizeof(*v6);
}

static bool start_listening(int fd, const struct gateway_settings *settings)
{
    struct sockaddr_storage address;
    socklen_t size = listen_address(settings, &address);
    int on = 1, off = 0;
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof(on));
    if (address.ss_family == AF_INET6)
        setsockopt(fd, IPPROTO_IPV6, IPV6_V6ONLY, &off, sizeof(off));
    return bind(fd, (struct sockaddr *)&address, size) == 0 && listen(fd, BACKLOG) == 0;
}

static void open_tcp(struct gateway *gateway)
{
    const struct gateway_settings *settings = &gateway->settings;
    struct sockaddr_storage address;
    gateway->tcp_trouble[0] = '\0';
    if (listen_address(settings, &address) == 0) {
        snprintf(gateway->tcp_trouble, sizeof(gateway->tcp_trouble), "%s is not an address",
                 settings->listen);
        return;
    }
    int fd = socket(address.ss_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0 || !start_listening(fd, settings)) {
        snprintf(gateway->tcp_trouble, sizeof(gateway->tcp_trouble), "%s port %d: %s",
                 settings->listen, (int)settings->tcp_port, strerror(errno));
        if (fd >= 0)
            close(fd);
        return;
    }
    gateway->listen_fd = fd;
    watch_fd(gateway->epoll_fd, fd, WATCH_LISTEN, EPOLLIN);
}

static void open_serial(struct gateway *gateway, int64_t now_us)
{
    struct client *client = &gateway->clients[SERIAL_CLIENT];
    struct trouble trouble = {.text = ""};
    const struct gateway_settings *settings = &gateway->settings;
    int fd = serial_open(settings->port, settings->baud, settings->parity, settings->stop_bits,
                         SERIAL_TALK, "", &trouble);
    snprintf(gateway->serial_trouble, sizeof(gateway->serial_trouble), "%.79s", trouble.text);
    if (fd < 0)
        return;
    client_begin_serial(client, fd, settings, now_us);
    client->watched = EPOLLIN;
    watch_fd(gateway->epoll_fd, fd, SERIAL_CLIENT, client->watched);
}

void doors_open(struct gateway *gateway, int64_t now_us)
{
    const struct gateway_settings *settings = &gateway->settings;
    bool tcp = settings->listen[0] && settings->tcp_port > 0 && gateway->listen_fd < 0;
    bool serial = settings->port[0] && gateway->clients[SERIAL_CLIENT].kind == CLIENT_NONE;
    if (now_us < gateway->open_us)
        return;
    if (tcp)
        open_tcp(gateway);
    if (serial)
        open_serial(gateway, now_us);
    gateway->open_us = now_us + AGAIN_US;
}

void doors_close(struct gateway *gateway)
{
    for (int k = 0; k < gateway->client_count; k++)
        if (gateway->clients[k].kind != CLIENT_NONE)
            client_end(&gateway->clients[k]);
    if (gateway->listen_fd >= 0)
        close(gateway->listen_fd);
    gateway->listen_fd = -1;
}

/* ---- coming in ---------------------------------------------------------------------------- */

static struct in6_addr mapped(const struct sockaddr_storage *address)
{
    struct in6_addr result = ((const struct sockaddr_in6 *)address)->sin6_addr;
    if (address->ss_family == AF_INET) {
        memset(&result, 0, 10);
        memset(result.s6_addr + 10, 0xff, 2);
        memcpy(result.s6_addr + 12, &((const struct sockaddr_in *)address)->sin_addr, 4);
    }
    return result;
}

static bool is_in(const struct gateway_network *network, const struct in6_addr *address)
{
    unsigned whole = network->bits / 8, rest = network->bits % 8;
    uint8_t mask = (uint8_t)(0xff00 >> rest);
    return memcmp(network->address, address, whole) == 0 &&
           (rest == 0 || ((network->address[whole] ^ address->s6_addr[whole]) & mask) == 0);
}

static bool is_allowed(const struct gateway_settings *settings, const struct in6_addr *address)
{
    for (uint8_t k = 0; k < settings->allowed_count; k++)
        if (is_in(&settings->allowed[k], address))
            return true;
    return settings->allowed_count == 0;
}

static int count_of(const struct gateway *gateway, const struct in6_addr *address)
{
    int count = 0;
    for (int k = SERIAL_CLIENT + 1; k < gateway->client_count; k++)
        count += gateway->clients[k].kind == CLIENT_TCP &&
                 memcmp(&gateway->clients[k].address, address, sizeof(*address)) == 0;
    return count;
}

/* A free place, or that of the one who has used it longest ago; -1: all are in use. */
static int find_place(struct gateway *gateway, int64_t now_us)
{
    int oldest = -1;
    for (int k = SERIAL_CLIENT + 1; k < gateway->client_count; k++) {
        const struct client *client = &gateway->clients[k];
        if (client->kind == CLIENT_NONE)
            return k;
        if (!client->waiting.waits && now_us - client->heard_us >= UNUSED_US &&
            (oldest < 0 || client->heard_us < gateway->clients[oldest].heard_us))
            oldest = k;
    }
    if (oldest >= 0) {
        client_end(&gateway->clients[oldest]);
        gateway->counts.connections--;
        gateway->counts.dropped++;
    }
    return oldest;
}

/* An answer is one small segment that must not wait for more; a peer that has vanished
 * is found out in a minute. */
static void set_options(int fd)
{
    static const struct {
        int level, name, value;
    } options[] = {
        {IPPROTO_TCP, TCP_NODELAY, 1},   {SOL_SOCKET, SO_KEEPALIVE, 1},
        {IPPROTO_TCP, TCP_KEEPIDLE, 30}, {IPPROTO_TCP, TCP_KEEPINTVL, 10},
        {IPPROTO_TCP, TCP_KEEPCNT, 3},   {IPPROTO_TCP, TCP_USER_TIMEOUT, 30000},
    };
    for (size_t k = 0; k < sizeof(options) / sizeof(options[0]); k++)
        setsockopt(fd, options[k].level, options[k].name, &options[k].value,
                   sizeof(options[k].value));
}

static void take_in(struct gateway *gateway, int fd, const struct in6_addr *address, int64_t now_us)
{
    const struct gateway_settings *settings = &gateway->settings;
    int place = -1;
    if (is_allowed(settings, address) && count_of(gateway, address) < settings->connections_each)
        place = find_place(gateway, now_us);
    if (place < 0) {
        gateway->counts.turned_away++;
        close(fd);
        return;
    }
    struct client *client = &gateway->clients[place];
    set_options(fd);
    client_begin_tcp(client, fd, address, settings->rate, now_us);
    client->watched = EPOLLIN;
    watch_fd(gateway->epoll_fd, fd, (uint32_t)place, client->watched);
    gateway->counts.connections++;
    if (gateway->due_us > now_us + (int64_t)settings->idle_ms * 1000)
        gateway->due_us = now_us + (int64_t)settings->idle_ms * 1000;
}

/* Out of descriptors, whoever knocks would wake us for ever: the door is left alone for
 * a while. */
static void pause_accepting(struct gateway *gateway, int64_t now_us)
{
    gateway->accept_us = now_us + NO_DESCRIPTOR_US;
    watch_change(gateway->epoll_fd, gateway->listen_fd, WATCH_LISTEN, 0);
}

void doors_accept(struct gateway *gateway, int64_t now_us)
{
    if (gateway->accept_us)
        watch_change(gateway->epoll_fd, gateway->listen_fd, WATCH_LISTEN, EPOLLIN);
    gateway->accept_us = 0;
    for (int k = 0; k < ACCEPTS_AT_ONCE; k++) {
        struct sockaddr_storage from;
        socklen_t size = sizeof(from);
        int fd = accept4(gateway->listen_fd, (struct sockaddr *)&from, &size,
                         SOCK_NONBLOCK | SOCK_CLOEXEC);
        if (fd < 0 && (errno == EMFILE || errno == ENFILE || errno == ENOBUFS || errno == ENOMEM))
            pause_accepting(gateway, now_us);
        if (fd < 0)
            return;
        struct in6_addr address = mapped(&from);
        take_in(gateway, fd, &address, now_us);
    }
}
