/* control.h - the Unix socket that `sluice` talks to. */
#ifndef SLUICE_DAEMON_CONTROL_H
#define SLUICE_DAEMON_CONTROL_H

#include <stddef.h>
#include <stdint.h>

#include "core/trouble.h"
#include "orders.h"

enum { CONTROL_CLIENTS_MAX = 8, CONTROL_REQUEST_MAX = 256 };

struct control_client {
    int fd;           /* -1: none */
    uint32_t arrival; /* counts up */
    size_t used;
    char line[CONTROL_REQUEST_MAX];
};

struct control_socket {
    int fd; /* listening; -1: none */
    struct control_client clients[CONTROL_CLIENTS_MAX];
    uint32_t arrivals;
};

/* What can be asked for by it: orders, and what is the whole site's. */
struct control_doors {
    struct ordering ordering;
    void *context;
    char *(*status)(void *context);                  /* JSON on one line, to be freed */
    char *(*meter)(void *context, const char *name); /* the same; NULL: there is no such meter */
    /* `what`: "" or "end"; `by`: who says it */
    bool (*await_meter)(void *context, const char *name, const char *what, const char *by,
                        struct text *answer);
    bool (*reload)(void *context, bool even_if_cut, struct text *answer);
};

bool control_open(struct control_socket *control, const char *path, struct trouble *trouble);
int control_accept(struct control_socket *control); /* the new client's descriptor, or -1 */
void control_serve(struct control_socket *control, int fd, const struct control_doors *doors);
void control_close(struct control_socket *control, const char *path);

#endif
