/* homie.h - the house as a Homie 5 device: what it says of itself, and what of that
 * the broker does not have yet.
 *
 * The last value of each topic and whether it is due. Knows no broker: it is asked
 * for the next message whenever one may go out, in the order that the convention
 * wants: init, description, values, ready. Its owner sees to locking. */
#ifndef SLUICE_MQTT_HOMIE_H
#define SLUICE_MQTT_HOMIE_H

#include <stddef.h>

#include "mqtt/mqtt.h"

/* At least as many alerts as the daemon has troubles, and the room's own. */
enum { HOMIE_ALERT_MAX = 240, HOMIE_ALERTS_MAX = 144 };

struct homie;

/* Always retained. The payload belongs to the device and stands until its next change. */
struct homie_message {
    char topic[MQTT_TOPIC_MAX];
    const char *payload;
    size_t length;
    bool barrier; /* nothing follows before homie_cleared: its acknowledgement */
};

/* NULL: `trouble` names the property that Homie does not allow, or memory is out. */
struct homie *homie_new(const struct mqtt_settings *settings, const char *home_name,
                        const struct mqtt_property properties[], int count,
                        struct trouble *trouble);
void homie_free(struct homie *homie);

/* homie/5/sluice */
const char *homie_root(const struct homie *homie);
/* homie/5/sluice/BELOW */
void homie_topic(const struct homie *homie, const char *below, char topic[static MQTT_TOPIC_MAX]);

/* The same device described anew: takes over values and alerts and what is due of them.
 * False: the description is the same. */
bool homie_succeed(struct homie *homie, const struct homie *old);

/* ---- what the house says ---- */

/* True where something is due that was not. */
bool homie_value(struct homie *homie, int property, const char *value);
void homie_target(struct homie *homie, int property, const char *value);
/* The target that nobody will reach is the value again. */
bool homie_target_dropped(struct homie *homie, int property);
/* `own`: found here; it goes with homie_own_alert_solved. NULL text solves. */
bool homie_alert(struct homie *homie, const char *id, const char *text, bool own);
void homie_own_alert_solved(struct homie *homie, const char *id);

/* ---- what the broker has ---- */

/* An earlier run left this alert there: it goes at the next connection, unless it is
 * raised again before. */
void homie_alert_stands(struct homie *homie, const char *id);
/* The ids of those that stand there. True: others than when this was last asked. */
bool homie_alerts_standing(struct homie *homie, char ids[static HOMIE_ALERTS_MAX][MQTT_ID_MAX],
                           int *count);

/* A new connection: everything is due, after what stood there has been looked at. */
void homie_arrive(struct homie *homie);
/* No connection: nothing is due until the next one. */
void homie_depart(struct homie *homie);
/* The barrier's acknowledgement came: a description that the broker had has been seen. */
void homie_cleared(struct homie *homie);
/* The next message, no longer due from now on; false: none, or not yet. */
bool homie_next(struct homie *homie, struct homie_message *message);

bool homie_is_description(const struct homie *homie, const char *topic);
/* The retained description, while the barrier stands: `remove` is called with each topic
 * that it lists and ours does not. Its version is minded: ours rises above it, unless
 * they say the same. */
void homie_description_found(struct homie *homie, const void *payload, size_t length,
                             void (*remove)(void *context, const char *topic), void *context);

/* Calls `remove` with each topic that `old` may have on the broker and `homie` has not. */
void homie_removed(const struct homie *homie, const struct homie *old,
                   void (*remove)(void *context, const char *topic), void *context);

/* ---- what comes in ---- */

/* The topic on which orders for this property come. False: it cannot be set, or is none. */
bool homie_set_topic(const struct homie *homie, int property, char topic[static MQTT_TOPIC_MAX]);
int homie_count(const struct homie *homie);

/* The property whose /set topic this is, or -1. */
int homie_property_of_set(const struct homie *homie, const char *topic);
const struct mqtt_property *homie_property(const struct homie *homie, int property);

#endif
