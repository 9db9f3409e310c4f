/* homie.c - the last value of each topic, and what of it is due.
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
 * them stand at the broker, the run's record tells.
 *
 * $target (Homie 5, "Property Attributes") must be used for every update of a value
 * or never: properties that can be set have it, the others do not. */
#include "mqtt/homie.h"

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
    char text[HOMIE_ALERT_MAX]; /* "": solved, to be removed from the broker */
    bool stands;                /* the broker has it */
    bool used, due, own;
};

struct homie {
    char root[ROOT_MAX];
    char home_name[64];
    enum stage stage;
    int64_t version;
    char *description;
    struct alert alerts[HOMIE_ALERTS_MAX];
    bool alerts_changed; /* which of them stand, since homie_alerts_standing */
    int due, cursor;     /* how many slots are due, and where to look for the next */
    int count;
    struct mqtt_property *properties;
    struct slot *slots;
};

/* ---- birth and death ----------------------------------------------------------------- */

static bool describe(struct homie *homie, int64_t version)
{
    char *description =
        description_write(homie->home_name, homie->properties, homie->count, version);
    if (!description)
        return false;
    free(homie->description);
    homie->description = description;
    homie->version = version;
    return true;
}

static bool fill(struct homie *homie, const struct mqtt_settings *settings, const char *home_name,
                 const struct mqtt_property properties[])
{
    struct text root = text_in(homie->root, sizeof(homie->root));
    struct text name = text_in(homie->home_name, sizeof(homie->home_name));
    text_add(&root, "%s/5/%s", settings->domain, settings->device);
    text_add(&name, "%s", home_name);
    homie->properties = calloc((size_t)homie->count + 1, sizeof(homie->properties[0]));
    homie->slots = calloc((size_t)homie->count + 1, sizeof(homie->slots[0]));
    if (!homie->properties || !homie->slots)
        return false;
    memcpy(homie->properties, properties, (size_t)homie->count * sizeof(properties[0]));
    return describe(homie, 1);
}

struct homie *homie_new(const struct mqtt_settings *settings, const char *home_name,
                        const struct mqtt_property properties[], int count, struct trouble *trouble)
{
    if (!description_ok(properties, count, trouble))
        return NULL;
    struct homie *homie = calloc(1, sizeof(*homie));
    if (homie)
        homie->count = count;
    if (homie && fill(homie, settings, home_name, properties))
        return homie;
    homie_free(homie);
    trouble_set(trouble, "", "no memory for %d properties", count);
    return NULL;
}

void homie_free(struct homie *homie)
{
    if (!homie)
        return;
    free(homie->description);
    free(homie->properties);
    free(homie->slots);
    free(homie);
}

const char *homie_root(const struct homie *homie)
{
    return homie->root;
}

void homie_topic(const struct homie *homie, const char *below, char topic[static MQTT_TOPIC_MAX])
{
    struct text text = text_in(topic, MQTT_TOPIC_MAX);
    text_add(&text, "%s/%s", homie->root, below);
}

const struct mqtt_property *homie_property(const struct homie *homie, int property)
{
    return &homie->properties[property];
}

/* ---- what is due ------------------------------------------------------------------------ */

static bool is_due(const struct slot *slot)
{
    return slot->value_due || slot->target_due;
}

/* Values go out once the description has; before, all that is known is due anyway. */
static bool mark(struct homie *homie, int property, bool value, bool target)
{
    struct slot *slot = &homie->slots[property];
    if (homie->stage == AWAY)
        return false;
    homie->due -= is_due(slot);
    slot->value_due |= value;
    slot->target_due |= target && homie->properties[property].settable;
    homie->due += is_due(slot);
    return is_due(slot);
}

static bool in_range(const struct homie *homie, int property)
{
    return property >= 0 && property < homie->count;
}

static bool set(char to[static MQTT_VALUE_MAX], const char *value)
{
    if (strcmp(to, value) == 0)
        return false;
    struct text text = text_in(to, MQTT_VALUE_MAX);
    text_add(&text, "%s", value);
    return true;
}

bool homie_value(struct homie *homie, int property, const char *value)
{
    char cut[MQTT_VALUE_MAX];
    if (!in_range(homie, property))
        return false;
    struct slot *slot = &homie->slots[property];
    bool known = value[0] || homie->properties[property].datatype == MQTT_STRING;
    struct text text = text_in(cut, sizeof(cut));
    text_add(&text, "%s", value);
    bool first = slot->known != known;
    if (!set(slot->value, cut) && !first)
        return false;
    slot->known = known;
    return mark(homie, property, true, set(slot->target, cut) || first);
}

void homie_target(struct homie *homie, int property, const char *value)
{
    if (set(homie->slots[property].target, value))
        mark(homie, property, false, true);
}

bool homie_target_dropped(struct homie *homie, int property)
{
    if (!in_range(homie, property))
        return false;
    struct slot *slot = &homie->slots[property];
    return set(slot->target, slot->value) && mark(homie, property, false, true);
}

/* ---- alerts ------------------------------------------------------------------------------- */

static struct alert *find_alert(struct homie *homie, const char *id)
{
    for (int k = 0; k < HOMIE_ALERTS_MAX; k++)
        if (homie->alerts[k].used && strcmp(homie->alerts[k].id, id) == 0)
            return &homie->alerts[k];
    return NULL;
}

static struct alert *new_alert(struct homie *homie, const char *id)
{
    for (int k = 0; k < HOMIE_ALERTS_MAX; k++) {
        struct alert *alert = &homie->alerts[k];
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

bool homie_alert(struct homie *homie, const char *id, const char *text, bool own)
{
    char legal[MQTT_ID_MAX], cut[HOMIE_ALERT_MAX];
    legal_id(legal, id);
    struct alert *alert = find_alert(homie, legal);
    if (!alert && text)
        alert = new_alert(homie, legal);
    if (!alert)
        return false;
    struct text shown = text_in(cut, sizeof(cut));
    text_add(&shown, "%s", text ? text : "");
    alert->own = own;
    if (strcmp(alert->text, cut) == 0)
        return false;
    memcpy(alert->text, cut, sizeof(cut));
    alert->due = homie->stage != AWAY;
    alert->used = alert->due || alert->stands || cut[0];
    return alert->due;
}

void homie_alert_stands(struct homie *homie, const char *id)
{
    char legal[MQTT_ID_MAX];
    legal_id(legal, id);
    struct alert *alert = legal[0] && !find_alert(homie, legal) ? new_alert(homie, legal) : NULL;
    if (alert)
        alert->stands = true;
}

bool homie_alerts_standing(struct homie *homie, char ids[static HOMIE_ALERTS_MAX][MQTT_ID_MAX],
                           int *count)
{
    bool changed = homie->alerts_changed;
    homie->alerts_changed = false;
    *count = 0;
    for (int k = 0; k < HOMIE_ALERTS_MAX; k++)
        if (homie->alerts[k].used && homie->alerts[k].stands)
            memcpy(ids[(*count)++], homie->alerts[k].id, MQTT_ID_MAX);
    return changed;
}

void homie_own_alert_solved(struct homie *homie, const char *id)
{
    struct alert *alert = find_alert(homie, id);
    if (alert && alert->own)
        homie_alert(homie, id, NULL, true);
}

/* ---- the way of a connection ---------------------------------------------------------------- */

static void make_all_due(struct homie *homie)
{
    for (int i = 0; i < homie->count; i++)
        if (homie->slots[i].known || homie->slots[i].stands)
            mark(homie, i, true, true);
    for (int k = 0; k < HOMIE_ALERTS_MAX; k++)
        homie->alerts[k].due = homie->alerts[k].used;
}

void homie_depart(struct homie *homie)
{
    homie->stage = AWAY;
    homie->due = 0;
    for (int i = 0; i < homie->count; i++)
        homie->slots[i].value_due = homie->slots[i].target_due = false;
    for (int k = 0; k < HOMIE_ALERTS_MAX; k++) {
        struct alert *alert = &homie->alerts[k];
        alert->due = false;
        alert->used = alert->used && (alert->text[0] || alert->stands);
    }
}

void homie_arrive(struct homie *homie)
{
    homie_depart(homie);
    homie->stage = ARRIVING;
}

void homie_cleared(struct homie *homie)
{
    if (homie->stage != CLEARING)
        return;
    homie->stage = DESCRIBING;
    make_all_due(homie);
}

static void put(const struct homie *homie, struct homie_message *message, const char *topic,
                const char *payload)
{
    homie_topic(homie, topic, message->topic);
    message->payload = payload;
    message->length = strlen(payload);
    message->barrier = false;
}

static void put_state(struct homie *homie, struct homie_message *message, const char *state,
                      enum stage then)
{
    put(homie, message, "$state", state);
    homie->stage = then;
}

static void put_slot(struct homie *homie, struct homie_message *message, int index)
{
    const struct mqtt_property *property = &homie->properties[index];
    struct slot *slot = &homie->slots[index];
    bool target = slot->target_due; /* before the value that it announces */
    char topic[MQTT_TOPIC_MAX];
    struct text text = text_in(topic, sizeof(topic));
    text_add(&text, "%s/%s%s", property->node, property->id, target ? "/$target" : "");
    put(homie, message, topic, target ? slot->target : slot->value);
    /* A retained message of no length is removed; an empty text is one byte of 0. */
    if (slot->known && message->length == 0)
        message->length = 1;
    slot->stands = slot->known;
    homie->due--;
    *(target ? &slot->target_due : &slot->value_due) = false;
    homie->due += is_due(slot);
}

static bool put_due_slot(struct homie *homie, struct homie_message *message)
{
    if (homie->due == 0)
        return false;
    while (!is_due(&homie->slots[homie->cursor]))
        homie->cursor = (homie->cursor + 1) % homie->count;
    put_slot(homie, message, homie->cursor);
    return true;
}

static bool put_due_alert(struct homie *homie, struct homie_message *message)
{
    char topic[MQTT_ID_MAX + 8];
    for (int k = 0; k < HOMIE_ALERTS_MAX; k++) {
        struct alert *alert = &homie->alerts[k];
        if (!alert->due)
            continue;
        struct text text = text_in(topic, sizeof(topic));
        text_add(&text, "$alert/%s", alert->id);
        put(homie, message, topic, alert->text);
        alert->due = false;
        alert->used = alert->text[0] != '\0';
        homie->alerts_changed |= alert->stands != alert->used;
        alert->stands = alert->used;
        return true;
    }
    return false;
}

bool homie_next(struct homie *homie, struct homie_message *message)
{
    switch (homie->stage) {
    case AWAY:
    case CLEARING:
        return false;
    case ARRIVING:
        put_state(homie, message, "init", CLEARING);
        message->barrier = true;
        return true;
    case RENEWING:
        put_state(homie, message, "init", DESCRIBING);
        return true;
    case DESCRIBING:
        put(homie, message, "$description", homie->description);
        homie->stage = FILLING;
        return true;
    case FILLING:
    case LIVE:
        break;
    }
    if (put_due_slot(homie, message) || put_due_alert(homie, message))
        return true;
    if (homie->stage == LIVE)
        return false;
    put_state(homie, message, "ready", LIVE);
    return true;
}

/* ---- topics back to what they belong to --------------------------------------------------------
 */

/* What follows "ROOT/", or NULL. */
static const char *below_root(const struct homie *homie, const char *topic)
{
    size_t length = strlen(homie->root);
    if (strncmp(topic, homie->root, length) != 0 || topic[length] != '/')
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
static int find_property(const struct homie *homie, const char *path, const char **rest)
{
    for (int i = 0; i < homie->count; i++) {
        const char *id = after(path, homie->properties[i].node);
        *rest = id && *id == '/' ? after(id + 1, homie->properties[i].id) : NULL;
        if (*rest && (**rest == '\0' || **rest == '/'))
            return i;
    }
    return -1;
}

int homie_count(const struct homie *homie)
{
    return homie->count;
}

bool homie_set_topic(const struct homie *homie, int property, char topic[static MQTT_TOPIC_MAX])
{
    if (!in_range(homie, property) || !homie->properties[property].settable)
        return false;
    struct text text = text_in(topic, MQTT_TOPIC_MAX);
    text_add(&text, "%s/%s/%s/set", homie->root, homie->properties[property].node,
             homie->properties[property].id);
    return !text.full;
}

int homie_property_of_set(const struct homie *homie, const char *topic)
{
    const char *path = below_root(homie, topic), *rest;
    int property = path ? find_property(homie, path, &rest) : -1;
    return property >= 0 && strcmp(rest, "/set") == 0 ? property : -1;
}

static bool same_text(const char *text, const void *bytes, size_t length)
{
    return strlen(text) == length && memcmp(text, bytes, length) == 0;
}

/* Somebody's description, most likely our own of an earlier run. */
static void mind_version(struct homie *homie, const void *payload, size_t length)
{
    int64_t theirs = description_version(payload, length);
    if (theirs < homie->version || same_text(homie->description, payload, length))
        return;
    if (describe(homie, theirs) && !same_text(homie->description, payload, length))
        describe(homie, theirs + 1);
}

bool homie_is_description(const struct homie *homie, const char *topic)
{
    const char *path = below_root(homie, topic);
    return path && strcmp(path, "$description") == 0;
}

struct clearing {
    struct homie *homie;
    void (*remove)(void *context, const char *topic);
    void *context;
};

/* A property of that earlier run: ours is marked, so that a value from then is not taken
 * for one from now; another's goes. */
static void clear_one(void *context, const char *node, const char *id, bool settable)
{
    const struct clearing *clearing = context;
    struct homie *homie = clearing->homie;
    char path[MQTT_TOPIC_MAX], topic[MQTT_TOPIC_MAX];
    const char *rest;
    struct text place = text_in(path, sizeof(path));
    text_add(&place, "%s/%s", node, id);
    int property = find_property(homie, path, &rest);
    if (property >= 0)
        homie->slots[property].stands = true;
    for (int target = 0; target <= settable; target++) {
        if (property >= 0 && (!target || homie->properties[property].settable))
            continue;
        struct text text = text_in(topic, sizeof(topic));
        text_add(&text, "%s/%s%s", homie->root, path, target ? "/$target" : "");
        if (!place.full && !text.full)
            clearing->remove(clearing->context, topic);
    }
}

void homie_description_found(struct homie *homie, const void *payload, size_t length,
                             void (*remove)(void *context, const char *topic), void *context)
{
    struct clearing clearing = {homie, remove, context};
    if (homie->stage > CLEARING)
        return;
    mind_version(homie, payload, length);
    description_each(payload, length, clear_one, &clearing);
}

/* ---- one description after another
 * --------------------------------------------------------------- */

static int find_same(const struct homie *homie, const struct mqtt_property *property)
{
    for (int i = 0; i < homie->count; i++)
        if (strcmp(homie->properties[i].node, property->node) == 0 &&
            strcmp(homie->properties[i].id, property->id) == 0)
            return i;
    return -1;
}

static void take_over_slot(struct homie *homie, int index, const struct homie *old, int old_index)
{
    const struct mqtt_property *now = &homie->properties[index];
    const struct mqtt_property *then = &old->properties[old_index];
    if (now->datatype != then->datatype)
        return;
    homie->slots[index] = old->slots[old_index];
    if (now->settable && !then->settable && homie->slots[index].known)
        homie->slots[index].target_due = old->stage != AWAY;
    homie->slots[index].target_due &= now->settable;
    homie->due += is_due(&homie->slots[index]);
}

bool homie_succeed(struct homie *homie, const struct homie *old)
{
    bool same = describe(homie, old->version) && strcmp(homie->description, old->description) == 0;
    if (!same)
        describe(homie, old->version + 1);
    for (int i = 0; i < homie->count; i++) {
        int old_index = find_same(old, &homie->properties[i]);
        if (old_index >= 0)
            take_over_slot(homie, i, old, old_index);
    }
    memcpy(homie->alerts, old->alerts, sizeof(homie->alerts));
    homie->alerts_changed = old->alerts_changed;
    homie->stage = old->stage;
    if (!same && old->stage > CLEARING)
        homie->stage = RENEWING;
    return !same;
}

static void remove_one(const struct homie *old, int index, const char *attribute,
                       void (*remove)(void *context, const char *topic), void *context)
{
    char topic[MQTT_TOPIC_MAX];
    struct text text = text_in(topic, sizeof(topic));
    text_add(&text, "%s/%s/%s%s", old->root, old->properties[index].node, old->properties[index].id,
             attribute);
    remove(context, topic);
}

void homie_removed(const struct homie *homie, const struct homie *old,
                   void (*remove)(void *context, const char *topic), void *context)
{
    for (int i = 0; i < old->count; i++) {
        int index = find_same(homie, &old->properties[i]);
        bool kept = index >= 0 && homie->slots[index].known;
        if (!kept)
            remove_one(old, i, "", remove, context);
        if (old->properties[i].settable && !(kept && homie->properties[index].settable))
            remove_one(old, i, "/$target", remove, context);
    }
}
