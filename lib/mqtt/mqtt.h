/* mqtt.h - the house on a broker, as Homie 5 (homieiot/convention, v5).
 *
 * State is the last value of each topic, kept here; it is published while the
 * broker is there and all of it afresh when the broker comes back. Nothing is
 * queued while it is away. Orders come in on .../set only, QoS 2, clean session;
 * retained ones are ignored; each is checked against what the description says
 * the property takes, and handed to the loop as plain values.
 *
 * Subscribed is what is ours, topic by topic, and no pattern. A broker that speaks MQTT 5
 * is told the largest packet that we take; one that does not gets MQTT 3.1.1. What comes
 * all the same and is too large for the process's memory ends the connection, and the next
 * one listens to nothing for an hour.
 *
 * libmosquitto runs in a thread of its own; its callbacks only copy into the
 * mailbox. */
#ifndef SLUICE_MQTT_MQTT_H
#define SLUICE_MQTT_MQTT_H

#include "core/moment.h"
#include "core/setting.h"
#include "core/trouble.h"
#include "loop/mailbox.h"

/* Ids hold a name of 31 letters and what is put before it. */
enum { MQTT_ID_MAX = 64, MQTT_VALUE_MAX = 160, MQTT_TOPIC_MAX = 160, MQTT_FORMAT_MAX = 64 };

/* The largest packet that we take: a description of the most loads has room in it. */
enum { MQTT_PACKET_MAX = 256 * 1024 };

struct mqtt_settings {
    bool enabled; /* set where the mqtt: section is there */
    char host[128];
    int32_t port;
    char domain[32]; /* "homie" */
    char device[32]; /* "sluice" */
    char client_id[24];
    char user[64];
    char password_file[128]; /* a credential file, never the password itself; a name without
                              * a slash is looked for in $CREDENTIALS_DIRECTORY */
    bool tls;
    char ca_file[128], certificate_file[128], key_file[128];
    int32_t keep_alive_ms;
    bool accept_orders; /* false: nothing that arrives is obeyed */
};

extern const struct setting_rows mqtt_setting_rows;

enum mqtt_datatype {
    MQTT_INTEGER,
    MQTT_FLOAT,
    MQTT_BOOLEAN,
    MQTT_STRING,
    MQTT_ENUM,
    MQTT_DATETIME
};

struct mqtt_property {
    char node[MQTT_ID_MAX], id[MQTT_ID_MAX]; /* a-z 0-9 and hyphen */
    char node_name[64], name[64];
    enum mqtt_datatype datatype;
    char format[MQTT_FORMAT_MAX]; /* "auto,on,off", "0:7200" or "" */
    char unit[8];
    bool settable;
};

/* An order that passed the checks of its property, or a message of a topic
 * subscribed with mqtt_listen. */
struct mqtt_message {
    int32_t property; /* index in the description, or -1: a listened-to topic */
    char topic[MQTT_TOPIC_MAX];
    char value[MQTT_VALUE_MAX]; /* terminated; longer payloads are refused */
    uint16_t length;
    bool retained; /* what was said once; nobody knows when */
};

struct mqtt;

/* Starts connecting in the background. `inbox` holds struct mqtt_message and
 * outlives it. Properties are copied; nodes are their distinct `node`s in order.
 * `record_path`: a small file of this room's own, kept from run to run; "": none. After two
 * runs that ended while a connection was young, the broker is left alone for a while. */
struct mqtt *mqtt_start(const struct mqtt_settings *settings, const char *home_name,
                        const struct mqtt_property properties[], int count, const char *record_path,
                        struct mailbox *inbox, struct trouble *trouble);

/* Connects now, whatever it is waiting for: a person has asked. */
void mqtt_retry(struct mqtt *mqtt);

/* The description changed (reload): publishes init, the new description, removes
 * what is gone, ready. Values are kept by node and id. False: the old one stays, and
 * mqtt_trouble says why. */
bool mqtt_describe(struct mqtt *mqtt, const char *home_name,
                   const struct mqtt_property properties[], int count);

/* Keeps the value; publishes it if it differs and the broker is there. Allocates
 * only in libmosquitto, and only on change. "" for anything but a string: not known
 * now; the retained value is removed. */
void mqtt_value(struct mqtt *mqtt, int property, const char *value);

/* An order that passed the property's checks cannot be obeyed: its $target, which
 * had become the order, goes back to the value. */
void mqtt_order_refused(struct mqtt *mqtt, int property);

/* Homie 5 alert: retained $alert/<id>; NULL text solves it. */
void mqtt_alert(struct mqtt *mqtt, const char *id, const char *text);

/* For outputs: a plain message, QoS 1; false while not connected to the broker or takes nothing. */
bool mqtt_send(struct mqtt *mqtt, const char *topic, const char *payload);
/* False: no place for another, or not a topic. */
bool mqtt_listen(struct mqtt *mqtt, const char *topic);

bool mqtt_connected(struct mqtt *mqtt);
/* Not connected, and it has been tried; mqtt_trouble says why not. */
bool mqtt_away(struct mqtt *mqtt);
/* What is wrong with the connection, or "". */
void mqtt_trouble(struct mqtt *mqtt, char text[static MQTT_VALUE_MAX]);

/* $state disconnected, then leaves; waits for a broker that hangs no longer than 3 s. */
void mqtt_stop(struct mqtt *mqtt);

#endif
