/* tree.c - the last value of each topic, and what of it is due.
 *
 * Nothing is queued anywhere: a value that changes three times while it may not go
 * out goes out once, as it is then. So memory has a bound whatever the broker does,
 * and a broker that returns is told how things are, not how they were.
 *
 * The way of a connection is one enum. The first message, $state = init, is also a
 * barrier: the description that an earlier run left at the broker arrives before its
 * acknowledgement. It says which topics stand there, so that those of loads that are
 * gone are cleared away without asking for everything below the root, which would be
 * an invitation to whoever may write there. Homie 5 wants a rising version in the
 * description too: it goes on from that one. Alerts are in no description; which of
 * them stand at the broker, the room's memory tells.
 *
 * $target (Homie 5, "Property Attributes") must be used for every update of a value
 * or never: properties that can be set have it, the others do not. */
#include "mqtt/tree.h"

#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "mqtt/description.h"

enum { ROOT_MAX = 72 };

enum stage {
    AWAY,     /* no broker */
    ARRIVING, /* init is due, and is a barrier */
    CLEARING, /* waiting for the barrier */
    RENEWING, /* init is due, because the description changed */
    DESCRIBING,
    FILLING, /* values, alerts; then ready */
    LIVE,
};

struct slot {
    char value[MQTT_VALUE_MAX], target[MQTT_VALUE_MAX];
    bool known;  /* has a value */
    bool stands; /* the broker has one */
    bool value_due, target_due;
};

struct alert {
    char id[MQTT_ID_MAX];
    char text[TREE_ALERT_MAX]; /* "": solved, to be removed from the broker */
    bool stands;               /* the broker has it */
    bool used, due, own;
};

struct tree {
    char root[ROOT_MAX];
    char home_name[64];
    enum stage stage;
    int64_t version;
    char *description;
    struct alert alerts[TREE_ALERTS_MAX];
    bool alerts_changed; /* which of them stand, since tree_alerts_standing */
    int due, cursor; /* how many slots are due, and where to look for the next */
    int count;
    struct mqtt_property *properties;
    struct slot *slots;
};

/* ---- birth and death ----------------------------------------------------------------- */

static bool describe(struct tree *tree, int64_t version)
{
    char *description = description_write(tree->home_name, tree->properties, tree->count, version);
    if (!description)
        return false;
    free(tree->description);
    tree->description = description;
    tree->version = version;
    return true;
}

static bool fill(struct tree *tree, const struct mqtt_settings *settings, const char *home_name,
                 const struct mqtt_property properties[])
{
    struct text root = text_in(tree->root, sizeof(tree->root));
    struct text name = text_in(tree->home_name, sizeof(tree->home_name));
    text_add(&root, "%s/5/%s", settings->domain, settings->device);
    text_add(&name, "%s", home_name);
    tree->properties = calloc((size_t)tree->count + 1, sizeof(tree->properties[0]));
    tree->slots = calloc((size_t)tree->count + 1, sizeof(tree->slots[0]));
    if (!tree->properties || !tree->slots)
        return false;
    memcpy(tree->properties, properties, (size_t)tree->count * sizeof(properties[0]));
    return describe(tree, 1);
}

struct tree *tree_new(const struct mqtt_settings *settings, const char *home_name,
                      const struct mqtt_property properties[], int count, struct trouble *trouble)
{
    if (!description_ok(properties, count, trouble))
        return NULL;
    struct tree *tree = calloc(1, sizeof(*tree));
    if (tree)
        tree->count = count;
    if (tree && fill(tree, settings, home_name, properties))
        return tree;
    tree_free(tree);
    trouble_set(trouble, "", "no memory for %d properties", count);
    return NULL;
}

void tree_free(struct tree *tree)
{
    if (!tree)
        return;
    free(tree->description);
    free(tree->properties);
    free(tree->slots);
    free(tree);
}

const char *tree_root(const struct tree *tree)
{
    return tree->root;
}

const struct mqtt_property *tree_property(const struct tree *tree, int property)
{
    return &tree->properties[property];
}

/* ---- what is due ------------------------------------------------------------------------ */

static bool is_due(const struct slot *slot)
{
    return slot->value_due || slot->target_due;
}

/* Values go out once the description has; before, all that is known is due anyway. */
static bool mark(struct tree *tree, int property, bool value, bool target)
{
    struct slot *slot = &tree->slots[property];
    if (tree->stage == AWAY)
        return false;
    tree->due -= is_due(slot);
    slot->value_due |= value;
    slot->target_due |= target && tree->properties[property].settable;
    tree->due += is_due(slot);
    return is_due(slot);
}

static bool in_range(const struct tree *tree, int property)
{
    return property >= 0 && property < tree->count;
}

static bool set(char to[static MQTT_VALUE_MAX], const char *value)
{
    if (strcmp(to, value) == 0)
        return false;
    struct text text = text_in(to, MQTT_VALUE_MAX);
    text_add(&text, "%s", value);
    return true;
}

bool tree_value(struct tree *tree, int property, const char *value)
{
    char cut[MQTT_VALUE_MAX];
    if (!in_range(tree, property))
        return false;
    struct slot *slot = &tree->slots[property];
    bool known = value[0] || tree->properties[property].datatype == MQTT_STRING;
    struct text text = text_in(cut, sizeof(cut));
    text_add(&text, "%s", value);
    bool first = slot->known != known;
    if (!set(slot->value, cut) && !first)
        return false;
    slot->known = known;
    return mark(tree, property, true, set(slot->target, cut) || first);
}

void tree_target(struct tree *tree, int property, const char *value)
{
    if (set(tree->slots[property].target, value))
        mark(tree, property, false, true);
}

bool tree_target_dropped(struct tree *tree, int property)
{
    if (!in_range(tree, property))
        return false;
    struct slot *slot = &tree->slots[property];
    return set(slot->target, slot->value) && mark(tree, property, false, true);
}

/* ---- alerts ------------------------------------------------------------------------------- */

static struct alert *find_alert(struct tree *tree, const char *id)
{
    for (int k = 0; k < TREE_ALERTS_MAX; k++)
        if (tree->alerts[k].used && strcmp(tree->alerts[k].id, id) == 0)
            return &tree->alerts[k];
    return NULL;
}

static struct alert *new_alert(struct tree *tree, const char *id)
{
    for (int k = 0; k < TREE_ALERTS_MAX; k++) {
        struct alert *alert = &tree->alerts[k];
        if (alert->used)
            continue;
        *alert = (struct alert){.used = true};
        struct text text = text_in(alert->id, sizeof(alert->id));
        text_add(&text, "%s", id);
        return alert;
    }
    return NULL;
}

/* Whatever an alert is called elsewhere, here it is a legal id. */
static void legal_id(char id[static MQTT_ID_MAX], const char *from)
{
    struct text text = text_in(id, MQTT_ID_MAX);
    for (; *from && !text.full; from++) {
        bool upper = *from >= 'A' && *from <= 'Z';
        bool legal = (*from >= 'a' && *from <= 'z') || (*from >= '0' && *from <= '9');
        text_add(&text, "%c", upper ? *from - 'A' + 'a' : legal ? *from : '-');
    }
}

bool tree_alert(struct tree *tree, const char *id, const char *text, bool own)
{
    char legal[MQTT_ID_MAX], cut[TREE_ALERT_MAX];
    legal_id(legal, id);
    struct alert *alert = find_alert(tree, legal);
    if (!alert && text)
        alert = new_alert(tree, legal);
    if (!alert)
        return false;
    struct text shown = text_in(cut, sizeof(cut));
    text_add(&shown, "%s", text ? text : "");
    alert->own = own;
    if (strcmp(alert->text, cut) == 0)
        return false;
    memcpy(alert->text, cut, sizeof(cut));
    alert->due = tree->stage != AWAY;
    alert->used = alert->due || alert->stands || cut[0];
    return alert->due;
}

void tree_alert_stands(struct tree *tree, const char *id)
{
    char legal[MQTT_ID_MAX];
    legal_id(legal, id);
    struct alert *alert = legal[0] && !find_alert(tree, legal) ? new_alert(tree, legal) : NULL;
    if (alert)
        alert->stands = true;
}

bool tree_alerts_standing(struct tree *tree, char ids[static TREE_ALERTS_MAX][MQTT_ID_MAX],
                          int *count)
{
    bool changed = tree->alerts_changed;
    tree->alerts_changed = false;
    *count = 0;
    for (int k = 0; k < TREE_ALERTS_MAX; k++)
        if (tree->alerts[k].used && tree->alerts[k].stands)
            memcpy(ids[(*count)++], tree->alerts[k].id, MQTT_ID_MAX);
    return changed;
}

void tree_own_alert_solved(struct tree *tree, const char *id)
{
    struct alert *alert = find_alert(tree, id);
    if (alert && alert->own)
        tree_alert(tree, id, NULL, true);
}

/* ---- the way of a connection ---------------------------------------------------------------- */

static void make_all_due(struct tree *tree)
{
    for (int i = 0; i < tree->count; i++)
        if (tree->slots[i].known || tree->slots[i].stands)
            mark(tree, i, true, true);
    for (int k = 0; k < TREE_ALERTS_MAX; k++)
        tree->alerts[k].due = tree->alerts[k].used;
}

void tree_depart(struct tree *tree)
{
    tree->stage = AWAY;
    tree->due = 0;
    for (int i = 0; i < tree->count; i++)
        tree->slots[i].value_due = tree->slots[i].target_due = false;
    for (int k = 0; k < TREE_ALERTS_MAX; k++) {
        struct alert *alert = &tree->alerts[k];
        alert->due = false;
        alert->used = alert->used && (alert->text[0] || alert->stands);
    }
}

void tree_arrive(struct tree *tree)
{
    tree_depart(tree);
    tree->stage = ARRIVING;
}

void tree_cleared(struct tree *tree)
{
    if (tree->stage != CLEARING)
        return;
    tree->stage = DESCRIBING;
    make_all_due(tree);
}

static void put(const struct tree *tree, struct tree_message *message, const char *topic,
                const char *payload)
{
    struct text text = text_in(message->topic, sizeof(message->topic));
    text_add(&text, "%s/%s", tree->root, topic);
    message->payload = payload;
    message->length = strlen(payload);
    message->barrier = false;
}

static void put_state(struct tree *tree, struct tree_message *message, const char *state,
                      enum stage then)
{
    put(tree, message, "$state", state);
    tree->stage = then;
}

static void put_slot(struct tree *tree, struct tree_message *message, int index)
{
    const struct mqtt_property *property = &tree->properties[index];
    struct slot *slot = &tree->slots[index];
    bool target = slot->target_due; /* before the value that it announces */
    char topic[MQTT_TOPIC_MAX];
    struct text text = text_in(topic, sizeof(topic));
    text_add(&text, "%s/%s%s", property->node, property->id, target ? "/$target" : "");
    put(tree, message, topic, target ? slot->target : slot->value);
    /* A retained message of no length is removed; an empty text is one byte of 0. */
    if (slot->known && message->length == 0)
        message->length = 1;
    slot->stands = slot->known;
    tree->due--;
    *(target ? &slot->target_due : &slot->value_due) = false;
    tree->due += is_due(slot);
}

static bool put_due_slot(struct tree *tree, struct tree_message *message)
{
    if (tree->due == 0)
        return false;
    while (!is_due(&tree->slots[tree->cursor]))
        tree->cursor = (tree->cursor + 1) % tree->count;
    put_slot(tree, message, tree->cursor);
    return true;
}

static bool put_due_alert(struct tree *tree, struct tree_message *message)
{
    char topic[MQTT_ID_MAX + 8];
    for (int k = 0; k < TREE_ALERTS_MAX; k++) {
        struct alert *alert = &tree->alerts[k];
        if (!alert->due)
            continue;
        struct text text = text_in(topic, sizeof(topic));
        text_add(&text, "$alert/%s", alert->id);
        put(tree, message, topic, alert->text);
        alert->due = false;
        alert->used = alert->text[0] != '\0';
        tree->alerts_changed |= alert->stands != alert->used;
        alert->stands = alert->used;
        return true;
    }
    return false;
}

bool tree_next(struct tree *tree, struct tree_message *message)
{
    switch (tree->stage) {
    case AWAY:
    case CLEARING:
        return false;
    case ARRIVING:
        put_state(tree, message, "init", CLEARING);
        message->barrier = true;
        return true;
    case RENEWING:
        put_state(tree, message, "init", DESCRIBING);
        return true;
    case DESCRIBING:
        put(tree, message, "$description", tree->description);
        tree->stage = FILLING;
        return true;
    case FILLING:
    case LIVE:
        break;
    }
    if (put_due_slot(tree, message) || put_due_alert(tree, message))
        return true;
    if (tree->stage == LIVE)
        return false;
    put_state(tree, message, "ready", LIVE);
    return true;
}

/* ---- topics back to what they belong to --------------------------------------------------------
 */

/* What follows "ROOT/", or NULL. */
static const char *below_root(const struct tree *tree, const char *topic)
{
    size_t length = strlen(tree->root);
    if (strncmp(topic, tree->root, length) != 0 || topic[length] != '/')
        return NULL;
    return topic + length + 1;
}

/* What follows `word` at the head of `path`, or NULL. */
static const char *after(const char *path, const char *word)
{
    while (*word && *path == *word)
        path++, word++;
    return *word ? NULL : path;
}

/* The property at the head of "NODE/ID" or "NODE/ID/...", and what follows it. */
static int find_property(const struct tree *tree, const char *path, const char **rest)
{
    for (int i = 0; i < tree->count; i++) {
        const char *id = after(path, tree->properties[i].node);
        *rest = id && *id == '/' ? after(id + 1, tree->properties[i].id) : NULL;
        if (*rest && (**rest == '\0' || **rest == '/'))
            return i;
    }
    return -1;
}

int tree_count(const struct tree *tree)
{
    return tree->count;
}

bool tree_set_topic(const struct tree *tree, int property, char topic[static MQTT_TOPIC_MAX])
{
    if (!in_range(tree, property) || !tree->properties[property].settable)
        return false;
    struct text text = text_in(topic, MQTT_TOPIC_MAX);
    text_add(&text, "%s/%s/%s/set", tree->root, tree->properties[property].node,
             tree->properties[property].id);
    return !text.full;
}

int tree_property_of_set(const struct tree *tree, const char *topic)
{
    const char *path = below_root(tree, topic), *rest;
    int property = path ? find_property(tree, path, &rest) : -1;
    return property >= 0 && strcmp(rest, "/set") == 0 ? property : -1;
}

static bool same_text(const char *text, const void *bytes, size_t length)
{
    return strlen(text) == length && memcmp(text, bytes, length) == 0;
}

/* Somebody's description, most likely our own of an earlier run. */
static void mind_version(struct tree *tree, const void *payload, size_t length)
{
    int64_t theirs = description_version(payload, length);
    if (theirs < tree->version || same_text(tree->description, payload, length))
        return;
    if (describe(tree, theirs) && !same_text(tree->description, payload, length))
        describe(tree, theirs + 1);
}

bool tree_is_description(const struct tree *tree, const char *topic)
{
    const char *path = below_root(tree, topic);
    return path && strcmp(path, "$description") == 0;
}

struct clearing {
    struct tree *tree;
    void (*remove)(void *context, const char *topic);
    void *context;
};

/* A property of that earlier run: ours is marked, so that a value from then is not taken
 * for one from now; another's goes. */
static void clear_one(void *context, const char *node, const char *id, bool settable)
{
    const struct clearing *clearing = context;
    struct tree *tree = clearing->tree;
    char path[MQTT_TOPIC_MAX], topic[MQTT_TOPIC_MAX];
    const char *rest;
    struct text place = text_in(path, sizeof(path));
    text_add(&place, "%s/%s", node, id);
    int property = find_property(tree, path, &rest);
    if (property >= 0)
        tree->slots[property].stands = true;
    for (int target = 0; target <= settable; target++) {
        if (property >= 0 && (!target || tree->properties[property].settable))
            continue;
        struct text text = text_in(topic, sizeof(topic));
        text_add(&text, "%s/%s%s", tree->root, path, target ? "/$target" : "");
        if (!place.full && !text.full)
            clearing->remove(clearing->context, topic);
    }
}

void tree_description_found(struct tree *tree, const void *payload, size_t length,
                            void (*remove)(void *context, const char *topic), void *context)
{
    struct clearing clearing = {tree, remove, context};
    if (tree->stage > CLEARING)
        return;
    mind_version(tree, payload, length);
    description_each(payload, length, clear_one, &clearing);
}

/* ---- one description after another
 * --------------------------------------------------------------- */

static int find_same(const struct tree *tree, const struct mqtt_property *property)
{
    for (int i = 0; i < tree->count; i++)
        if (strcmp(tree->properties[i].node, property->node) == 0 &&
            strcmp(tree->properties[i].id, property->id) == 0)
            return i;
    return -1;
}

static void take_over_slot(struct tree *tree, int index, const struct tree *old, int old_index)
{
    const struct mqtt_property *now = &tree->properties[index];
    const struct mqtt_property *then = &old->properties[old_index];
    if (now->datatype != then->datatype)
        return;
    tree->slots[index] = old->slots[old_index];
    if (now->settable && !then->settable && tree->slots[index].known)
        tree->slots[index].target_due = old->stage != AWAY;
    tree->slots[index].target_due &= now->settable;
    tree->due += is_due(&tree->slots[index]);
}

bool tree_succeed(struct tree *tree, const struct tree *old)
{
    bool same = describe(tree, old->version) && strcmp(tree->description, old->description) == 0;
    if (!same)
        describe(tree, old->version + 1);
    for (int i = 0; i < tree->count; i++) {
        int old_index = find_same(old, &tree->properties[i]);
        if (old_index >= 0)
            take_over_slot(tree, i, old, old_index);
    }
    memcpy(tree->alerts, old->alerts, sizeof(tree->alerts));
    tree->alerts_changed = old->alerts_changed;
    tree->stage = old->stage;
    if (!same && old->stage > CLEARING)
        tree->stage = RENEWING;
    return !same;
}

static void remove_one(const struct tree *old, int index, const char *attribute,
                       void (*remove)(void *context, const char *topic), void *context)
{
    char topic[MQTT_TOPIC_MAX];
    struct text text = text_in(topic, sizeof(topic));
    text_add(&text, "%s/%s/%s%s", old->root, old->properties[index].node, old->properties[index].id,
             attribute);
    remove(context, topic);
}

void tree_removed(const struct tree *tree, const struct tree *old,
                  void (*remove)(void *context, const char *topic), void *context)
{
    for (int i = 0; i < old->count; i++) {
        int index = find_same(tree, &old->properties[i]);
        bool kept = index >= 0 && tree->slots[index].known;
        if (!kept)
            remove_one(old, i, "", remove, context);
        if (old->properties[i].settable && !(kept && tree->properties[index].settable))
            remove_one(old, i, "/$target", remove, context);
    }
}
