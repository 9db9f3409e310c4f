/* subscriptions.c - topic by topic, and no pattern. */
#include "mqtt/subscriptions.h"

#include <stdlib.h>

enum { SUBSCRIBE_REFUSED = 0x80 }; /* MQTT 3.1.1, 3.9.3; MQTT 5, 3.9.3: and all above */

/* The topics of orders, then those listened to. Returns how many are of orders. */
static int gather_topics(struct mqtt *mqtt, char orders[][MQTT_TOPIC_MAX], char *topics[])
{
    int count = 0;
    for (int i = 0; i < homie_count(mqtt->homie); i++)
        if (homie_set_topic(mqtt->homie, i, orders[count])) {
            topics[count] = orders[count];
            count++;
        }
    for (int k = 0; k < mqtt->listens; k++)
        topics[count + k] = mqtt->listen[k];
    return count;
}

/* The description at QoS 0: it is there before the answer to anything that is sent later,
 * which a handshake for the message would not allow. */
static void subscribe_to(struct mqtt *mqtt, struct mosquitto *client, char orders[][MQTT_TOPIC_MAX],
                         char *topics[])
{
    char description[MQTT_TOPIC_MAX];
    homie_topic(mqtt->homie, "$description", description);
    mqtt->orders = gather_topics(mqtt, orders, topics);
    mqtt->subscribed = mqtt->listens;
    mqtt->subscribed_to = mqtt->described;
    mosquitto_subscribe(client, &mqtt->subscription, description, 0);
    if (mqtt->orders + mqtt->listens > 0)
        mosquitto_subscribe_multiple(client, &mqtt->subscription, mqtt->orders + mqtt->listens,
                                     topics, 2, 0, NULL);
}

void subscriptions_begin(struct mqtt *mqtt, struct mosquitto *client)
{
    size_t most = (size_t)homie_count(mqtt->homie) + MQTT_LISTEN_MAX;
    char(*orders)[MQTT_TOPIC_MAX] = calloc(most, sizeof(orders[0]));
    char **topics = calloc(most, sizeof(topics[0]));
    if (orders && topics)
        subscribe_to(mqtt, client, orders, topics);
    else
        mosquitto_disconnect(client);
    free(orders);
    free(topics);
}

void subscriptions_add(struct mqtt *mqtt)
{
    for (; mqtt->link == LINK_UP && !mqtt->deaf && mqtt->subscribed < mqtt->listens;
         mqtt->subscribed++)
        mosquitto_subscribe(mqtt->client, NULL, mqtt->listen[mqtt->subscribed], 2);
}

static bool has_topic(const struct homie *homie, const char *topic)
{
    int property = homie_property_of_set(homie, topic);
    return property >= 0 && homie_property(homie, property)->settable;
}

void subscriptions_exchange(struct mqtt *mqtt, const struct homie *old)
{
    char topic[MQTT_TOPIC_MAX];
    mqtt->described++; /* a SUBSCRIBE that is under way is of the old one */
    if (mqtt->link != LINK_UP || mqtt->deaf)
        return;
    for (int i = 0; i < homie_count(mqtt->homie); i++)
        if (homie_set_topic(mqtt->homie, i, topic) && !has_topic(old, topic))
            mosquitto_subscribe(mqtt->client, NULL, topic, 2);
    for (int i = 0; i < homie_count(old); i++)
        if (homie_set_topic(old, i, topic) && !has_topic(mqtt->homie, topic))
            mosquitto_unsubscribe(mqtt->client, NULL, topic);
    mqtt->subscribed_to = mqtt->described;
}

void subscriptions_granted(struct mqtt *mqtt, int count, const int granted[])
{
    mqtt->trouble[0] = '\0';
    for (int k = 0; k < count; k++) {
        if (granted[k] < SUBSCRIBE_REFUSED)
            continue;
        if (k >= mqtt->orders)
            shared_trouble(mqtt, "the broker does not let us subscribe to %s",
                           mqtt->listen[k - mqtt->orders]);
        else if (mqtt->settings.accept_orders)
            shared_trouble(mqtt, "the broker does not let us take orders");
    }
}
