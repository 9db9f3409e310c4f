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
 * At most WINDOW messages are on their way at any time. What is due beyond that waits
 * in the tree, where it costs nothing and where the newest value overwrites older ones:
 * a broker that takes the connection and then nothing more cannot make us grow. */
#include "mqtt/link.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "core/text.h"

enum {
    WINDOW = 16,       /* below the 20 that the library has in flight without queueing */
    SEND_WINDOW = 32,  /* outputs' messages may go beyond it a little */
    REMOVED_MAX = 256, /* leftovers cleared away on one connection */
    TURN_MS = 15000,   /* of the library's loop; it wakes by itself for all there is to do */
    BACK_OFF_FIRST_S = 1,
    BACK_OFF_MOST_S = 60,
    SUBSCRIBE_REFUSED = 0x80, /* MQTT 3.1.1, 3.9.3 */
};

/* ---- out --------------------------------------------------------------------------------- */

bool link_publish(struct mqtt *mqtt, const char *topic, const void *payload, size_t length,
                  bool retain, int *id)
{
    /* QoS 1: the convention recommends 2, which keeps a message from coming twice. A
     * retained value that comes twice says the same twice, and costs half. */
    if (mqtt->under_way >= SEND_WINDOW || mosquitto_publish(mqtt->client, id, topic, (int)length,
                                                            payload, 1, retain) != MOSQ_ERR_SUCCESS)
        return false;
    mqtt->under_way++;
    return true;
}

void link_remove(struct mqtt *mqtt, const char *topic)
{
    if (mqtt->client && mqtt->removed < REMOVED_MAX) {
        mqtt->removed++;
        if (mosquitto_publish(mqtt->client, NULL, topic, 0, NULL, 0, true) == MOSQ_ERR_SUCCESS)
            mqtt->under_way++;
    }
}

void link_pump(struct mqtt *mqtt)
{
    struct tree_message message;
    int id = 0;
    while (mqtt->link == LINK_UP && !mqtt->stopping && mqtt->under_way < WINDOW &&
           tree_next(mqtt->tree, &message)) {
        link_publish(mqtt, message.topic, message.payload, message.length, true, &id);
        if (message.barrier)
            mqtt->barrier = id;
    }
}

/* ---- what the library tells us, in its thread ------------------------------------------------ */

static void set_trouble(struct mqtt *mqtt, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void set_trouble(struct mqtt *mqtt, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    struct text text = text_in(mqtt->trouble, sizeof(mqtt->trouble));
    text_add_list(&text, format, arguments);
    va_end(arguments);
}

static void forget_detail(struct mqtt *mqtt)
{
    pthread_mutex_lock(&mqtt->detail_mutex);
    mqtt->detail[0] = '\0';
    pthread_mutex_unlock(&mqtt->detail_mutex);
}

static void root_topic(const struct mqtt *mqtt, const char *below,
                       char topic[static MQTT_TOPIC_MAX])
{
    struct text text = text_in(topic, MQTT_TOPIC_MAX);
    text_add(&text, "%s/%s", tree_root(mqtt->tree), below);
}

/* What is retained is fetched at QoS 0: it is all there before the answer to anything
 * that is sent later, which a handshake for each message would not allow. */
static void subscribe(struct mqtt *mqtt, struct mosquitto *client)
{
    char all[MQTT_TOPIC_MAX], orders[MQTT_TOPIC_MAX];
    char *topics[1 + MQTT_LISTEN_MAX] = {orders};
    root_topic(mqtt, "#", all);
    root_topic(mqtt, "+/+/set", orders);
    for (int k = 0; k < mqtt->listens; k++)
        topics[1 + k] = mqtt->listen[k];
    mqtt->subscribed = mqtt->listens;
    mosquitto_subscribe(client, NULL, all, 0);
    mosquitto_subscribe_multiple(client, &mqtt->subscription, 1 + mqtt->listens, topics, 2, 0,
                                 NULL);
}

void link_listen(struct mqtt *mqtt)
{
    for (; mqtt->link == LINK_UP && mqtt->subscribed < mqtt->listens; mqtt->subscribed++)
        mosquitto_subscribe(mqtt->client, NULL, mqtt->listen[mqtt->subscribed], 2);
}

/* MQTT 3.1.1, 3.2.2.3 */
static void told_no(struct mqtt *mqtt, int code)
{
    static const char *const why[] = {
        [1] = "it does not speak MQTT 3.1.1",
        [2] = "it does not like our client id",
        [3] = "it is not available",
        [4] = "wrong user or password",
        [5] = "we are not authorised (user, password or certificate)",
    };
    bool known = code > 0 && (size_t)code < sizeof(why) / sizeof(why[0]);
    set_trouble(mqtt, "%s:%d refuses us: %s", mqtt->settings.host, mqtt->settings.port,
                known ? why[code] : "it does not say why");
}

static void on_connect(struct mosquitto *client, void *context, int code)
{
    struct mqtt *mqtt = context;
    pthread_mutex_lock(&mqtt->mutex);
    if (code == 0)
        subscribe(mqtt, client);
    else
        told_no(mqtt, code);
    pthread_mutex_unlock(&mqtt->mutex);
}

static void tell_denied(struct mqtt *mqtt, int count, const int granted[])
{
    mqtt->trouble[0] = '\0';
    if (mqtt->settings.accept_orders && granted[0] == SUBSCRIBE_REFUSED)
        set_trouble(mqtt, "the broker does not let us take orders");
    for (int k = 1; k < count; k++)
        if (granted[k] == SUBSCRIBE_REFUSED)
            set_trouble(mqtt, "the broker does not let us listen to %s", mqtt->listen[k - 1]);
}

/* Orders can reach us from here on: now it may be said that we are there. */
static void on_subscribe(struct mosquitto *client, void *context, int id, int count,
                         const int *granted)
{
    struct mqtt *mqtt = context;
    (void)client;
    pthread_mutex_lock(&mqtt->mutex);
    if (id == mqtt->subscription && !mqtt->stopping) {
        tell_denied(mqtt, count, granted);
        mqtt->link = LINK_UP;
        mqtt->was_up = true;
        forget_detail(mqtt);
        link_listen(mqtt);
        tree_arrive(mqtt->tree);
        link_pump(mqtt);
    }
    pthread_mutex_unlock(&mqtt->mutex);
}

static void pass_barrier(struct mqtt *mqtt)
{
    char all[MQTT_TOPIC_MAX];
    mqtt->barrier = 0;
    root_topic(mqtt, "#", all);
    mosquitto_unsubscribe(mqtt->client, NULL, all);
    tree_cleared(mqtt->tree);
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
        link_pump(mqtt);
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
    tree_depart(mqtt->tree);
    pthread_mutex_unlock(&mqtt->mutex);
}

static void begin(struct mqtt *mqtt, char will[static MQTT_TOPIC_MAX])
{
    pthread_mutex_lock(&mqtt->mutex);
    mqtt->was_up = false;
    forget_detail(mqtt);
    root_topic(mqtt, "$state", will);
    pthread_mutex_unlock(&mqtt->mutex);
}

static void explain(struct mqtt *mqtt, int code, int error)
{
    char detail[MQTT_TROUBLE_MAX];
    pthread_mutex_lock(&mqtt->detail_mutex);
    memcpy(detail, mqtt->detail, sizeof(detail));
    pthread_mutex_unlock(&mqtt->detail_mutex);
    pthread_mutex_lock(&mqtt->mutex);
    if (code != MOSQ_ERR_CONN_REFUSED) /* that was told as it came */
        set_trouble(mqtt, "%s:%d: %s", mqtt->settings.host, mqtt->settings.port,
                    detail[0] ? detail : why_ended(mqtt->was_up, code, error));
    pthread_mutex_unlock(&mqtt->mutex);
}

static void live_with(struct mqtt *mqtt, struct mosquitto *client)
{
    const struct mqtt_settings *settings = &mqtt->settings;
    errno = 0;
    int code = mosquitto_connect(client, settings->host, settings->port,
                                 settings->keep_alive_ms / MS_PER_S);
    if (code == MOSQ_ERR_SUCCESS && enter(mqtt, client)) {
        do {
            errno = 0;
            code = mosquitto_loop(client, TURN_MS, 1);
        } while (code == MOSQ_ERR_SUCCESS);
        int error = errno;
        leave(mqtt);
        errno = error;
    }
    if (code != MOSQ_ERR_SUCCESS)
        explain(mqtt, code, errno);
}

static void attempt(struct mqtt *mqtt)
{
    struct trouble trouble;
    char will[MQTT_TOPIC_MAX];
    begin(mqtt, will);
    struct mosquitto *client = client_new(mqtt, will, &trouble);
    if (client) {
        set_callbacks(client);
        live_with(mqtt, client);
        mosquitto_destroy(client);
        return;
    }
    pthread_mutex_lock(&mqtt->mutex);
    set_trouble(mqtt, "%s", trouble.text);
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
    while (!mqtt->stopping && waited != ETIMEDOUT)
        waited = pthread_cond_timedwait(&mqtt->changed, &mqtt->mutex, &until);
    return !mqtt->stopping;
}

void *link_run(void *context)
{
    struct mqtt *mqtt = context;
    int seconds = BACK_OFF_FIRST_S;
    pthread_mutex_lock(&mqtt->mutex);
    while (!mqtt->stopping) {
        pthread_mutex_unlock(&mqtt->mutex);
        attempt(mqtt);
        pthread_mutex_lock(&mqtt->mutex);
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
        mqtt_free(mqtt);
    return NULL;
}
