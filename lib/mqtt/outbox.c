/* outbox.c - a window of messages on their way.
 *
 * At most WINDOW messages are on their way at any time. What is due beyond that waits
 * in the device, where it costs nothing and where the newest value overwrites older ones:
 * a broker that takes the connection and then nothing more cannot make us grow. */
#include "mqtt/outbox.h"

enum {
    WINDOW = 16,       /* below the 20 that the library has in flight without queueing */
    SEND_WINDOW = 32,  /* outputs' messages may go beyond it a little */
    REMOVED_MAX = 256, /* leftovers cleared away on one connection */
};

bool outbox_publish(struct mqtt *mqtt, const char *topic, const void *payload, size_t length,
                    bool retain, int *id)
{
    /* QoS 1: the convention recommends 2, which keeps a message from coming twice. A
     * retained value that comes twice says the same twice, and costs half. */
    if (mqtt->under_way >= SEND_WINDOW)
        return false;
    int code = mosquitto_publish(mqtt->client, id, topic, (int)length, payload, 1, retain);
    if (code == MOSQ_ERR_OVERSIZE_PACKET)
        shared_trouble(mqtt, "the broker rejects messages as large as ours: %zu bytes", length);
    if (code != MOSQ_ERR_SUCCESS)
        return false;
    mqtt->under_way++;
    return true;
}

void outbox_remove(struct mqtt *mqtt, const char *topic)
{
    if (mqtt->client && mqtt->removed < REMOVED_MAX) {
        mqtt->removed++;
        if (mosquitto_publish(mqtt->client, NULL, topic, 0, NULL, 0, true) == MOSQ_ERR_SUCCESS)
            mqtt->under_way++;
    }
}

void outbox_pump(struct mqtt *mqtt)
{
    struct homie_message message;
    int id = 0;
    while (mqtt->link == LINK_UP && !mqtt->stopping && mqtt->under_way < WINDOW &&
           homie_next(mqtt->homie, &message)) {
        outbox_publish(mqtt, message.topic, message.payload, message.length, true, &id);
        if (message.barrier)
            mqtt->barrier = id;
    }
}
