/* shared.h - what the caller's thread and the link's share.
 *
 * Inside this room only. All below `mutex` is touched only while it is held. */
#ifndef SLUICE_MQTT_SHARED_H
#define SLUICE_MQTT_SHARED_H

#include <mosquitto.h>
#include <pthread.h>

#include "mqtt/homie.h"
#include "mqtt/mqtt.h"
#include "mqtt/run_record.h"

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
    struct run_record record;
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
    struct homie *homie;
    int under_way;                  /* published, not yet acknowledged */
    int orders;                     /* topics of orders in it; those listened to follow */
    int subscription;               /* message id of the one that makes the link LINK_UP */
    int barrier;                    /* message id of the barrier, 0: none */
    int good_bye;                   /* message id of the last one, 0: none */
    int removed;                    /* leftovers cleared away on this connection */
    bool was_up;                    /* since the last attempt began */
    bool tried;                     /* an attempt has come to its end */
    char trouble[MQTT_TROUBLE_MAX]; /* what is wrong with the connection */
    int listens, subscribed;        /* topics; the first so many of them are with the broker */
    char listen[MQTT_LISTEN_MAX][MQTT_TOPIC_MAX];
};

/* Owns `homie` from now on. NULL: no memory, and `homie` is still the caller's. */
struct mqtt *shared_new(const struct mqtt_settings *settings, struct homie *homie,
                        const char *record_path, struct mailbox *inbox);
void shared_free(struct mqtt *mqtt);

/* What is wrong with the connection. With the mutex held, or before there is a thread. */
void shared_trouble(struct mqtt *mqtt, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
