/* inbox.c - what arrives: orders, messages listened to, and leftovers.
 *
 * An order is what comes on the /set of a property that may be set. It is obeyed
 * only live: a retained one is an old one, delivered again at each connection, and
 * nobody knows when it was meant. Everything is checked here, so that the loop gets
 * nothing but values that the description allows; a refusal is said on the broker, since
 * whoever sent the order is there.
 *
 * QoS 2 sorts out what the transport doubles. An order that a person gives twice
 * arrives twice, and is harmless: orders have absolute ends. */
#include "mqtt/inbox.h"

#include <string.h>

#include "core/text.h"
#include "mqtt/outbox.h"
#include "mqtt/payload.h"

static const char ORDER_REFUSED[] = "order-refused", MESSAGE_REFUSED[] = "message-refused";

static void refuse(struct mqtt *mqtt, const char *alert, const char *topic, const char *why)
{
    char refusal[MQTT_VALUE_MAX];
    struct text text = text_in(refusal, sizeof(refusal));
    text_add(&text, "%s: %s", topic, why);
    homie_alert(mqtt->homie, alert, refusal, true);
    outbox_pump(mqtt);
}

/* The part of a topic that tells orders apart, for messages: it can be long. */
static const char *order_name(const struct mqtt *mqtt, const char *topic,
                              char name[static TEXT_SHORT_SIZE])
{
    return text_shorten(name, topic + strlen(homie_root(mqtt->homie)) + 1);
}

static bool order_allowed(const struct mqtt *mqtt, const struct mosquitto_message *message,
                          int property, struct trouble *why)
{
    if (message->retain)
        return trouble_set(why, "", "a retained order is ignored");
    if (!mqtt->settings.accept_orders)
        return trouble_set(why, "", "orders are not accepted here");
    if (property < 0)
        return trouble_set(why, "", "there is no such property");
    if (!homie_property(mqtt->homie, property)->settable)
        return trouble_set(why, "", "it cannot be set");
    return true;
}

/* A topic is a state: what was said there before and not yet taken is overtaken. So a flood
 * at one keeps nobody at another from being heard. */
static bool same_topic(const void *waiting, const void *item)
{
    const struct mqtt_message *a = waiting, *b = item;
    return a->property == b->property && strcmp(a->topic, b->topic) == 0;
}

static bool take_order(struct mqtt *mqtt, const struct mosquitto_message *message,
                       struct trouble *why)
{
    struct mqtt_message order = {.property = homie_property_of_set(mqtt->homie, message->topic)};
    char sent[MQTT_VALUE_MAX];
    size_t length = (size_t)message->payloadlen;
    if (!order_allowed(mqtt, message, order.property, why) ||
        !payload_text(message->payload, length, sent, why) ||
        !payload_accept(homie_property(mqtt->homie, order.property), message->payload, length,
                        order.value, why))
        return false;
    struct text topic = text_in(order.topic, sizeof(order.topic));
    text_add(&topic, "%s", message->topic);
    order.length = (uint16_t)strlen(order.value);
    if (!mailbox_put_last(mqtt->inbox, &order, same_topic))
        return trouble_set(why, "", "too many orders at once: try again");
    homie_target(mqtt->homie, order.property, sent); /* byte for byte, before the change */
    homie_own_alert_solved(mqtt->homie, ORDER_REFUSED);
    outbox_pump(mqtt);
    return true;
}

static bool take_listened(struct mqtt *mqtt, const struct mosquitto_message *message,
                          struct trouble *why)
{
    struct mqtt_message heard = {
        .property = -1, .length = (uint16_t)message->payloadlen, .retained = message->retain};
    if (strlen(message->topic) >= sizeof(heard.topic))
        return trouble_set(why, "", "the topic is too long");
    if (!payload_text(message->payload, (size_t)message->payloadlen, heard.value, why))
        return false;
    memcpy(heard.topic, message->topic, strlen(message->topic));
    if (!mailbox_put_last(mqtt->inbox, &heard, same_topic))
        return trouble_set(why, "", "too many messages at once");
    homie_own_alert_solved(mqtt->homie, MESSAGE_REFUSED);
    outbox_pump(mqtt);
    return true;
}

static bool ends_with(const char *topic, const char *end)
{
    size_t length = strlen(topic), end_length = strlen(end);
    return length >= end_length && strcmp(topic + length - end_length, end) == 0;
}

static void remove_left_over(void *context, const char *topic)
{
    outbox_remove(context, topic);
}

static bool is_below_root(const struct mqtt *mqtt, const char *topic)
{
    size_t length = strlen(homie_root(mqtt->homie));
    return strncmp(topic, homie_root(mqtt->homie), length) == 0 && topic[length] == '/';
}

static void take(struct mqtt *mqtt, const struct mosquitto_message *message)
{
    struct trouble why;
    char name[TEXT_SHORT_SIZE];
    if (!is_below_root(mqtt, message->topic)) {
        if (!take_listened(mqtt, message, &why))
            refuse(mqtt, MESSAGE_REFUSED, text_shorten(name, message->topic), why.text);
    } else if (ends_with(message->topic, "/set")) {
        if (!take_order(mqtt, message, &why))
            refuse(mqtt, ORDER_REFUSED, order_name(mqtt, message->topic, name), why.text);
    } else if (message->retain && homie_is_description(mqtt->homie, message->topic)) {
        homie_description_found(mqtt->homie, message->payload, (size_t)message->payloadlen,
                                remove_left_over, mqtt);
    }
}

void inbox_message(struct mqtt *mqtt, const struct mosquitto_message *message)
{
    pthread_mutex_lock(&mqtt->mutex);
    if (!mqtt->stopping) /* the mailbox may be gone after */
        take(mqtt, message);
    pthread_mutex_unlock(&mqtt->mutex);
}
