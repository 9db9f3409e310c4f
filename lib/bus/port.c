/* port.c - a serial port, or a TCP peer in bounded time, as libmodbus's context.
 *
 * We open both ourselves and hand libmodbus what is open. Its own ways lock no port, take
 * 9600 for a speed that they don't know, and wait for a peer without an end. */
#include "bus/port.h"

#include <errno.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "bus/serial_port.h"

enum { CONNECT_MS = 3000 };

static bool is_serial(const struct bus_settings *settings)
{
    return settings->port[0] != '\0';
}

bool port_check(const struct bus_settings *settings, struct trouble *trouble)
{
    if (!is_serial(settings)) {
        return settings->host[0] != '\0' ||
               trouble_set(trouble, settings->name, "needs a serial port or a host");
    }
    if (serial_baud_is_known(settings->baud)) {
        return true;
    }
    return trouble_set(trouble, settings->name,
                       "%d baud is no speed of serial lines: 9600 or 19200 are usual",
                       (int)settings->baud);
}

/* The line is set: what the context is told of it is not used. */
static modbus_t *open_serial(const struct bus_settings *settings, struct trouble *trouble)
{
    int fd = serial_open(settings->port, settings->baud, settings->parity, settings->stop_bits,
                         SERIAL_TALK, settings->name, trouble);
    if (fd < 0) {
        return NULL;
    }
    modbus_t *context = modbus_new_rtu(settings->port, 9600, 'N', 8, 1);
    if (!context) {
        serial_close(fd);
        trouble_set(trouble, settings->name, "no memory for a port");
        return NULL;
    }
    modbus_set_socket(context, fd);
    return context;
}

/* ---- TCP ---------------------------------------------------------------------------- */

static int finish_connect(int fd, int wait_ms)
{
    struct pollfd writable = {.fd = fd, .events = POLLOUT};
    if (poll(&writable, 1, wait_ms) != 1) {
        return ETIMEDOUT;
    }
    int error = 0;
    socklen_t size = sizeof error;
    getsockopt(fd, SOL_SOCKET, SO_ERROR, &error, &size);
    return error;
}

/* The connected socket, or -1 with *error. */
static int connect_address(const struct addrinfo *address, int wait_ms, int *error)
{
    int fd = socket(address->ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0) {
        *error = errno;
        return -1;
    }
    *error = 0;
    if (connect(fd, address->ai_addr, address->ai_addrlen) != 0) {
        *error = errno == EINPROGRESS ? finish_connect(fd, wait_ms) : errno;
    }
    if (*error) {
        close(fd);
        return -1;
    }
    int on = 1; /* a question is one small segment: it must not wait for more */
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    return fd;
}

/* Tries each address of the host; together they get CONNECT_MS. */
static int connect_host(const struct bus_settings *settings, struct trouble *trouble)
{
    char service[16];
    snprintf(service, sizeof service, "%d", (int)settings->tcp_port);
    const struct addrinfo hints = {.ai_socktype = SOCK_STREAM, .ai_flags = AI_NUMERICSERV};
    struct addrinfo *found = NULL;
    int failed = getaddrinfo(settings->host, service, &hints, &found);
    if (failed) {
        trouble_set(trouble, settings->name, "%s: %s", settings->host, gai_strerror(failed));
        return -1;
    }
    int count = 0;
    for (const struct addrinfo *a = found; a; a = a->ai_next) {
        count++;
    }
    int fd = -1, error = 0;
    for (const struct addrinfo *a = found; a && fd < 0; a = a->ai_next) {
        fd = connect_address(a, CONNECT_MS / count, &error);
    }
    freeaddrinfo(found);
    if (fd < 0) {
        trouble_set(trouble, settings->name, "%s port %s: %s", settings->host, service,
                    strerror(error));
    }
    return fd;
}

static modbus_t *open_tcp(const struct bus_settings *settings, struct trouble *trouble)
{
    int fd = connect_host(settings, trouble);
    if (fd < 0) {
        return NULL;
    }
    /* The address is not used: the socket is ours. */
    modbus_t *context = modbus_new_tcp("127.0.0.1", MODBUS_TCP_DEFAULT_PORT);
    if (!context) {
        close(fd);
        trouble_set(trouble, settings->name, "no memory for a connection");
        return NULL;
    }
    modbus_set_socket(context, fd);
    return context;
}

modbus_t *port_open(const struct bus_settings *settings, struct trouble *trouble)
{
    return is_serial(settings) ? open_serial(settings, trouble) : open_tcp(settings, trouble);
}

/* libmodbus would give a serial port the settings back that it believes it found. */
void port_close(const struct bus_settings *settings, modbus_t **context)
{
    if (!*context) {
        return;
    }
    if (is_serial(settings)) {
        serial_close(modbus_get_socket(*context));
    } else {
        modbus_close(*context);
    }
    modbus_free(*context);
    *context = NULL;
}
