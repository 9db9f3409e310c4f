/* server.h - the lines on which the units answer: a TCP port, a pseudo-terminal.
 *
 * Single-threaded and non-blocking: the caller polls the descriptors it is
 * given. Unknown units: exception 0x0B over TCP, as a gateway answers; silence
 * on RTU. */
#ifndef SIMHOUSE_SERVER_H
#define SIMHOUSE_SERVER_H

#include <poll.h>

#include "units.h"

enum { SERVER_FDS_MAX = 20 };

struct server;

struct server *server_new(struct units *units, uint64_t seed); /* NULL: no memory */
void server_free(struct server *server);

/* Port 0: the system picks. Returns the port, or -1 with errno. */
int server_open_tcp(struct server *server, int port);

/* Makes `link` a symbolic link to a new pseudo-terminal. False with errno. */
bool server_open_pty(struct server *server, const char *link);

/* The cable is out: connections closed, port and pseudo-terminal gone; and back. */
void server_cable(struct server *server, bool plugged);

/* Fills `fds`, returns how many; poll them for at most server_wait_ms (-1: for
 * ever), then hand them back. */
int server_fds(const struct server *server, struct pollfd fds[static SERVER_FDS_MAX]);
int server_wait_ms(const struct server *server);
void server_serve(struct server *server, const struct pollfd fds[], int count);

#endif
