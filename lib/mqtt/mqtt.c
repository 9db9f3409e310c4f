/* mqtt.c - the door: values in, orders out, and whoever calls never waits.
 *
 * Callers put values into the tree and, where the link is up, hand what is due to the
 * library, which only queues it and wakes its thread; a value that has not changed
 * costs a comparison. The mutex is held for as long as copies take. */
#include "mqtt/mqtt.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "core/text.h"
#include "loop/thread.h"
#include "mqtt/description.h"
#include "mqtt/link.h"

enum { GOOD_BYE_S = 3, KEEP_ALIVE_LEAST_MS = 5000 };

/* ---- starting -------------------------------------------------------------------------------- */

static void init_library(void)
{
    mosquitto_lib_init();
}

static bool settings_ok(const struct mqtt_settings *settings, struct trouble *trouble)
{
    if (!description_id_ok(settings->domain) || !description_id_ok(settings->device))
        return trouble_set(trouble, "",
                           "\"%s/5/%s\": domain and device of a-z, 0-9 and hyphen "
                           "expected",
                           settings->domain, settings->device);
    if (settings->keep_alive_ms < KEEP_ALIVE_LEAST_MS)
        return trouble_set(trouble, "", "keep-alive of %d ms: at least 5 s expected",
                           settings->keep_alive_ms);
    return true;
}

static void init_locks(struct mqtt *mqtt)
{
    pthread_condattr_t attributes;
    pthread_mutex_init(&mqtt->mutex, NULL);
    pthread_mutex_init(&mqtt->detail_mutex, NULL);
    pthread_condattr_init(&attributes);
    pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    pthread_cond_init(&mqtt->changed, &attributes);
    pthread_condattr_destroy(&attributes);
}

struct mqtt *mqtt_start(const struct mqtt_settings *settings, const char *home_name,
                        const struct mqtt_property properties[], int count, const char *memory_path,
                        struct mailbox *inbox, struct trouble *trouble)
{
    static pthread_once_t once = PTHREAD_ONCE_INIT;
    if (!settings_ok(settings, trouble))
        return NULL;
    struct tree *tree = tree_new(settings, home_name, properties, count, trouble);
    if (!tree)
        return NULL;
    pthread_once(&once, init_library);
    struct mqtt *mqtt = calloc(1, sizeof(*mqtt));
    if (!mqtt) {
        tree_free(tree);
        trouble_set(trouble, "", "no memory for the broker's connection");
        return NULL;
    }
    mqtt->settings = *settings;
    mqtt->inbox = inbox;
    mqtt->tree = tree;
    struct text path = text_in(mqtt->memory.path, sizeof(mqtt->memory.path));
    text_add(&path, "%s", memory_path);
    struct text text = text_in(mqtt->trouble, sizeof(mqtt->trouble));
    text_add(&text, "%s:%d: not connected yet", settings->host, settings->port);
    init_locks(mqtt);
    if (thread_start(&mqtt->thread, link_run, mqtt))
        return mqtt;
    trouble_set(trouble, "", "no thread for the broker's connection");
    mqtt_free(mqtt);
    return NULL;
}

void mqtt_free(struct mqtt *mqtt)
{
    pthread_cond_destroy(&mqtt->changed);
    pthread_mutex_destroy(&mqtt->mutex);
    pthread_mutex_destroy(&mqtt->detail_mutex);
    tree_free(mqtt->tree);
    free(mqtt);
}

/* ---- saying -------------------------------------------------------------------------------------
 */

static void lock(struct mqtt *mqtt)
{
    pthread_mutex_lock(&mqtt->mutex);
}

static void unlock(struct mqtt *mqtt)
{
    pthread_mutex_unlock(&mqtt->mutex);
}

static void remove_topic(void *context, const char *topic)
{
    struct mqtt *mqtt = context;
    mqtt->removed = 0; /* as many as were described: no stranger's count */
    link_remove(mqtt, topic);
}

static void exchange(struct mqtt *mqtt, struct tree *tree)
{
    struct tree *old = mqtt->tree;
    tree_succeed(tree, old);
    mqtt->tree = tree;
    link_orders(mqtt, old);
    link_pump(mqtt);
    if (mqtt->link == LINK_UP)
        tree_removed(tree, old, remove_topic, mqtt);
    tree_free(old);
}

bool mqtt_describe(struct mqtt *mqtt, const char *home_name,
                   const struct mqtt_property properties[], int count)
{
    struct trouble trouble;
    struct tree *tree = tree_new(&mqtt->settings, home_name, properties, count, &trouble);
    lock(mqtt);
    if (tree) {
        exchange(mqtt, tree);
    } else {
        struct text text = text_in(mqtt->trouble, sizeof(mqtt->trouble));
        text_add(&text, "%s", trouble.text);
    }
    unlock(mqtt);
    return tree != NULL;
}

void mqtt_retry(struct mqtt *mqtt)
{
    lock(mqtt);
    mqtt->retry = mqtt->link == LINK_DOWN;
    pthread_cond_broadcast(&mqtt->changed);
    unlock(mqtt);
}

void mqtt_value(struct mqtt *mqtt, int property, const char *value)
{
    lock(mqtt);
    if (tree_value(mqtt->tree, property, value))
        link_pump(mqtt);
    unlock(mqtt);
}

void mqtt_order_refused(struct mqtt *mqtt, int property)
{
    lock(mqtt);
    if (tree_target_dropped(mqtt->tree, property))
        link_pump(mqtt);
    unlock(mqtt);
}

void mqtt_alert(struct mqtt *mqtt, const char *id, const char *text)
{
    lock(mqtt);
    if (tree_alert(mqtt->tree, id, text, false))
        link_pump(mqtt);
    unlock(mqtt);
}

bool mqtt_send(struct mqtt *mqtt, const char *topic, const char *payload)
{
    lock(mqtt);
    bool sent =
        mqtt->link == LINK_UP && link_publish(mqtt, topic, payload, strlen(payload), false, NULL);
    unlock(mqtt);
    return sent;
}

/* ---- listening
 * -------------------------------------------------------------------------------------- */

static bool listens_already(const struct mqtt *mqtt, const char *topic)
{
    for (int k = 0; k < mqtt->listens; k++)
        if (strcmp(mqtt->listen[k], topic) == 0)
            return true;
    return false;
}

static bool listen_more(struct mqtt *mqtt, const char *topic)
{
    if (listens_already(mqtt, topic))
        return true;
    if (mqtt->listens == MQTT_LISTEN_MAX || strlen(topic) >= MQTT_TOPIC_MAX ||
        mosquitto_sub_topic_check(topic) != MOSQ_ERR_SUCCESS)
        return false;
    strcpy(mqtt->listen[mqtt->listens++], topic);
    link_listen(mqtt);
    return true;
}

bool mqtt_listen(struct mqtt *mqtt, const char *topic)
{
    lock(mqtt);
    bool listening = listen_more(mqtt, topic);
    unlock(mqtt);
    return listening;
}

/* ---- asking
 * ------------------------------------------------------------------------------------------- */

bool mqtt_connected(struct mqtt *mqtt)
{
    lock(mqtt);
    bool connected = mqtt->link == LINK_UP;
    unlock(mqtt);
    return connected;
}

bool mqtt_away(struct mqtt *mqtt)
{
    lock(mqtt);
    bool away = mqtt->link != LINK_UP && mqtt->tried;
    unlock(mqtt);
    return away;
}

uint64_t mqtt_refused(struct mqtt *mqtt, char why[static MQTT_VALUE_MAX])
{
    lock(mqtt);
    uint64_t refused = mqtt->refused;
    memcpy(why, mqtt->refusal, MQTT_VALUE_MAX);
    unlock(mqtt);
    return refused;
}

void mqtt_trouble(struct mqtt *mqtt, char text[static MQTT_VALUE_MAX])
{
    lock(mqtt);
    memcpy(text, mqtt->trouble, MQTT_VALUE_MAX);
    unlock(mqtt);
}

/* ---- leaving
 * -------------------------------------------------------------------------------------------- */

/* The connection ends with the acknowledgement: if we closed it with the broker's
 * answer still on its way, the broker would see it reset before it has read that we
 * left in good order, and publish that we are lost. */
static void say_good_bye(struct mqtt *mqtt)
{
    static const char disconnected[] = "disconnected";
    char topic[MQTT_TOPIC_MAX];
    struct text text = text_in(topic, sizeof(topic));
    text_add(&text, "%s/$state", tree_root(mqtt->tree));
    if (mqtt->link == LINK_UP &&
        mosquitto_publish(mqtt->client, &mqtt->good_bye, topic, sizeof(disconnected) - 1,
                          disconnected, 1, true) == MOSQ_ERR_SUCCESS)
        return;
    if (mqtt->client)
        mosquitto_disconnect(mqtt->client);
}

/* False: the thread still hangs in the network. */
static bool wait_for_end(struct mqtt *mqtt)
{
    struct timespec until;
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += GOOD_BYE_S;
    int waited = 0;
    while (!mqtt->ended && waited != ETIMEDOUT)
        waited = pthread_cond_timedwait(&mqtt->changed, &mqtt->mutex, &until);
    return mqtt->ended;
}

void mqtt_stop(struct mqtt *mqtt)
{
    pthread_t thread = mqtt->thread;
    const struct mqtt_settings settings = mqtt->settings;
    char path[MEMORY_PATH_MAX];
    lock(mqtt);
    mqtt->stopping = true;
    say_good_bye(mqtt);
    pthread_cond_broadcast(&mqtt->changed);
    bool ended = wait_for_end(mqtt);
    if (mqtt->client)
        mosquitto_disconnect(mqtt->client);
    memcpy(path, mqtt->memory.path, sizeof(path));
    mqtt->abandoned = !ended; /* it frees all when the network lets go of it */
    unlock(mqtt);
    if (!ended) {
        memory_forget(path, &settings); /* the end that comes is none of its doing */
        pthread_detach(thread);
        return;
    }
    pthread_join(thread, NULL);
    mqtt_free(mqtt);
}
