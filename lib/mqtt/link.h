/* link.h - the connection: one thread that comes and goes with the broker.
 *
 * Inside this room only. `struct mqtt` is shared between the caller's thread and the
 * link's; all below `mutex` is touched only while it is held. */
#ifndef SLUICE_MQTT_LINK_H
#define SLUICE_MQTT_LINK_H

#include <mosquitto.h>
#include <pthread.h>

#include "mqtt/memory.h"
#include "mqtt/mqtt.h"
#include "mqtt/tree.h"

enum { MQTT_LISTEN_MAX = 64, MQTT_TROUBLE_MAX = 160 };

enum link_state {
    LINK_DOWN,       /* no client, or one that is still connecting */
    LINK_UNANSWERED, /* the transport is there; the broker has not said yes */
    LINK_UP,         /* subscribed: orders can come, values may go out */
};

struct mqtt {
    struct mqtt_settings settings;
    struct mailbox *inbox;
    pthread_t thread;

    /* The link's thread only. */
    struct memory memory;
    bool old_protocol; /* MQTT 3.1.1 this time */
    bool expected;     /* the first attempt, or one after a connection: marked beforehand */
    bool marked;       /* the memory says that a connection is young */
    int64_t up_ms;     /* when the link came up, monotonic; 0: it is not up */
    int64_t deaf_ms;   /* until when nothing is listened to, monotonic; 0: never */

    /* The library logs with a lock of its own held, which it also takes whenever we
     * publish: what it says is kept under a lock inside of both. */
    pthread_mutex_t detail_mutex;
    char detail[MQTT_TROUBLE_MAX]; /* the first thing the library complained of */

    pthread_mutex_t mutex;
    pthread_cond_t changed; /* `stopping`, `retry` or `ended` */
    bool stopping, ended, abandoned;
    bool retry;          /* do not wait any longer */
    bool deaf;           /* on this connection nothing is listened to */
    bool answered;       /* this connection: CONNACK came, whatever it said */
    bool told;           /* this attempt: `trouble` says already why it failed */
    bool other_protocol; /* this attempt: the broker wants the older one */
    int described;       /* counts descriptions; `subscribed_to` is that of the last SUBSCRIBE */
    int subscribed_to;
    enum link_state link;
    struct mosquitto *client; /* NULL while LINK_DOWN */
    struct tree *tree;
    int under_way;    /* published, not yet acknowledged */
    int orders;       /* topics of orders in it; those listened to follow */
    int subscription; /* message id of the one that makes the link LINK_UP */
    int barrier;      /* message id of the barrier, 0: none */
    int good_bye;     /* message id of the last one, 0: none */
    int removed;      /* leftovers cleared away on this connection */
    bool was_up;      /* since the last attempt began */
    bool tried;       /* an attempt has come to its end */
    uint64_t refused; /* messages */
    char refusal[MQTT_VALUE_MAX];
    char trouble[MQTT_TROUBLE_MAX]; /* what is wrong with the connection */
    int listens, subscribed;        /* topics; the first so many of them are with the broker */
    char listen[MQTT_LISTEN_MAX][MQTT_TOPIC_MAX];
};

/* The link's thread: `context` is the struct mqtt. Frees it at its end if abandoned. */
void *link_run(void *context);

/* With the mutex held: as much of what is due as may go out now. */
void link_pump(struct mqtt *mqtt);

/* With the mutex held: something retained at the root or below is to be removed. */
void link_remove(struct mqtt *mqtt, const char *topic);

/* With the mutex held and the link up: QoS 1. False: it was not taken. */
bool link_publish(struct mqtt *mqtt, const char *topic, const void *payload, size_t length,
                  bool retain, int *id);

/* With the mutex held: subscribes to what is new among the topics. */
void link_listen(struct mqtt *mqtt);

/* inbox.c: one message has arrived. Takes the mutex. */
void inbox_message(struct mqtt *mqtt, const struct mosquitto_message *message);

/* With the mutex held: the orders of a new description. */
void link_orders(struct mqtt *mqtt, const struct tree *old);

/* client.c: a client ready to connect, or NULL and `trouble` says why not. */
struct mosquitto *client_new(struct mqtt *mqtt, const char *will_topic, struct trouble *trouble);

/* mqtt.c */
void mqtt_free(struct mqtt *mqtt);

#endif
