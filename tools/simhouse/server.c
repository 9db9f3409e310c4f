/* A line is a descriptor and the bytes of a request that has not wholly come
 * yet. TCP says how long a request is; on RTU the function code does. Late
 * answers wait here until they are due, while everything else goes on. */
#include "server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "wirefault.h"

enum { LINES_MAX = SERVER_FDS_MAX - 2, LATE_MAX = 8, GAP_MS = 50, PTY_LINE = 0 };

struct line {
    int fd; /* -1: free */
    enum wire_kind kind;
    unsigned serial; /* tells a late answer that its line has gone */
    uint8_t bytes[2 * WIRE_FRAME_MAX];
    int length;
    int64_t heard_ms;
};

struct late {
    int64_t due_ms; /* 0: free */
    int line;
    unsigned serial;
    uint8_t bytes[WIRE_FRAME_MAX];
    int length;
};

struct server {
    struct units *units;
    struct wire *wire;
    struct prng prng;
    int listener, port;
    int pty_slave; /* held open, so that no client doesn't mean a hang-up */
    char link[128];
    struct line line[LINES_MAX]; /* [PTY_LINE] is the pseudo-terminal's */
    struct late late[LATE_MAX];
    unsigned serial;
};

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

struct server *server_new(struct units *units, uint64_t seed)
{
    struct server *server = calloc(1, sizeof(*server));
    if (!server)
        return NULL;
    server->units = units;
    server->prng.state = seed;
    server->listener = server->pty_slave = -1;
    for (int i = 0; i < LINES_MAX; i++)
        server->line[i].fd = -1;
    server->wire = wire_new();
    if (server->wire)
        return server;
    free(server);
    return NULL;
}

static void close_line(struct line *line)
{
    if (line->fd >= 0)
        close(line->fd);
    line->fd = -1;
}

static void close_all(struct server *server)
{
    for (int i = 0; i < LINES_MAX; i++)
        close_line(&server->line[i]);
    if (server->listener >= 0)
        close(server->listener);
    if (server->pty_slave >= 0)
        close(server->pty_slave);
    if (server->link[0])
        unlink(server->link);
    server->listener = server->pty_slave = -1;
}

void server_free(struct server *server)
{
    if (!server)
        return;
    close_all(server);
    wire_free(server->wire);
    free(server);
}

static void open_line(struct server *server, int i, int fd, enum wire_kind kind)
{
    server->line[i] = (struct line){.fd = fd, .kind = kind, .serial = ++server->serial};
}

int server_open_tcp(struct server *server, int port)
{
    int yes = 1;
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_port = htons((uint16_t)port),
                                  .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof(address);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0)
        return -1;
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
    if (bind(fd, (struct sockaddr *)&address, sizeof(address)) < 0 || listen(fd, LINES_MAX) < 0 ||
        getsockname(fd, (struct sockaddr *)&address, &size) < 0) {
        close(fd);
        return -1;
    }
    server->listener = fd;
    server->port = ntohs(address.sin_port);
    return server->port;
}

static bool replace_link(const char *link, const char *target)
{
    unlink(link);
    return symlink(target, link) == 0;
}

bool server_open_pty(struct server *server, const char *link)
{
    char name[64];
    int master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (master < 0)
        return false;
    if (grantpt(master) < 0 || unlockpt(master) < 0 || ptsname_r(master, name, sizeof(name)) != 0 ||
        (server->pty_slave = open(name, O_RDWR | O_NOCTTY | O_CLOEXEC)) < 0 ||
        !replace_link(link, name)) {
        close(master);
        return false;
    }
    struct termios raw;
    tcgetattr(server->pty_slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(server->pty_slave, TCSANOW, &raw);
    if (link != server->link)
        snprintf(server->link, sizeof(server->link), "%s", link);
    open_line(server, PTY_LINE, master, WIRE_RTU);
    return true;
}

void server_cable(struct server *server, bool plugged)
{
    if (!plugged) {
        close_all(server);
        return;
    }
    if (server->port && server->listener < 0 && server_open_tcp(server, server->port) < 0)
        perror("simhouse: the TCP port does not come back");
    if (server->link[0] && server->pty_slave < 0 && !server_open_pty(server, server->link))
        perror("simhouse: the pseudo-terminal does not come back");
}

int server_fds(const struct server *server, struct pollfd fds[static SERVER_FDS_MAX])
{
    int count = 0;
    if (server->listener >= 0)
        fds[count++] = (struct pollfd){.fd = server->listener, .events = POLLIN};
    for (int i = 0; i < LINES_MAX; i++)
        if (server->line[i].fd >= 0)
            fds[count++] = (struct pollfd){.fd = server->line[i].fd, .events = POLLIN};
    return count;
}

int server_wait_ms(const struct server *server)
{
    int64_t due_ms = INT64_MAX;
    for (int i = 0; i < LATE_MAX; i++)
        if (server->late[i].due_ms && server->late[i].due_ms < due_ms)
            due_ms = server->late[i].due_ms;
    if (due_ms == INT64_MAX)
        return -1;
    int64_t left = due_ms - now_ms();
    return left > 0 ? (int)left : 0;
}

static void send_bytes(const struct line *line, const uint8_t *bytes, int length)
{
    /* An answer fits any buffer that is not already full of unread ones; a client
     * that reads none has lost it. */
    ssize_t sent = line->kind == WIRE_TCP
                       ? send(line->fd, bytes, (size_t)length, MSG_NOSIGNAL | MSG_DONTWAIT)
                       : write(line->fd, bytes, (size_t)length);
    (void)sent;
}

static void send_later(struct server *server, int line, const struct answer *answer)
{
    for (int i = 0; i < LATE_MAX; i++) {
        struct late *late = &server->late[i];
        if (late->due_ms)
            continue;
        *late = (struct late){.due_ms = now_ms() + answer->delay_ms,
                              .line = line,
                              .serial = server->line[line].serial,
                              .length = answer->length};
        memcpy(late->bytes, answer->bytes, (size_t)answer->length);
        return;
    }
}

static void send_what_is_due(struct server *server)
{
    for (int i = 0; i < LATE_MAX; i++) {
        struct late *late = &server->late[i];
        if (!late->due_ms || late->due_ms > now_ms())
            continue;
        const struct line *line = &server->line[late->line];
        if (line->fd >= 0 && line->serial == late->serial)
            send_bytes(line, late->bytes, late->length);
        late->due_ms = 0;
    }
}

static void answer_request(struct server *server, int i, const uint8_t *request, int length)
{
    struct line *line = &server->line[i];
    struct unit *unit = units_find(server->units, request[wire_unit_at(line->kind)]);
    struct answer answer = {.length = 0};
    if (unit)
        answer = unit_answer(server->wire, line->kind, unit, &server->prng, request, length);
    else if (line->kind == WIRE_TCP)
        answer.length = wire_answer(server->wire, WIRE_TCP, request, length, NULL,
                                    MODBUS_EXCEPTION_GATEWAY_TARGET, answer.bytes);
    if (answer.length > 0 && answer.delay_ms > 0)
        send_later(server, i, &answer);
    else if (answer.length > 0)
        send_bytes(line, answer.bytes, answer.length);
}

/* Bytes of the first request in the buffer; 0: not known yet; -1: no request. */
static int tcp_request_length(const struct line *line)
{
    if (line->length < 8)
        return 0;
    int length = line->bytes[4] << 8 | line->bytes[5];
    return length < 2 || length > 254 ? -1 : 6 + length;
}

static int rtu_request_length(const struct line *line)
{
    if (line->length < 8)
        return 0;
    switch (line->bytes[1]) {
    case MODBUS_FC_WRITE_MULTIPLE_COILS:
    case MODBUS_FC_WRITE_MULTIPLE_REGISTERS:
        return 9 + line->bytes[6];
    case MODBUS_FC_WRITE_AND_READ_REGISTERS:
        return line->length < 11 ? 0 : 13 + line->bytes[10];
    default:
        return 8;
    }
}

static void take_requests(struct server *server, int i)
{
    struct line *line = &server->line[i];
    for (;;) {
        int length = line->kind == WIRE_TCP ? tcp_request_length(line) : rtu_request_length(line);
        if (length < 0)
            close_line(line);
        if (length <= 0 || length > line->length)
            return;
        if (length <= WIRE_FRAME_MAX)
            answer_request(server, i, line->bytes, length);
        line->length -= length;
        memmove(line->bytes, line->bytes + length, (size_t)line->length);
    }
}

static void hear(struct server *server, int i)
{
    struct line *line = &server->line[i];
    if (line->kind == WIRE_RTU) {
        int64_t now = now_ms();
        if (now - line->heard_ms > GAP_MS)
            line->length = 0; /* the rest of a broken frame */
        line->heard_ms = now;
    }
    ssize_t got =
        read(line->fd, line->bytes + line->length, sizeof(line->bytes) - (size_t)line->length);
    if (got <= 0 && line->kind == WIRE_TCP && !(got < 0 && (errno == EAGAIN || errno == EINTR)))
        close_line(line);
    if (got <= 0)
        return;
    line->length += (int)got;
    take_requests(server, i);
    if (line->length == (int)sizeof(line->bytes))
        line->length = 0;
}

static void let_in(struct server *server)
{
    int yes = 1;
    int fd = accept4(server->listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    if (fd < 0)
        return;
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof(yes));
    for (int i = PTY_LINE + 1; i < LINES_MAX; i++) {
        if (server->line[i].fd < 0) {
            open_line(server, i, fd, WIRE_TCP);
            return;
        }
    }
    close(fd);
}

void server_serve(struct server *server, const struct pollfd fds[], int count)
{
    send_what_is_due(server);
    for (int f = 0; f < count; f++) {
        if (!fds[f].revents)
            continue;
        if (fds[f].fd == server->listener)
            let_in(server);
        else
            for (int i = 0; i < LINES_MAX; i++)
                if (server->line[i].fd == fds[f].fd)
                    hear(server, i);
    }
}
