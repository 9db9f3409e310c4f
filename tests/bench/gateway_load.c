/* gateway_load.c - many Modbus TCP clients in one process, and the server to compare with.
 *
 *   gateway_load serve                           a bare libmodbus server loop; prints "ready PORT"
 *   gateway_load ask PORT UNIT CLIENTS SECONDS PERIOD-MS
 *                                                prints "REQUESTS/S P99-MS MEDIAN-MS"
 *
 * Each client has one request under way and sends the next when its answer has come, and
 * the period has passed; all begin at other moments of it. Without a period (0) they ask
 * as fast as they are answered. All ask for 12 input registers from 0, which both servers have at
 * hand. */
#include <errno.h>
#include <modbus/modbus.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/select.h>
#include <time.h>
#include <unistd.h>

enum { REGISTERS = 12, REQUEST_BYTES = 12, ANSWER_BYTES = 9 + 2 * REGISTERS, CLIENTS_MAX = 512 };

static int64_t clock_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static int fail(const char *what)
{
    fprintf(stderr, "gateway_load: %s: %s\n", what, strerror(errno));
    return EXIT_FAILURE;
}

/* ---- the bare server: libmodbus's own example of a server for many clients ---------------- */

static void serve_one(modbus_t *context, modbus_mapping_t *mapping, int fd, fd_set *open)
{
    uint8_t query[MODBUS_TCP_MAX_ADU_LENGTH];
    modbus_set_socket(context, fd);
    int length = modbus_receive(context, query);
    if (length > 0) {
        modbus_reply(context, query, length, mapping);
    } else if (length < 0) {
        close(fd);
        FD_CLR(fd, open);
    }
}

static int serve(void)
{
    modbus_t *context = modbus_new_tcp("127.0.0.1", 0);
    modbus_mapping_t *mapping = modbus_mapping_new(0, 0, 0, 256);
    int listening = context ? modbus_tcp_listen(context, CLIENTS_MAX) : -1;
    struct sockaddr_in address;
    socklen_t size = sizeof(address);
    fd_set open, ready;
    if (listening < 0 || !mapping || getsockname(listening, (struct sockaddr *)&address, &size) < 0)
        return fail("no server");
    printf("ready %d\n", ntohs(address.sin_port));
    fflush(stdout);
    FD_ZERO(&open);
    FD_SET(listening, &open);
    for (int last = listening;;) {
        ready = open;
        if (select(last + 1, &ready, NULL, NULL, NULL) < 0)
            return fail("select");
        for (int fd = 0; fd <= last; fd++) {
            if (!FD_ISSET(fd, &ready))
                continue;
            if (fd != listening) {
                serve_one(context, mapping, fd, &open);
                continue;
            }
            int client = accept(listening, NULL, NULL), on = 1;
            if (client < 0 || client >= FD_SETSIZE)
                return fail("accept");
            setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &on, sizeof(on));
            FD_SET(client, &open);
            last = client > last ? client : last;
        }
    }
}

/* ---- the clients -------------------------------------------------------------------------- */

struct client {
    int fd;
    uint8_t request[REQUEST_BYTES], answer[ANSWER_BYTES];
    size_t got;
    int64_t sent_ns, due_ns; /* due_ns: of the next request; INT64_MAX: one is under way */
};

static struct client clients[CLIENTS_MAX];

static bool ask(struct client *client)
{
    uint16_t *transaction = (uint16_t *)(void *)client->request;
    (*transaction)++;
    client->got = 0;
    client->sent_ns = clock_ns();
    client->due_ns = INT64_MAX;
    return send(client->fd, client->request, REQUEST_BYTES, MSG_NOSIGNAL) == REQUEST_BYTES;
}

static bool is_right(const struct client *client)
{
    return memcmp(client->answer, client->request, 2) == 0 && client->answer[7] == 4 &&
           client->answer[8] == 2 * REGISTERS;
}

static int open_client(struct client *client, int port, int unit)
{
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_port = htons((uint16_t)port),
                                  .sin_addr = {htonl(INADDR_LOOPBACK)}};
    int on = 1;
    const uint8_t request[REQUEST_BYTES] = {0, 0, 0, 0, 0, 6, (uint8_t)unit, 4, 0, 0, 0, REGISTERS};
    memcpy(client->request, request, sizeof(request));
    client->fd = socket(AF_INET, SOCK_STREAM, 0);
    setsockopt(client->fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof(on));
    return connect(client->fd, (struct sockaddr *)&address, sizeof(address));
}

static int by_value(const void *a, const void *b)
{
    int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return (x > y) - (x < y);
}

static int report(int32_t took_us[], size_t count, double seconds)
{
    if (count == 0)
        return fail("no answer");
    qsort(took_us, count, sizeof(took_us[0]), by_value);
    printf("%.0f %.3f %.3f\n", (double)count / seconds, took_us[count * 99 / 100] / 1000.0,
           took_us[count / 2] / 1000.0);
    return EXIT_SUCCESS;
}

/* Sends what is due; returns the moment of what is due next. */
static int64_t ask_due(int count)
{
    int64_t now_ns = clock_ns(), next_ns = INT64_MAX;
    for (int k = 0; k < count; k++) {
        if (clients[k].due_ns <= now_ns && !ask(&clients[k]))
            exit(fail("send"));
        next_ns = clients[k].due_ns < next_ns ? clients[k].due_ns : next_ns;
    }
    return next_ns;
}

/* Whether the answer is whole. */
static bool hear(struct client *client)
{
    ssize_t got = recv(client->fd, client->answer + client->got, ANSWER_BYTES - client->got, 0);
    if (got <= 0)
        exit(fail("recv"));
    client->got += (size_t)got;
    if (client->got == ANSWER_BYTES && !is_right(client))
        exit(fail("a wrong answer"));
    return client->got == ANSWER_BYTES;
}

static int open_clients(int port, int unit, int count, int64_t period_ns)
{
    int epoll = epoll_create1(0);
    for (int k = 0; k < count; k++) {
        struct epoll_event event = {.events = EPOLLIN, .data.ptr = &clients[k]};
        if (open_client(&clients[k], port, unit) < 0)
            exit(fail("connect"));
        clients[k].due_ns = clock_ns() + k * period_ns / count;
        epoll_ctl(epoll, EPOLL_CTL_ADD, clients[k].fd, &event);
    }
    return epoll;
}

static int run(int port, int unit, int count, double seconds, int64_t period_ns)
{
    enum { ANSWERS_MAX = 20000000 };
    int32_t *took_us = malloc(ANSWERS_MAX * sizeof(*took_us));
    int epoll = open_clients(port, unit, count, period_ns);
    size_t answered = 0;
    int64_t begun_ns = clock_ns(), end_ns = begun_ns + (int64_t)(seconds * 1e9);
    while (clock_ns() < end_ns && answered < ANSWERS_MAX - CLIENTS_MAX) {
        struct epoll_event events[CLIENTS_MAX];
        int64_t wait_ns = period_ns || answered == 0 ? ask_due(count) - clock_ns() : INT32_MAX;
        int wait_ms = wait_ns > 1000000000 ? 1000 : wait_ns <= 0 ? 0 : (int)(wait_ns / 1000000) + 1;
        int ready = epoll_wait(epoll, events, CLIENTS_MAX, wait_ms);
        for (int k = 0; k < ready; k++) {
            struct client *client = events[k].data.ptr;
            if (!hear(client))
                continue;
            took_us[answered++] = (int32_t)((clock_ns() - client->sent_ns) / 1000);
            client->due_ns = client->sent_ns + period_ns;
            if (period_ns == 0 && !ask(client))
                return fail("send");
        }
    }
    return report(took_us, answered, (double)(clock_ns() - begun_ns) / 1e9);
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "serve") == 0)
        return serve();
    if (argc == 7 && strcmp(argv[1], "ask") == 0 && atoi(argv[4]) <= CLIENTS_MAX)
        return run(atoi(argv[2]), atoi(argv[3]), atoi(argv[4]), atof(argv[5]),
                   atoll(argv[6]) * 1000000);
    fputs("usage: gateway_load serve | ask PORT UNIT CLIENTS SECONDS PERIOD-MS\n", stderr);
    return EXIT_FAILURE;
}
