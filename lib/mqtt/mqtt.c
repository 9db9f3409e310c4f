/* mqtt.c - the door: values in, orders out, and whoever calls never waits.
 *
 * Callers put values into the device (homie.h) and, where the link is up, hand what is due to the
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
#include "mqtt/outbox.h"
#include "mqtt/shared.h"
#include "mqtt/subscriptions.h"

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

struct mqtt *mqtt_start(const struct mqtt_settings *settings, const char *home_name,
                        const struct mqtt_property properties[], int count, const char *record_path,
                        struct mailbox *inbox, struct trouble *trouble)
{
    static pthread_once_t once = PTHREAD_ONCE_INIT;
    if (!settings_ok(settings, trouble))
        return NULL;
    struct homie *homie = homie_new(settings, home_name, properties, count, trouble);
    if (!homie)
        return NULL;
    pthread_once(&once, init_library);
    struct mqtt *mqtt = shared_new(settings, homie, record_path, inbox);
    if (!mqtt) {
        homie_free(homie);
        trouble_set(trouble, "", "no memory for the broker's connection");
        return NULL;
    }
    if (thread_start(&mqtt->thread, link_run, mqtt))
        return mqtt;
    trouble_set(trouble, "", "no thread for the broker's connection");
    shared_free(mqtt);
    return NULL;
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
    outbox_remove(mqtt, topic);
}

static void exchange(struct mqtt *mqtt, struct homie *homie)
{
    struct homie *old = mqtt->homie;
    homie_succeed(homie, old);
    mqtt->homie = homie;
    subscriptions_exchange(mqtt, old);
    outbox_pump(mqtt);
    if (mqtt->link == LINK_UP)
        homie_removed(homie, old, remove_topic, mqtt);
    homie_free(old);
}

bool mqtt_describe(struct mqtt *mqtt, const char *home_name,
                   const struct mqtt_property properties[], int count)
{
    struct trouble trouble;
    struct homie *homie = homie_new(&mqtt->settings, home_name, properties, count, &trouble);
    lock(mqtt);
    if (homie) {
        exchange(mqtt, homie);
    } else {
        shared_trouble(mqtt, "%s", trouble.text);
    }
    unlock(mqtt);
    return homie != NULL;
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
    if (homie_value(mqtt->homie, property, value))
        outbox_pump(mqtt);
    unlock(mqtt);
}

void mqtt_order_refused(struct mqtt *mqtt, int property)
{
    lock(mqtt);
    if (homie_target_dropped(mqtt->homie, property))
        outbox_pump(mqtt);
    unlock(mqtt);
}

void mqtt_alert(struct mqtt *mqtt, const char *id, const char *text)
{
    lock(mqtt);
    if (homie_alert(mqtt->homie, id, text, false))
        outbox_pump(mqtt);
    unlock(mqtt);
}

bool mqtt_send(struct mqtt *mqtt, const char *topic, const char *payload)
{
    lock(mqtt);
    bool sent =
        mqtt->link == LINK_UP && outbox_publish(mqtt, topic, payload, strlen(payload), false, NULL);
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
    subscriptions_add(mqtt);
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
    homie_topic(mqtt->homie, "$state", topic);
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
    char path[RUN_RECORD_PATH_MAX];
    lock(mqtt);
    mqtt->stopping = true;
    say_good_bye(mqtt);
    pthread_cond_broadcast(&mqtt->changed);
    bool ended = wait_for_end(mqtt);
    if (mqtt->client)
        mosquitto_disconnect(mqtt->client);
    memcpy(path, mqtt->record.path, sizeof(path));
    mqtt->abandoned = !ended; /* it frees all when the network lets go of it */
    unlock(mqtt);
    if (!ended) {
        run_record_forget(path, &settings); /* the end that comes is none of its doing */
        pthread_detach(thread);
        return;
    }
    pthread_join(thread, NULL);
    shared_free(mqtt);
}
