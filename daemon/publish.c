/* publish.c - the site as properties on the broker.
 *
 * What there is, and how it is written, stands in the rows of lib/values. Here is when it
 * goes out: powers follow the meter each second, what is slow is renewed when a reason changes
 * or once in ten seconds. */
#include "publish.h"

#include <stdio.h>
#include <string.h>

#include "loop/log.h"
#include "order_gate.h"
#include "troubles.h"

enum {
    TEXT_EVERY_MS = 10000,
    MEMORY_PATH_MAX = 256,
    BROKER_STAYS_MS = 10 * MS_PER_S,
};

static void describe_one(void *context, int index, const struct topic *topic)
{
    topic_describe(topic, &((struct mqtt_property *)context)[index]);
}

/* Beside the ledger: what the broker's connection keeps from run to run. */
static const char *memory_path(const struct settings *settings, char path[static MEMORY_PATH_MAX])
{
    const char *ledger = settings->ledger.path, *slash = strrchr(ledger, '/');
    int folder = slash ? (int)(slash - ledger) + 1 : 0;
    snprintf(path, MEMORY_PATH_MAX, "%.*sbroker", folder, ledger);
    return path;
}

void publish_start(struct broker *broker, struct common *common, const struct values_view *view)
{
    static struct mqtt_property properties[VALUES_TOPICS_MAX]; /* too large for a stack */
    struct trouble trouble;
    char path[MEMORY_PATH_MAX];
    if (!common->settings->mqtt.enabled)
        return;
    int count = values_each_topic(view, describe_one, properties);
    common->mqtt = mqtt_start(&common->settings->mqtt, common->settings->site_name, properties,
                              count, memory_path(common->settings, path), broker->inbox, &trouble);
    broker->since = MONO_NEVER;
    if (!common->mqtt)
        site_trouble(common, SITE_TROUBLE_BROKER, "MQTT: %s", trouble.text);
    for (int k = 0; common->mqtt && k < common->trouble_count; k++) /* what was wrong before */
        site_trouble_again(common, k);
}

struct mqtt *publish_reload(struct broker *broker, struct common *common,
                            const struct settings *before, const struct values_view *view)
{
    static struct mqtt_property properties[VALUES_TOPICS_MAX];
    const struct settings *after = common->settings;
    struct mqtt *old = common->mqtt;
    memset(broker->published, 0, sizeof(broker->published)); /* REASON_NONE */
    if (memcmp(&before->mqtt, &after->mqtt, sizeof(before->mqtt)) != 0) {
        common->mqtt = NULL;
        site_solved(common, SITE_TROUBLE_BROKER);
        publish_start(broker, common, view);
        return old;
    }
    if (old) {
        int count = values_each_topic(view, describe_one, properties);
        mqtt_describe(old, after->site_name, properties, count);
        mqtt_retry(old); /* a person is here and wants to see it work */
    }
    return NULL;
}

struct publishing {
    struct mqtt *mqtt;
    bool slow_too;
};

static void publish_one(void *context, int index, const struct topic *topic)
{
    char buffer[MQTT_VALUE_MAX];
    struct text value = text_in(buffer, sizeof(buffer));
    const struct publishing *publishing = context;
    if (topic->row->slow && !publishing->slow_too)
        return;
    topic_write(topic, &value);
    mqtt_value(publishing->mqtt, index, buffer); /* nothing: it is not known any more */
}

static bool a_reason_changed(struct broker *broker, const struct values_view *view)
{
    bool changed = false;
    for (uint16_t i = 0; i < view->settings->rules.load_count; i++) {
        changed |= broker->published[i] != view->decisions[i].reason.code;
        broker->published[i] = view->decisions[i].reason.code;
    }
    return changed;
}

/* ---- is the broker there? ------------------------------------------------------------------ */

/* Once: the reason may change from try to try, and status shows it as it is now. */
static void tell_away(struct broker *broker, struct common *common)
{
    char why[MQTT_VALUE_MAX];
    broker->since = MONO_NEVER;
    if (site_has_trouble(common, SITE_TROUBLE_BROKER))
        return;
    mqtt_trouble(common->mqtt, why);
    site_trouble(common, SITE_TROUBLE_BROKER, "no connection to the broker: %s", why);
}

/* Back is what stays: one that throws us out again each second is told once as away. */
static void tell_back(struct broker *broker, struct common *common)
{
    char why[MQTT_VALUE_MAX];
    if (broker->since.ms == MONO_NEVER.ms)
        broker->since = common->now.mono;
    if (mono_since_ms(common->now.mono, broker->since) < BROKER_STAYS_MS)
        return;
    mqtt_trouble(common->mqtt, why);
    if (why[0])
        site_trouble(common, SITE_TROUBLE_BROKER, "MQTT: %s", why);
    else
        site_solved(common, SITE_TROUBLE_BROKER);
}

static void watch_broker(struct broker *broker, struct common *common)
{
    if (mqtt_away(common->mqtt))
        tell_away(broker, common);
    else if (mqtt_connected(common->mqtt))
        tell_back(broker, common);
}

void publish_turn(struct broker *broker, struct common *common, const struct values_view *view)
{
    if (!common->mqtt)
        return;
    watch_broker(broker, common);
    bool slow_too = a_reason_changed(broker, view) || common->now.mono.ms >= broker->texts_due.ms;
    if (slow_too)
        broker->texts_due = mono_after(common->now.mono, TEXT_EVERY_MS);
    values_each_topic(view, publish_one, &(struct publishing){common->mqtt, slow_too});
}

/* ---- orders ------------------------------------------------------------------------------ */

struct wanted {
    int index;
    enum value_order order;
    int load; /* -1: of the site */
    struct mqtt_property property;
};

static void find_one(void *context, int index, const struct topic *topic)
{
    struct wanted *wanted = context;
    if (index != wanted->index)
        return;
    wanted->order = topic->row->order;
    wanted->load = topic->at.outer;
    topic_describe(topic, &wanted->property);
}

static bool order(const struct ordering *ordering, const struct wanted *wanted, const char *text,
                  struct text *answer)
{
    const char *load =
        wanted->load < 0 ? "all" : ordering->common->settings->names[wanted->load].name;
    switch (wanted->order) {
    case ORDER_RUN:
        return order_load(ordering, load, text, answer);
    case ORDER_MODE:
        return order_mode(ordering, load, text, answer);
    case ORDER_RUN_FOR:
        return order_run_for(ordering, load, text, answer);
    case ORDER_ENABLE:
        return order_enable(ordering, load, text, answer);
    case ORDER_INHIBIT:
        return order_inhibit(ordering, load, text, answer);
    case ORDER_HOLIDAY:
        return order_holiday(ordering, text, answer);
    case ORDER_NONE:
        break;
    }
    return false;
}

static bool is_topic_of(const char *topic, const char *node, const char *id)
{
    char end[MQTT_TOPIC_MAX];
    int length = snprintf(end, sizeof(end), "/%s/%s/set", node, id);
    size_t whole = strlen(topic);
    return whole > (size_t)length && strcmp(topic + whole - (size_t)length, end) == 0;
}

static void obey(const struct ordering *ordering, const struct values_view *view,
                 const struct mqtt_message *message)
{
    struct orders *orders = &ordering->engine->orders;
    struct common *common = ordering->common;
    char buffer[SITE_TROUBLE_TEXT_MAX];
    struct text answer = text_in(buffer, sizeof(buffer));
    struct wanted wanted = {.index = message->property};
    values_each_topic(view, find_one, &wanted);
    if (wanted.order == ORDER_NONE)
        return;
    if (!is_topic_of(message->topic, wanted.property.node, wanted.property.id))
        return; /* it was sent before a reload gave its number to another property */
    if (!order_gate_admit(orders, common, ORDERS_BY_BROKER, wanted.property.id, message->value,
                          &answer)) {
        mqtt_order_refused(common->mqtt, message->property);
    } else if (order(ordering, &wanted, message->value, &answer)) {
        if (orders->record)
            log_line(LOG_LEVEL_NOTICE, "%s: %s", message->topic, buffer);
        site_solved(common, "order-refused");
    } else {
        if (orders->record)
            site_trouble(common, "order-refused", "%s refused: %s", message->topic, buffer);
        mqtt_order_refused(common->mqtt, message->property);
    }
}

void publish_take(struct broker *broker, const struct ordering *ordering, struct outputs *outputs,
                  struct thermometers *thermometers, const struct values_view *view)
{
    struct mqtt_message message;
    while (mailbox_take(broker->inbox, &message)) {
        if (message.property >= 0) {
            obey(ordering, view, &message);
            continue;
        }
        outputs_state_message(outputs, message.topic, message.value, message.length,
                              ordering->common->now.mono);
        thermometers_message(thermometers, &message, ordering->common->now.mono);
    }
}

void publish_listen(const struct common *common)
{
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        if (common->mqtt && output_state_topic(&common->settings->outputs[i])[0])
            mqtt_listen(common->mqtt, output_state_topic(&common->settings->outputs[i]));
}
