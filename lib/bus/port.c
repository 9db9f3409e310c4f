/* port.c - opening a serial port for ourselves alone, or a TCP peer in bounded
 * time.
 *
 * Serial: two masters on one line garble both. The port is locked (flock)
 * before its speed is touched, through a descriptor that is kept for the lock,
 * and closed to other users (TIOCEXCL) after. libmodbus quietly takes 9600 for
 * a speed that it does not know, so unknown speeds are refused here.
 *
 * TCP: we connect ourselves, without blocking and with an end, and hand the
 * socket to libmodbus. */
#include "bus/port.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

enum { CONNECT_MS = 3000 };

/* The speeds of modbus-rtu.c that Linux has. */
static const int32_t speeds[] = {110,    300,    600,    1200,   2400,   4800,
                                 9600,   19200,  38400,  57600,  115200, 230400,
                                 460800, 500000, 576000, 921600, 1000000};

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
    for (size_t i = 0; i < sizeof speeds / sizeof speeds[0]; i++) {
        if (settings->baud == speeds[i]) {
            return true;
        }
    }
    return trouble_set(trouble, settings->name,
                       "%d baud is no speed of serial lines: 9600 or 19200 are usual",
                       (int)settings->baud);
}

static bool cannot_open(const struct bus_settings *settings, struct trouble *trouble, int error)
{
    return trouble_set(trouble, settings->name, "%s: %s", settings->port, strerror(error));
}

static bool lock_serial(struct port *port, const struct bus_settings *settings,
                        struct trouble *trouble)
{
    port->lock = open(settings->port, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (port->lock < 0) {
        return cannot_open(settings, trouble, errno);
    }
    if (!isatty(port->lock)) {
        return trouble_set(trouble, settings->name, "%s is no serial port", settings->port);
    }
    if (flock(port->lock, LOCK_EX | LOCK_NB) != 0) {
        return trouble_set(trouble, settings->name, "%s: in use by another program",
                           settings->port);
    }
    return true;
}

static bool open_serial(struct port *port, const struct bus_settings *settings,
                        struct trouble *trouble)
{
    static const char parity[] = {
        [BUS_PARITY_NONE] = 'N', [BUS_PARITY_EVEN] = 'E', [BUS_PARITY_ODD] = 'O'};
    if (!lock_serial(port, settings, trouble)) {
        return false;
    }
    port->context = modbus_new_rtu(settings->port, settings->baud, parity[settings->parity], 8,
                                   settings->stop_bits);
    if (!port->context) {
        return cannot_open(settings, trouble, errno);
    }
    if (modbus_connect(port->context) != 0) {
        return cannot_open(settings, trouble, errno);
    }
    ioctl(modbus_get_socket(port->context), TIOCEXCL);
    return true;
}

/* ---- listening --------------------------------------------------------------------- */

static speed_t speed_of(int32_t baud)
{
    static const struct {
        int32_t baud;
        speed_t speed;
    } row[] = {{1200, B1200},     {2400, B2400},     {4800, B4800},   {9600, B9600},
               {19200, B19200},   {38400, B38400},   {57600, B57600}, {115200, B115200},
               {230400, B230400}, {460800, B460800}, {600, B600},     {300, B300}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if (row[i].baud == baud)
            return row[i].speed;
    return B0;
}

/* Parity is not checked while listening: a frame's CRC says more, and a byte that the
 * driver replaced would be lost for it. */
static bool set_line(int fd, const struct bus_settings *settings)
{
    struct termios line;
    speed_t speed = speed_of(settings->baud);
    if (speed == B0 || tcgetattr(fd, &line) != 0)
        return false;
    cfmakeraw(&line);
    line.c_cflag &= (tcflag_t) ~(CSTOPB | PARENB | PARODD | CRTSCTS);
    line.c_cflag |= CREAD | CLOCAL | CS8 | (settings->stop_bits == 2 ? CSTOPB : 0);
    if (settings->parity != BUS_PARITY_NONE)
        line.c_cflag |= PARENB | (settings->parity == BUS_PARITY_ODD ? PARODD : 0);
    line.c_iflag &= (tcflag_t) ~(INPCK | IXON | IXOFF | IGNPAR | PARMRK);
    line.c_cc[VMIN] = 1;
    line.c_cc[VTIME] = 0;
    /* EINVAL: a port that knows no parity (a pty, some adapters); all else is set then. */
    return cfsetspeed(&line, speed) == 0 &&
           (tcsetattr(fd, TCSANOW, &line) == 0 || errno == EINVAL) && tcgetattr(fd, &line) == 0 &&
           cfgetispeed(&line) == speed;
}

int port_listen(const struct bus_settings *settings, struct trouble *trouble)
{
    int fd = open(settings->port, O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) {
        cannot_open(settings, trouble, errno);
        return -1;
    }
    const int sends = TIOCM_RTS; /* some adapters drive the line while it is set */
    ioctl(fd, TIOCMBIC, &sends); /* a pty has none */
    bool ours = flock(fd, LOCK_EX | LOCK_NB) == 0;
    if (!isatty(fd))
        trouble_set(trouble, settings->name, "%s is no serial port", settings->port);
    else if (!ours)
        trouble_set(trouble, settings->name, "%s: in use by another program", settings->port);
    else if (set_line(fd, settings) && ioctl(fd, TIOCEXCL) == 0)
        return fd;
    else
        cannot_open(settings, trouble, errno);
    close(fd);
    return -1;
}

void port_listen_end(int fd)
{
    if (fd < 0)
        return;
    ioctl(fd, TIOCNXCL);
    close(fd);
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

static bool open_tcp(struct port *port, const struct bus_settings *settings,
                     struct trouble *trouble)
{
    int fd = connect_host(settings, trouble);
    if (fd < 0) {
        return false;
    }
    /* The address is not used: the socket is ours. */
    port->context = modbus_new_tcp("127.0.0.1", MODBUS_TCP_DEFAULT_PORT);
    if (!port->context) {
        close(fd);
        return trouble_set(trouble, settings->name, "no memory for a connection");
    }
    modbus_set_socket(port->context, fd);
    return true;
}

bool port_open(struct port *port, const struct bus_settings *settings, struct trouble *trouble)
{
    *port = (struct port){.lock = -1};
    bool open = is_serial(settings) ? open_serial(port, settings, trouble)
                                    : open_tcp(port, settings, trouble);
    if (!open) {
        port_close(port);
    }
    return open;
}

void port_close(struct port *port)
{
    if (port->lock >= 0 && port->context) {
        ioctl(port->lock, TIOCNXCL); /* a pty remembers it beyond its last user */
    }
    if (port->context) {
        modbus_close(port->context);
        modbus_free(port->context);
    }
    if (port->lock >= 0) {
        close(port->lock);
    }
    *port = (struct port){.lock = -1};
}
