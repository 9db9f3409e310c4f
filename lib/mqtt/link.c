/* link.c - coming to the broker, staying, and coming again.
 *
 * The library's own thread ends for good after a failed name look-up, a certificate
 * that does not fit or a byte that is not MQTT (mosquitto_loop_forever returns for
 * them), and a message published while it is away cuts its back-off short. A house
 * must find its broker again after all of that. So the thread is ours and the loop is
 * the library's mosquitto_loop, and the back-off is ours too.
 *
 * Each connection has a client of its own. What an old client had not got rid of
 * would be sent again by it at the next connection, after newer values: a stale value
 * would stay, retained. A new client has nothing to send again.
 *
 * Nor may what the broker sends end the process. Nobody can be kept from writing to a
 * topic that we listen to, and the library takes whatever length a message announces. So
 * the size is bounded three times: MQTT 5 lets us say what we take (3.1.2.11.4), and an
 * honest broker drops the rest; the process's memory has a limit at which the library's
 * allocation fails, which ends the connection and nothing more, and the next one listens
 * to nothing for a while; and if the process dies all the same, run_record.c knows. */
#include "mqtt/link.h"

#include <errno.h>
#include <mqtt_protocol.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "core/quantity.h"
#include "core/text.h"
#include "loop/clock.h"
#include "mqtt/inbox.h"
#include "mqtt/mosquitto_client.h"
#include "mqtt/outbox.h"
#include "mqtt/shared.h"
#include "mqtt/subscriptions.h"

enum {
    TURN_MS = 15000, /* of the library's loop; it wakes by itself for all there is to do */
    BACK_OFF_FIRST_S = 1,
    BACK_OFF_MOST_S = 60,
    YOUNG_MS = 15 * MS_PER_S, /* a connection that has lasted so long killed nobody */
    DEAF_MS = MS_PER_HOUR,
};

static int64_t now_ms(void)
{
    return clock_monotonic_us() / 1000;
}

/* ---- what the next run must know ---------------------------------------------------------------
 */

static void mark_young(struct mqtt *mqtt)
{
    if (mqtt->marked)
        return;
    mqtt->marked = true;
    mqtt->record.young++;
    run_record_write(&mqtt->record);
}

static void unmark_young(struct mqtt *mqtt)
{
    if (!mqtt->marked)
        return;
    mqtt->marked = false;
    mqtt->record.young = 0;
    run_record_write(&mqtt->record);
}

/* ---- what the library tells us, in its thread ------------------------------------------------ */

static void forget_detail(struct mqtt *mqtt)
{
    pthread_mutex_lock(&mqtt->detail_mutex);
    mqtt->detail[0] = '\0';
    pthread_mutex_unlock(&mqtt->detail_mutex);
}

/* MQTT 3.1.1, 3.2.2.3; MQTT 5, 3.2.2.2 */
static void note_refusal(struct mqtt *mqtt, int code)
{
    static const struct {
        int code;
        const char *why;
    } reasons[] = {
        {1, "it does not speak MQTT 3.1.1"},
        {2, "it rejects our client id"},
        {3, "it is not available"},
        {4, "wrong user or password"},
        {5, "we are not authorised (user, password or certificate)"},
        {MQTT_RC_CLIENTID_NOT_VALID, "it rejects our client id"},
        {MQTT_RC_BAD_USERNAME_OR_PASSWORD, "wrong user or password"},
        {MQTT_RC_NOT_AUTHORIZED, "we are not authorised (user, password or certificate)"},
        {MQTT_RC_SERVER_UNAVAILABLE, "it is not available"},
        {MQTT_RC_SERVER_BUSY, "it is busy"},
        {MQTT_RC_BANNED, "we are banned"},
        {MQTT_RC_PACKET_TOO_LARGE, "our greeting is too large for it"},
        {MQTT_RC_QUOTA_EXCEEDED, "its quota is used up"},
        {MQTT_RC_CONNECTION_RATE_EXCEEDED, "we connect too often"},
    };
    const char *why = "it does not say why";
    for (size_t k = 0; k < sizeof(reasons) / sizeof(reasons[0]); k++)
        if (reasons[k].code == code)
            why = reasons[k].why;
    shared_trouble(mqtt, "%s:%d refuses us: %s", mqtt->settings.host, mqtt->settings.port, why);
}

/* From here on it may be said that we are there. */
static void come_up(struct mqtt *mqtt)
{
    mqtt->link = LINK_UP;
    mqtt->was_up = true;
    mqtt->up_ms = now_ms();
    forget_detail(mqtt);
    subscriptions_add(mqtt);
    homie_arrive(mqtt->homie);
    outbox_pump(mqtt);
}

static void come_up_deaf(struct mqtt *mqtt)
{
    shared_trouble(mqtt,
                   "a message on one of our topics is too large: no orders from the broker for "
                   "now, trying again within the hour");
    come_up(mqtt);
}

static void on_connect(struct mosquitto *client, void *context, int code)
{
    struct mqtt *mqtt = context;
    if (code == 0)
        mark_young(mqtt);
    pthread_mutex_lock(&mqtt->mutex);
    mqtt->answered = true;
    mqtt->told = code != 0;
    if (code == 0 && mqtt->deaf)
        come_up_deaf(mqtt);
    else if (code == 0)
        subscriptions_begin(mqtt, client);
    else if (code == MQTT_RC_UNSUPPORTED_PROTOCOL_VERSION ||
             (code == CONNACK_REFUSED_PROTOCOL_VERSION && !mqtt->old_protocol))
        mqtt->other_protocol = true;
    else
        note_refusal(mqtt, code);
    pthread_mutex_unlock(&mqtt->mutex);
}

/* Orders can reach us from here on. */
static void on_subscribe(struct mosquitto *client, void *context, int id, int count,
                         const int *granted)
{
    struct mqtt *mqtt = context;
    pthread_mutex_lock(&mqtt->mutex);
    if (id == mqtt->subscription && !mqtt->stopping) {
        if (mqtt->subscribed_to == mqtt->described) {
            subscriptions_granted(mqtt, count, granted);
            come_up(mqtt);
        } else {
            subscriptions_begin(mqtt, client); /* a reload has come between */
        }
    }
    pthread_mutex_unlock(&mqtt->mutex);
}

static void pass_barrier(struct mqtt *mqtt)
{
    char description[MQTT_TOPIC_MAX];
    mqtt->barrier = 0;
    homie_topic(mqtt->homie, "$description", description);
    if (!mqtt->deaf)
        mosquitto_unsubscribe(mqtt->client, NULL, description);
    homie_cleared(mqtt->homie);
}

static void on_publish(struct mosquitto *client, void *context, int id)
{
    struct mqtt *mqtt = context;
    pthread_mutex_lock(&mqtt->mutex);
    mqtt->under_way--;
    if (mqtt->link == LINK_UP) {
        if (id == mqtt->barrier)
            pass_barrier(mqtt);
        if (id == mqtt->good_bye)
            mosquitto_disconnect(client);
        outbox_pump(mqtt);
    }
    pthread_mutex_unlock(&mqtt->mutex);
}

static void on_message(struct mosquitto *client, void *context,
                       const struct mosquitto_message *message)
{
    (void)client;
    inbox_message(context, message);
}

/* "OpenSSL Error[0]: error:0A000086:SSL routines::certificate verify failed" and
 * "Error: Unable to load CA certificates.": what a person can use comes last. */
static const char *useful_part(const char *line)
{
    const char *reason = strstr(line, "::");
    if (reason)
        return reason + 2;
    return strncmp(line, "Error: ", 7) == 0 ? line + 7 : line;
}

/* The only place where the library says what it is about a certificate. The first
 * complaint is the cause, the others are its consequences. */
static void on_log(struct mosquitto *client, void *context, int level, const char *line)
{
    struct mqtt *mqtt = context;
    (void)client;
    if (level != MOSQ_LOG_ERR)
        return;
    pthread_mutex_lock(&mqtt->detail_mutex);
    if (!mqtt->detail[0]) {
        struct text text = text_in(mqtt->detail, sizeof(mqtt->detail));
        text_add(&text, "%s", useful_part(line));
    }
    pthread_mutex_unlock(&mqtt->detail_mutex);
}

static void set_callbacks(struct mosquitto *client)
{
    mosquitto_connect_callback_set(client, on_connect);
    mosquitto_subscribe_callback_set(client, on_subscribe);
    mosquitto_publish_callback_set(client, on_publish);
    mosquitto_message_callback_set(client, on_message);
    mosquitto_log_callback_set(client, on_log);
}

/* ---- one connection -----------------------------------------------------------------------------
 */

static const char *why_ended(bool answered, int code, int error)
{
    switch (code) {
    case MOSQ_ERR_ERRNO:
        return error ? strerror(error) : "connection lost";
    case MOSQ_ERR_EAI:
        return "there is no such host, or no name service";
    case MOSQ_ERR_KEEPALIVE:
        return answered ? "it no longer answers" : "it takes the connection and does not answer";
    case MOSQ_ERR_CONN_LOST:
        return answered ? "connection lost" : "it closes the connection without an answer";
    case MOSQ_ERR_NOMEM:
        return "it sends a message that is too large";
    default:
        return mosquitto_strerror(code);
    }
}

static bool enter(struct mqtt *mqtt, struct mosquitto *client)
{
    pthread_mutex_lock(&mqtt->mutex);
    bool go_on = !mqtt->stopping;
    if (go_on) {
        mqtt->client = client;
        mqtt->link = LINK_UNANSWERED;
        mqtt->deaf = now_ms() < mqtt->deaf_ms;
        mqtt->under_way = mqtt->barrier = mqtt->good_bye = mqtt->removed = 0;
    }
    pthread_mutex_unlock(&mqtt->mutex);
    return go_on;
}

static void leave(struct mqtt *mqtt)
{
    pthread_mutex_lock(&mqtt->mutex);
    mqtt->client = NULL;
    mqtt->link = LINK_DOWN;
    mqtt->up_ms = 0;
    homie_depart(mqtt->homie);
    pthread_mutex_unlock(&mqtt->mutex);
}

static void begin(struct mqtt *mqtt, char will[static MQTT_TOPIC_MAX])
{
    pthread_mutex_lock(&mqtt->mutex);
    mqtt->was_up = mqtt->answered = mqtt->told = mqtt->other_protocol = false;
    forget_detail(mqtt);
    homie_topic(mqtt->homie, "$state", will);
    pthread_mutex_unlock(&mqtt->mutex);
}

static void explain(struct mqtt *mqtt, int code, int error)
{
    char detail[MQTT_TROUBLE_MAX];
    pthread_mutex_lock(&mqtt->detail_mutex);
    memcpy(detail, mqtt->detail, sizeof(detail));
    pthread_mutex_unlock(&mqtt->detail_mutex);
    pthread_mutex_lock(&mqtt->mutex);
    if (!mqtt->told) /* a refusal was told as it came */
        shared_trouble(mqtt, "%s:%d: %s", mqtt->settings.host, mqtt->settings.port,
                       detail[0] ? detail : why_ended(mqtt->was_up, code, error));
    pthread_mutex_unlock(&mqtt->mutex);
}

/* Waits for the network. */
static int connect_to(const struct mqtt *mqtt, struct mosquitto *client)
{
    const struct mqtt_settings *settings = &mqtt->settings;
    int keep_alive_s = settings->keep_alive_ms / MS_PER_S;
    mosquitto_property *properties = NULL;
    if (mqtt->old_protocol)
        return mosquitto_connect(client, settings->host, settings->port, keep_alive_s);
    int code =
        mosquitto_property_add_int32(&properties, MQTT_PROP_MAXIMUM_PACKET_SIZE, MQTT_PACKET_MAX);
    if (code == MOSQ_ERR_SUCCESS)
        code = mosquitto_connect_bind_v5(client, settings->host, settings->port, keep_alive_s, NULL,
                                         properties);
    int error = errno;
    mosquitto_property_free_all(&properties);
    errno = error;
    return code;
}

static void remember_alerts(struct mqtt *mqtt)
{
    pthread_mutex_lock(&mqtt->mutex);
    bool changed = homie_alerts_standing(mqtt->homie, mqtt->record.alert, &mqtt->record.alerts);
    pthread_mutex_unlock(&mqtt->mutex);
    if (changed)
        run_record_write(&mqtt->record);
}

static void look_after(struct mqtt *mqtt, struct mosquitto *client)
{
    int64_t now = now_ms();
    if (mqtt->up_ms > 0 && now - mqtt->up_ms >= YOUNG_MS)
        unmark_young(mqtt);
    remember_alerts(mqtt);
    if (mqtt->deaf && now >= mqtt->deaf_ms)
        mosquitto_disconnect(client); /* the next connection listens again */
}

/* What ended the connection; the error number stands in errno. */
static int live_with(struct mqtt *mqtt, struct mosquitto *client)
{
    int code = MOSQ_ERR_SUCCESS, error = 0;
    while (code == MOSQ_ERR_SUCCESS) {
        errno = 0;
        code = mosquitto_loop(client, TURN_MS, 1);
        error = errno;
        look_after(mqtt, client);
    }
    leave(mqtt);
    errno = error;
    return code;
}

/* A broker that closes the connection to one protocol without a word may know the other. */
static void choose_protocol(struct mqtt *mqtt, bool reached)
{
    if (mqtt->was_up)
        mqtt->old_protocol = false;
    else if (mqtt->other_protocol)
        mqtt->old_protocol = true;
    else if (reached && !mqtt->answered)
        mqtt->old_protocol = !mqtt->old_protocol;
}

static void meet(struct mqtt *mqtt, struct mosquitto *client)
{
    if (mqtt->expected)
        mark_young(mqtt);
    mosquitto_int_option(client, MOSQ_OPT_PROTOCOL_VERSION,
                         mqtt->old_protocol ? MQTT_PROTOCOL_V311 : MQTT_PROTOCOL_V5);
    errno = 0;
    int code = connect_to(mqtt, client);
    bool reached = code == MOSQ_ERR_SUCCESS;
    if (reached && enter(mqtt, client))
        code = live_with(mqtt, client);
    if (code != MOSQ_ERR_SUCCESS)
        explain(mqtt, code, errno);
    if (code == MOSQ_ERR_NOMEM)
        mqtt->deaf_ms = now_ms() + DEAF_MS;
    unmark_young(mqtt);
    mqtt->expected = mqtt->was_up;
    choose_protocol(mqtt, reached);
}

static void attempt(struct mqtt *mqtt)
{
    struct trouble trouble;
    char will[MQTT_TOPIC_MAX];
    begin(mqtt, will);
    struct mosquitto *client = mosquitto_client_new(&mqtt->settings, mqtt, will, &trouble);
    if (client) {
        set_callbacks(client);
        meet(mqtt, client);
        mosquitto_destroy(client);
        return;
    }
    pthread_mutex_lock(&mqtt->mutex);
    shared_trouble(mqtt, "%s", trouble.text);
    pthread_mutex_unlock(&mqtt->mutex);
}

/* ---- again and again
 * ------------------------------------------------------------------------------ */

/* False: it is time to stop. */
static bool wait_s(struct mqtt *mqtt, int seconds)
{
    struct timespec until;
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += seconds;
    int waited = 0;
    while (!mqtt->stopping && !mqtt->retry && waited != ETIMEDOUT)
        waited = pthread_cond_timedwait(&mqtt->changed, &mqtt->mutex, &until);
    mqtt->retry = false;
    return !mqtt->stopping;
}

static void recall(struct mqtt *mqtt)
{
    char path[RUN_RECORD_PATH_MAX];
    memcpy(path, mqtt->record.path, sizeof(path));
    run_record_read(&mqtt->record, path, &mqtt->settings);
    pthread_mutex_lock(&mqtt->mutex);
    for (int k = 0; k < mqtt->record.alerts; k++)
        homie_alert_stands(mqtt->homie, mqtt->record.alert[k]);
    pthread_mutex_unlock(&mqtt->mutex);
}

/* With the mutex held. */
static void hold_back(struct mqtt *mqtt)
{
    int seconds = run_record_hold_s(mqtt->record.young);
    char wait[32];
    struct text text = text_in(wait, sizeof(wait));
    if (seconds == 0)
        return;
    quantity_write(QUANTITY_DURATION_MS, (int64_t)seconds * MS_PER_S, &text);
    shared_trouble(mqtt,
                   "not connecting: the last %d connections to %s ended with the end of sluiced. "
                   "Trying again after %s, or at once on `sluice reload`",
                   mqtt->record.young, mqtt->record.place, wait);
    mqtt->tried = true;
    wait_s(mqtt, seconds);
}

void *link_run(void *context)
{
    struct mqtt *mqtt = context;
    int seconds = BACK_OFF_FIRST_S;
    recall(mqtt);
    mqtt->expected = true;
    pthread_mutex_lock(&mqtt->mutex);
    hold_back(mqtt);
    while (!mqtt->stopping) {
        pthread_mutex_unlock(&mqtt->mutex);
        attempt(mqtt);
        pthread_mutex_lock(&mqtt->mutex);
        if (mqtt->other_protocol)
            continue; /* at once, in the one that it knows */
        mqtt->tried = true;
        if (mqtt->was_up)
            seconds = BACK_OFF_FIRST_S;
        if (!wait_s(mqtt, seconds))
            break;
        seconds = seconds * 2 < BACK_OFF_MOST_S ? seconds * 2 : BACK_OFF_MOST_S;
    }
    mqtt->ended = true;
    bool abandoned = mqtt->abandoned;
    pthread_cond_broadcast(&mqtt->changed);
    pthread_mutex_unlock(&mqtt->mutex);
    if (abandoned)
        shared_free(mqtt);
    return NULL;
}
