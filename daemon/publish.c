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
#include "orders.h"
#include "site.h"
#include "status.h"
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

static int describe(struct site *site, struct mqtt_property properties[])
{
    struct values_view view = status_view(site);
    return values_each_topic(&view, describe_one, properties);
}

/* Beside the ledger: what the broker's connection keeps from run to run. */
static const char *memory_path(const struct site *site, char path[static MEMORY_PATH_MAX])
{
    const char *ledger = site->common.settings->ledger.path, *slash = strrchr(ledger, '/');
    int folder = slash ? (int)(slash - ledger) + 1 : 0;
    snprintf(path, MEMORY_PATH_MAX, "%.*sbroker", folder, ledger);
    return path;
}

void publish_start(struct site *site)
{
    static struct mqtt_property properties[VALUES_TOPICS_MAX]; /* too large for a stack */
    struct trouble trouble;
    char path[MEMORY_PATH_MAX];
    if (!site->common.settings->mqtt.enabled)
        return;
    int count = describe(site, properties);
    site->common.mqtt =
        mqtt_start(&site->common.settings->mqtt, site->common.settings->site_name, properties,
                   count, memory_path(site, path), site->broker.inbox, &trouble);
    site->broker.since = MONO_NEVER;
    if (!site->common.mqtt)
        site_trouble(&site->common, SITE_TROUBLE_BROKER, "MQTT: %s", trouble.text);
    for (int k = 0; site->common.mqtt && k < site->common.trouble_count;
         k++) /* what was wrong before */
        site_trouble_again(&site->common, k);
}

struct mqtt *publish_reload(struct site *site, const struct settings *before)
{
    static struct mqtt_property properties[VALUES_TOPICS_MAX];
    const struct settings *after = site->common.settings;
    struct mqtt *old = site->common.mqtt;
    memset(site->broker.published, 0, sizeof(site->broker.published)); /* REASON_NONE */
    if (memcmp(&before->mqtt, &after->mqtt, sizeof(before->mqtt)) != 0) {
        site->common.mqtt = NULL;
        site_solved(&site->common, SITE_TROUBLE_BROKER);
        publish_start(site);
        return old;
    }
    if (old) {
        mqtt_describe(old, after->site_name, properties, describe(site, properties));
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

static bool a_reason_changed(struct site *site)
{
    bool changed = false;
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++) {
        changed |= site->broker.published[i] != site->engine.decisions[i].reason.code;
        site->broker.published[i] = site->engine.decisions[i].reason.code;
    }
    return changed;
}

/* ---- is the broker there? ------------------------------------------------------------------ */

/* Once: the reason may change from try to try, and status shows it as it is now. */
static void tell_away(struct site *site)
{
    char why[MQTT_VALUE_MAX];
    site->broker.since = MONO_NEVER;
    if (site_has_trouble(&site->common, SITE_TROUBLE_BROKER))
        return;
    mqtt_trouble(site->common.mqtt, why);
    site_trouble(&site->common, SITE_TROUBLE_BROKER, "no connection to the broker: %s", why);
}

/* Back is what stays: one that throws us out again each second is told once as away. */
static void tell_back(struct site *site)
{
    char why[MQTT_VALUE_MAX];
    if (site->broker.since.ms == MONO_NEVER.ms)
        site->broker.since = site->common.now.mono;
    if (mono_since_ms(site->common.now.mono, site->broker.since) < BROKER_STAYS_MS)
        return;
    mqtt_trouble(site->common.mqtt, why);
    if (why[0])
        site_trouble(&site->common, SITE_TROUBLE_BROKER, "MQTT: %s", why);
    else
        site_solved(&site->common, SITE_TROUBLE_BROKER);
}

static void watch_broker(struct site *site)
{
    if (mqtt_away(site->common.mqtt))
        tell_away(site);
    else if (mqtt_connected(site->common.mqtt))
        tell_back(site);
}

void publish_turn(struct site *site)
{
    if (!site->common.mqtt)
        return;
    watch_broker(site);
    bool slow_too = a_reason_changed(site) || site->common.now.mono.ms >= site->broker.texts_due.ms;
    if (slow_too)
        site->broker.texts_due = mono_after(site->common.now.mono, TEXT_EVERY_MS);
    struct values_view view = status_view(site);
    values_each_topic(&view, publish_one, &(struct publishing){site->common.mqtt, slow_too});
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

static bool order(struct site *site, const struct wanted *wanted, const char *text,
                  struct text *answer)
{
    const char *load = wanted->load < 0 ? "all" : site->common.settings->names[wanted->load].name;
    switch (wanted->order) {
    case ORDER_RUN:
        return order_load(site, load, text, answer);
    case ORDER_ENABLE:
        return order_enable(site, load, text, answer);
    case ORDER_INHIBIT:
        return order_inhibit(site, load, text, answer);
    case ORDER_HOLIDAY:
        return order_holiday(site, text, answer);
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

static void obey(struct site *site, const struct mqtt_message *message)
{
    char buffer[SITE_TROUBLE_TEXT_MAX];
    struct text answer = text_in(buffer, sizeof(buffer));
    struct wanted wanted = {.index = message->property};
    struct values_view view = status_view(site);
    values_each_topic(&view, find_one, &wanted);
    if (wanted.order == ORDER_NONE)
        return;
    if (!is_topic_of(message->topic, wanted.property.node, wanted.property.id))
        return; /* it was sent before a reload gave its number to another property */
    if (!order_gate_admit(&site->engine, &site->common, ORDERS_BY_BROKER, wanted.property.id,
                          message->value, &answer)) {
        mqtt_order_refused(site->common.mqtt, message->property);
    } else if (order(site, &wanted, message->value, &answer)) {
        if (site->engine.orders.record)
            log_line(LOG_LEVEL_NOTICE, "%s: %s", message->topic, buffer);
        site_solved(&site->common, "order-refused");
    } else {
        if (site->engine.orders.record)
            site_trouble(&site->common, "order-refused", "%s refused: %s", message->topic, buffer);
        mqtt_order_refused(site->common.mqtt, message->property);
    }
}

void publish_take_orders(struct site *site)
{
    struct mqtt_message message;
    while (mailbox_take(site->broker.inbox, &message)) {
        if (message.property >= 0)
            obey(site, &message);
        else if (outputs_state_message(site->switching.outputs, message.topic, message.value,
                                       message.length, site->common.now.mono))
            continue;
    }
}

void publish_listen(struct site *site)
{
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++)
        if (site->common.mqtt && output_state_topic(&site->common.settings->outputs[i])[0])
            mqtt_listen(site->common.mqtt, output_state_topic(&site->common.settings->outputs[i]));
}
