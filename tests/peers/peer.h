/* peer.h - a peer of a test: a child process that serves, says when it is ready
 * and what it was asked, and takes orders. */
#ifndef SLUICE_TESTS_PEER_H
#define SLUICE_TESTS_PEER_H

#include <stdio.h>
#include <sys/types.h>

struct peer {
    pid_t pid;
    FILE *orders, *words;
    char name[128];  /* what it said after "ready": a port's number or a path */
    int passed_over; /* questions reported while something else was awaited */
};

/* `program` is a file in tests/peers/. Fails the test where it does not come up,
 * saying what to install. */
struct peer peer_start(const char *program, const char *argument);
void peer_stop(struct peer *peer);

/* Gives an order to the rogue and waits until it is done. */
void peer_order(struct peer *peer, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The next question it reports, in hex; questions are reported in order. */
void peer_asked(struct peer *peer, char *hex, size_t size);

/* Questions reported up to the last order, where none was fetched by peer_asked. */
int peer_asked_count(const struct peer *peer);

#endif
