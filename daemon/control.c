/* control.c - the Unix socket that `sluice` talks to: one request line, one line of
 * JSON in answer, then the connection closes.
 *
 * Nothing here waits: a client is read as its bytes come, and answered in one go
 * into a buffer that holds the answer. Access is by the socket's file mode. */
#include "control.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <sys/un.h>
#include <unistd.h>

#include "loop/log.h"
#include "order_gate.h"

enum { ANSWER_MAX = 4096, ANSWER_ROOM = 256 * 1024 };

/* A request is a verb, up to one name, and the rest of the line. */
struct request {
    char *verb, *name, *rest;
    char by[40]; /* who asks */
};

struct verb {
    const char *word;
    bool named;
    bool (*obey)(const struct control_doors *doors, const struct request *request,
                 struct text *answer);
};

static bool obey_order(const struct control_doors *doors, const struct request *request,
                       struct text *answer)
{
    return order_load(&doors->ordering, request->name, request->rest, answer);
}

static bool obey_test(const struct control_doors *doors, const struct request *request,
                      struct text *answer)
{
    return order_test(&doors->ordering, request->name, request->rest, answer);
}

static bool obey_holiday(const struct control_doors *doors, const struct request *request,
                         struct text *answer)
{
    return order_holiday(&doors->ordering, request->rest, answer);
}

static bool obey_inhibit(const struct control_doors *doors, const struct request *request,
                         struct text *answer)
{
    return order_inhibit(&doors->ordering, request->name, request->rest, answer);
}

static bool obey_enable(const struct control_doors *doors, const struct request *request,
                        struct text *answer)
{
    return order_enable(&doors->ordering, request->name, request->rest, answer);
}

static bool obey_reload(const struct control_doors *doors, const struct request *request,
                        struct text *answer)
{
    bool even_if_cut = strcmp(request->rest, "even-if-cut") == 0;
    if (!even_if_cut && request->rest[0]) {
        text_add(answer, "\"%.40s\" is not a way to reload", request->rest);
        return false;
    }
    return doors->reload(doors->context, even_if_cut, answer);
}

static bool obey_exchange(const struct control_doors *doors, const struct request *request,
                          struct text *answer)
{
    return doors->await_meter(doors->context, request->name, request->rest, request->by, answer);
}

static const struct verb verbs[] = {
    {"order", true, obey_order},       {"test", true, obey_test},
    {"holiday", false, obey_holiday},  {"inhibit", true, obey_inhibit},
    {"enable", true, obey_enable},     {"reload", false, obey_reload},
    {"exchange", true, obey_exchange},
};

/* A reload is no order to a load, and has limits of its own; an exchange is told once. */
static bool may_pass(const struct ordering *ordering, const struct verb *verb,
                     const struct request *request, struct text *answer)
{
    return verb->obey == obey_reload || verb->obey == obey_exchange ||
           order_gate_admit(&ordering->engine->orders, ordering->common, ORDERS_BY_SOCKET,
                            verb->word, request->rest, answer);
}

static char *cut_word(char **rest)
{
    char *word = *rest;
    *rest += strcspn(*rest, " ");
    if (**rest)
        *(*rest)++ = '\0';
    *rest += strspn(*rest, " ");
    return word;
}

static char *answer_json(bool ok, const char *text)
{
    cJSON *root = cJSON_CreateObject();
    cJSON_AddBoolToObject(root, "ok", ok);
    cJSON_AddStringToObject(root, "text", text);
    char *json = cJSON_PrintUnformatted(root);
    cJSON_Delete(root);
    return json;
}

/* unix(7), SO_PEERCRED: the kernel says who, not the client. */
static void name_peer(int fd, char by[static 40])
{
    struct ucred peer;
    socklen_t size = sizeof(peer);
    if (getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &peer, &size) == 0)
        snprintf(by, 40, "locally by user id %u", (unsigned)peer.uid);
    else
        snprintf(by, 40, "locally");
}

static char *serve_line(const struct control_doors *doors, int fd, char *line)
{
    char buffer[ANSWER_MAX];
    struct text answer = text_in(buffer, sizeof(buffer));
    struct request request = {.rest = line};
    name_peer(fd, request.by);
    request.verb = cut_word(&request.rest);
    if (strcmp(request.verb, "status") == 0)
        return doors->status(doors->context);
    if (strcmp(request.verb, "meter") == 0) {
        request.name = cut_word(&request.rest);
        char *values = doors->meter(doors->context, request.name);
        text_add(&answer, "there is no meter \"%.40s\"", request.name);
        return values ? values : answer_json(false, buffer);
    }
    for (size_t k = 0; k < sizeof(verbs) / sizeof(verbs[0]); k++) {
        if (strcmp(verbs[k].word, request.verb) != 0)
            continue;
        if (verbs[k].named)
            request.name = cut_word(&request.rest);
        bool ok = may_pass(&doors->ordering, &verbs[k], &request, &answer) &&
                  verbs[k].obey(doors, &request, &answer);
        return answer_json(ok, buffer);
    }
    text_add(&answer, "\"%.40s\" is not a request", request.verb);
    return answer_json(false, buffer);
}

/* Requests are ASCII; what else has come is quoted as '?', so that an answer is JSON
 * whatever was asked. */
static void make_plain(char *line, size_t length)
{
    for (size_t k = 0; k < length; k++)
        if (line[k] < ' ' || line[k] > '~')
            line[k] = '?';
}

/* The answer fits into the socket's buffer; a client that does not read has lost. */
static void answer(const struct control_doors *doors, struct control_client *client)
{
    char *end = memchr(client->line, '\n', client->used);
    char *json;
    if (end) {
        *end = '\0';
        make_plain(client->line, (size_t)(end - client->line));
        json = serve_line(doors, client->fd, client->line);
    } else {
        json = answer_json(false, "a request is one short line");
    }
    if (!json)
        return;
    struct iovec parts[2] = {{json, strlen(json)}, {(char[]){'\n'}, 1}};
    struct msghdr message = {.msg_iov = parts, .msg_iovlen = 2};
    if (sendmsg(client->fd, &message, MSG_NOSIGNAL | MSG_DONTWAIT) < 0)
        log_line(LOG_LEVEL_DEBUG, "a control client did not take its answer");
    free(json);
}

static void drop(struct control_client *client)
{
    close(client->fd);
    *client = (struct control_client){.fd = -1};
}

/* A free place, or that of the client that has been silent for longest: a few that never
 * ask must not shut the door. */
static struct control_client *place_for_one(struct control_socket *control)
{
    struct control_client *oldest = &control->clients[0];
    for (int k = 0; k < CONTROL_CLIENTS_MAX; k++) {
        struct control_client *client = &control->clients[k];
        if (client->fd < 0)
            return client;
        if (client->arrival - oldest->arrival > UINT32_MAX / 2)
            oldest = client;
    }
    drop(oldest);
    return oldest;
}

/* Returns the new client's descriptor, or -1. */
int control_accept(struct control_socket *control)
{
    const int room = ANSWER_ROOM;
    int fd = accept4(control->fd, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);
    if (fd < 0)
        return -1;
    setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &room, sizeof(room));
    *place_for_one(control) = (struct control_client){.fd = fd, .arrival = control->arrivals++};
    return fd;
}

void control_serve(struct control_socket *control, int fd, const struct control_doors *doors)
{
    struct control_client *client = NULL;
    for (int k = 0; k < CONTROL_CLIENTS_MAX; k++)
        if (control->clients[k].fd == fd)
            client = &control->clients[k];
    if (!client)
        return;
    size_t room = sizeof(client->line) - 1 - client->used;
    ssize_t got = recv(fd, client->line + client->used, room, 0);
    if (got < 0 && (errno == EAGAIN || errno == EINTR))
        return; /* it was for a client that had this descriptor before */
    if (got > 0)
        client->used += (size_t)got;
    bool whole =
        memchr(client->line, '\n', client->used) || client->used == CONTROL_REQUEST_MAX - 1;
    if (got > 0 && !whole)
        return;
    if (got > 0)
        answer(doors, client);
    drop(client);
}

/* A socket that a killed daemon left behind refuses; one that accepts, or is only too busy
 * to, has somebody behind it. Only the first kind may go: what is no socket, or cannot be
 * asked, is somebody else's. */
static bool make_way(const struct sockaddr_un *address, struct trouble *trouble)
{
    const char *path = address->sun_path;
    struct stat found;
    if (lstat(path, &found) != 0)
        return true;
    if (!S_ISSOCK(found.st_mode))
        return trouble_set(trouble, path,
                           "is there and is not a socket: it stays as it is; name another "
                           "control_socket");
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    int error =
        fd < 0 || connect(fd, (const struct sockaddr *)address, sizeof(*address)) != 0 ? errno : 0;
    if (fd >= 0)
        close(fd);
    if (error == ECONNREFUSED)
        return unlink(path) == 0 ||
               trouble_set(trouble, path,
                           "the control socket of a daemon that is gone cannot be "
                           "removed: %s",
                           strerror(errno));
    if (error == 0 || error == EAGAIN)
        return trouble_set(trouble, path,
                           "another daemon serves this control socket: two must not switch the "
                           "same loads");
    return trouble_set(trouble, path, "the control socket cannot be opened: %s", strerror(error));
}

bool control_open(struct control_socket *control, const char *path, struct trouble *trouble)
{
    for (int k = 0; k < CONTROL_CLIENTS_MAX; k++)
        control->clients[k].fd = -1;
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof(address.sun_path), "%s", path);
    if (!make_way(&address, trouble))
        return false;
    control->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    mode_t mask = umask(0117); /* owner and group may connect */
    bool ok = control->fd >= 0 &&
              bind(control->fd, (struct sockaddr *)&address, sizeof(address)) == 0 &&
              listen(control->fd, 8) == 0;
    umask(mask);
    if (ok)
        return true;
    trouble_set(trouble, path, "the control socket cannot be opened: %s", strerror(errno));
    control_close(control, path);
    return false;
}

/* What has been put in its place meanwhile stays. */
static void remove_socket(const char *path)
{
    struct stat found;
    if (lstat(path, &found) == 0 && S_ISSOCK(found.st_mode))
        unlink(path);
}

void control_close(struct control_socket *control, const char *path)
{
    if (control->fd < 0)
        return;
    for (int k = 0; k < CONTROL_CLIENTS_MAX; k++)
        if (control->clients[k].fd >= 0)
            drop(&control->clients[k]);
    close(control->fd);
    remove_socket(path);
    control->fd = -1;
}
