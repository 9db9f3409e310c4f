/* tree.h - the house as a Homie 5 device: what it says of itself, and what of that
 * the broker does not have yet.
 *
 * The last value of each topic and whether it is due. Knows no broker: it is asked
 * for the next message whenever one may go out, in the order that the convention
 * wants: init, description, values, ready. Its owner sees to locking. */
#ifndef SLUICE_MQTT_TREE_H
#define SLUICE_MQTT_TREE_H

#include <stddef.h>

#include "mqtt/mqtt.h"

/* At least as many alerts as the daemon has troubles, and the room's own. */
enum { TREE_ALERT_MAX = 200, TREE_ALERTS_MAX = 80 };

struct tree;

/* Always retained. The payload belongs to the tree and stands until its next change. */
struct tree_message {
    char topic[MQTT_TOPIC_MAX];
    const char *payload;
    size_t length;
    bool barrier; /* nothing follows before tree_cleared: its acknowledgement */
};

/* NULL: `trouble` names the property that Homie does not allow, or memory is out. */
struct tree *tree_new(const struct mqtt_settings *settings, const char *home_name,
                      const struct mqtt_property properties[], int count, struct trouble *trouble);
void tree_free(struct tree *tree);

/* homie/5/sluice */
const char *tree_root(const struct tree *tree);

/* The same device described anew: takes over values and alerts and what is due of them.
 * False: the description is the same. */
bool tree_succeed(struct tree *tree, const struct tree *old);

/* ---- what the house says ---- */

/* True where something is due that was not. */
bool tree_value(struct tree *tree, int property, const char *value);
void tree_target(struct tree *tree, int property, const char *value);
/* The target that nobody will reach is the value again. */
bool tree_target_dropped(struct tree *tree, int property);
/* `own`: found here; it goes with tree_own_alert_solved. NULL text solves. */
bool tree_alert(struct tree *tree, const char *id, const char *text, bool own);
void tree_own_alert_solved(struct tree *tree, const char *id);

/* ---- what the broker has ---- */

/* An earlier run left this alert there: it goes at the next connection, unless it is
 * raised again before. */
void tree_alert_stands(struct tree *tree, const char *id);
/* The ids of those that stand there. True: others than when this was last asked. */
bool tree_alerts_standing(struct tree *tree, char ids[static TREE_ALERTS_MAX][MQTT_ID_MAX],
                          int *count);

/* A new connection: everything is due, after what stood there has been looked at. */
void tree_arrive(struct tree *tree);
/* No connection: nothing is due until the next one. */
void tree_depart(struct tree *tree);
/* The barrier's acknowledgement came: a description that the broker had has been seen. */
void tree_cleared(struct tree *tree);
/* The next message, no longer due from now on; false: none, or not yet. */
bool tree_next(struct tree *tree, struct tree_message *message);

bool tree_is_description(const struct tree *tree, const char *topic);
/* The retained description, while the barrier stands: `remove` is called with each topic
 * that it lists and ours does not. Its version is minded: ours rises above it, unless
 * they say the same. */
void tree_description_found(struct tree *tree, const void *payload, size_t length,
                            void (*remove)(void *context, const char *topic), void *context);

/* Calls `remove` with each topic that `old` may have on the broker and `tree` has not. */
void tree_removed(const struct tree *tree, const struct tree *old,
                  void (*remove)(void *context, const char *topic), void *context);

/* ---- what comes in ---- */

/* The topic on which orders for this property come. False: it cannot be set, or is none. */
bool tree_set_topic(const struct tree *tree, int property, char topic[static MQTT_TOPIC_MAX]);
int tree_count(const struct tree *tree);

/* The property whose /set topic this is, or -1. */
int tree_property_of_set(const struct tree *tree, const char *topic);
const struct mqtt_property *tree_property(const struct tree *tree, int property);

#endif
