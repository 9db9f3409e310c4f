/* inside.h - what the gateway's thread has. Inside lib/gateway. */
#ifndef SLUICE_GATEWAY_INSIDE_H
#define SLUICE_GATEWAY_INSIDE_H

#include <pthread.h>
#include <stdatomic.h>

#include "gateway/client.h"

/* One bus as its clients share it: one question of theirs at a time. */
struct turns {
    bool busy;
    bool shares; /* a read: equal ones get the same answer */
    uint32_t id;
    uint8_t unit, length;
    uint8_t pdu[FRAME_PDU_MAX];
    int last; /* the client whose turn it was */
};

struct sampled {
    uint8_t meter;
    int64_t at_us;
    struct meter_sample sample;
};

enum { SERIAL_CLIENT = 0 }; /* its place; connections follow */

struct gateway {
    struct gateway_settings settings;
    struct bus *buses[GATEWAY_BUSES_MAX];
    uint8_t bus_count;
    struct mailbox *news;    /* struct pass_news */
    struct mailbox *samples; /* struct sampled */
    int wake_fd, epoll_fd;
    int listen_fd; /* -1: closed */
    pthread_t worker;
    bool working;
    atomic_bool ending;

    /* the thread's own */
    struct service service;
    struct turns turns[GATEWAY_BUSES_MAX];
    struct client *clients;
    int client_count;
    int64_t due_us;    /* no client is due before; may be too early */
    int64_t open_us;   /* when to try the closed doors again */
    int64_t accept_us; /* out of descriptors: accept again then; 0: accepting */
    struct gateway_state counts;
    char tcp_trouble[78], serial_trouble[80];

    pthread_mutex_t mutex;
    struct gateway_state shown; /* under the mutex */
};

/* doors.c: the listening socket and the serial port. */
void doors_open(struct gateway *gateway, int64_t now_us); /* those that are closed and due */
void doors_close(struct gateway *gateway);
void doors_accept(struct gateway *gateway, int64_t now_us);

/* passing.c: the queue for the buses. */

/* Puts the request that the client was just heard with into the queue. */
void passing_queue(struct gateway *gateway, struct client *client,
                   const struct frame_content *content, const struct judgement *judgement,
                   int64_t now_us);
void passing_answer(struct gateway *gateway, const struct pass_news *news, int64_t now_us);

/* Tells a client that has waited for too long. */
void passing_give_up(struct gateway *gateway, struct client *client, int64_t now_us);

#endif
