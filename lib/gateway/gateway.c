/* gateway.c - the gateway's thread: one epoll over the doors, the clients and the post.
 *
 * libmodbus can't be used here: as a server it blocks as soon as one client sends a byte
 * and stops. So frames are found in each client's buffer (client.c, rtu.c), judged
 * (service.c), and answered at once or queued for a bus (passing.c). The thread never
 * waits for anything but its epoll, so that it also ends at once. */
#include "gateway/gateway.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "gateway/inside.h"
#include "gateway/watch.h"
#include "loop/clock.h"
#include "loop/thread.h"

enum { NEWS_MAX = 64, SAMPLES_MAX = 32, EVENTS_MAX = 64, LONGEST_SLEEP_MS = 1000 };

/* ---- one client ---------------------------------------------------------------------- */

static void serve(struct gateway *gateway, struct client *client,
                  const struct frame_content *content, int64_t now_us)
{
    struct judgement judgement =
        service_judge(&gateway->service, content->unit, content->pdu, content->length, now_us);
    switch (judgement.verdict) {
    case VERDICT_ANSWER:
        gateway->counts.answered++;
        break;
    case VERDICT_REFUSE:
        gateway->counts.refused++;
        break;
    case VERDICT_PASS:
        passing_queue(gateway, client, content, &judgement, now_us);
        return;
    case VERDICT_NOT_OURS: /* on a serial line, another's: it never gets here */
        gateway->counts.refused++;
        judgement.reply = service_exception(content->pdu[0], PATH_UNAVAILABLE);
    }
    client_reply(client, &judgement.reply, now_us);
}

static void disconnect(struct gateway *gateway, struct client *client, bool at_fault)
{
    gateway->counts.connections -= client->kind == CLIENT_TCP;
    gateway->counts.dropped += at_fault && client->kind == CLIENT_TCP;
    if (client->kind == CLIENT_SERIAL)
        snprintf(gateway->serial_trouble, sizeof(gateway->serial_trouble), "%.60s is gone",
                 gateway->settings.port);
    client_end(client);
}

static void watch_anew(struct gateway *gateway, int index, int64_t now_us)
{
    struct client *client = &gateway->clients[index];
    uint32_t wants = client_wants(client, now_us);
    if (wants != client->watched)
        watch_change(gateway->epoll_fd, client->fd, (uint32_t)index, wants);
    client->watched = wants;
    int64_t due_us = client_due_us(client, &gateway->settings);
    if (due_us < gateway->due_us)
        gateway->due_us = due_us;
}

/* All that can be done for it now: answers that are due, requests that are whole. */
static void attend(struct gateway *gateway, int index, int64_t now_us)
{
    struct client *client = &gateway->clients[index];
    struct frame_content content;
    if (client->kind == CLIENT_NONE)
        return;
    if (client->waiting.waits && now_us >= client->waiting.until_us)
        passing_give_up(gateway, client, now_us);
    client_write(client, now_us);
    while (client_next(client, &gateway->service, now_us, &content))
        serve(gateway, client, &content, now_us);
    bool served = !client->waiting.waits && client->out_used == 0 &&
                  now_us >= rate_limit_next_us(&client->limit);
    if (client->broken || client_is_overdue(client, &gateway->settings, now_us))
        disconnect(gateway, client, true);
    else if (client->ended && served)
        disconnect(gateway, client, false);
    else
        watch_anew(gateway, index, now_us);
}

static void attend_all(struct gateway *gateway, int64_t now_us)
{
    gateway->due_us = INT64_MAX;
    for (int k = 0; k < gateway->client_count; k++)
        attend(gateway, k, now_us);
}

static void hear(struct gateway *gateway, int index, uint32_t events, int64_t now_us)
{
    struct client *client = &gateway->clients[index];
    if (client->kind == CLIENT_NONE)
        return; /* it made room in this same turn */
    if (events & EPOLLIN)
        client_read(client, now_us);
    if (events & (EPOLLHUP | EPOLLERR))
        client->broken = true;
    attend(gateway, index, now_us);
}

/* ---- the post -------------------------------------------------------------------------- */

static void take_news(struct gateway *gateway, int64_t now_us)
{
    struct pass_news news;
    while (mailbox_take(gateway->news, &news)) {
        if (news.kind == PASS_BLOCK)
            register_cache_keep(&gateway->service.cache, &news);
        else
            passing_answer(gateway, &news, now_us);
    }
    attend_all(gateway, now_us); /* some have been answered, and may have asked for more */
}

static void take_samples(struct gateway *gateway)
{
    struct sampled sampled;
    while (mailbox_take(gateway->samples, &sampled))
        service_sample(&gateway->service, sampled.meter, &sampled.sample, sampled.at_us);
}

/* ---- the thread -------------------------------------------------------------------------- */

static void dispatch(struct gateway *gateway, const struct epoll_event *event, int64_t now_us)
{
    switch (event->data.u32) {
    case WATCH_LISTEN:
        doors_accept(gateway, now_us);
        break;
    case WATCH_NEWS:
        take_news(gateway, now_us);
        break;
    case WATCH_SAMPLES:
        take_samples(gateway);
        break;
    case WATCH_WAKE:
        break;
    default:
        hear(gateway, (int)event->data.u32, event->events, now_us);
    }
}

static int sleep_ms(const struct gateway *gateway, int64_t now_us)
{
    int64_t wait_us = gateway->due_us - now_us;
    if (wait_us >= LONGEST_SLEEP_MS * 1000)
        return LONGEST_SLEEP_MS;
    return wait_us <= 0 ? 0 : (int)((wait_us + 999) / 1000);
}

static void show(struct gateway *gateway)
{
    const char *tcp = gateway->tcp_trouble, *serial = gateway->serial_trouble;
    snprintf(gateway->counts.trouble, sizeof(gateway->counts.trouble), "%s%s%s", tcp,
             tcp[0] && serial[0] ? "; " : "", serial);
    pthread_mutex_lock(&gateway->mutex);
    gateway->shown = gateway->counts;
    pthread_mutex_unlock(&gateway->mutex);
}

static void *work(void *argument)
{
    struct gateway *gateway = argument;
    while (!atomic_load(&gateway->ending)) {
        struct epoll_event events[EVENTS_MAX];
        int count = epoll_wait(gateway->epoll_fd, events, EVENTS_MAX,
                               sleep_ms(gateway, clock_monotonic_us()));
        int64_t now_us = clock_monotonic_us();
        for (int k = 0; k < count; k++)
            dispatch(gateway, &events[k], now_us);
        if (now_us >= gateway->due_us)
            attend_all(gateway, now_us);
        if (gateway->accept_us && now_us >= gateway->accept_us)
            doors_accept(gateway, now_us);
        doors_open(gateway, now_us);
        gateway->counts.turns++;
        show(gateway);
    }
    return NULL;
}

/* ---- the door ------------------------------------------------------------------------------ */

static bool get_ready(struct gateway *gateway)
{
    gateway->client_count = SERIAL_CLIENT + 1 + gateway->settings.connections;
    gateway->clients = calloc((size_t)gateway->client_count, sizeof(gateway->clients[0]));
    gateway->news = mailbox_new(NEWS_MAX, sizeof(struct pass_news));
    gateway->samples = mailbox_new(SAMPLES_MAX, sizeof(struct sampled));
    gateway->wake_fd = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    gateway->epoll_fd = epoll_create1(EPOLL_CLOEXEC);
    if (!gateway->clients || !gateway->news || !gateway->samples || gateway->wake_fd < 0 ||
        gateway->epoll_fd < 0)
        return false;
    watch_fd(gateway->epoll_fd, mailbox_fd(gateway->news), WATCH_NEWS, EPOLLIN);
    watch_fd(gateway->epoll_fd, mailbox_fd(gateway->samples), WATCH_SAMPLES, EPOLLIN);
    watch_fd(gateway->epoll_fd, gateway->wake_fd, WATCH_WAKE, EPOLLIN);
    return true;
}

struct gateway *gateway_new(const struct gateway_settings *settings, struct bus *const buses[],
                            uint8_t bus_count, const char *version, struct trouble *trouble)
{
    struct gateway *gateway = calloc(1, sizeof(*gateway));
    if (!gateway) {
        trouble_set(trouble, "gateway", "no memory for a gateway");
        return NULL;
    }
    gateway->settings = *settings;
    gateway->bus_count = bus_count;
    memcpy(gateway->buses, buses, bus_count * sizeof(buses[0]));
    gateway->listen_fd = gateway->epoll_fd = gateway->wake_fd = -1;
    gateway->due_us = INT64_MAX;
    pthread_mutex_init(&gateway->mutex, NULL);
    service_begin(&gateway->service, &gateway->settings, version);
    if (!get_ready(gateway)) {
        trouble_set(trouble, "gateway", "no memory or no descriptor for a gateway");
        gateway_free(gateway);
        return NULL;
    }
    doors_open(gateway, clock_monotonic_us());
    gateway->counts.at_work = true;
    show(gateway);
    for (uint8_t k = 0; k < bus_count; k++)
        bus_pass_tell(buses[k], gateway->news, k);
    gateway->working = thread_start(&gateway->worker, work, gateway);
    if (!gateway->working) {
        trouble_set(trouble, "gateway", "no thread for a gateway");
        gateway_free(gateway);
        return NULL;
    }
    return gateway;
}

void gateway_sample(struct gateway *gateway, uint8_t meter, const struct meter_sample *sample,
                    int64_t age_ms)
{
    const struct sampled sampled = {
        .meter = meter, .at_us = clock_monotonic_us() - age_ms * 1000, .sample = *sample};
    mailbox_put(gateway->samples, &sampled); /* full: the next one is newer anyway */
}

void gateway_look(struct gateway *gateway, struct gateway_state *state)
{
    pthread_mutex_lock(&gateway->mutex);
    *state = gateway->shown;
    pthread_mutex_unlock(&gateway->mutex);
}

void gateway_free(struct gateway *gateway)
{
    if (!gateway)
        return;
    for (uint8_t k = 0; gateway->news && k < gateway->bus_count; k++)
        bus_pass_tell(gateway->buses[k], NULL, k);
    atomic_store(&gateway->ending, true);
    if (gateway->working) {
        eventfd_write(gateway->wake_fd, 1);
        pthread_join(gateway->worker, NULL);
    }
    doors_close(gateway);
    close(gateway->wake_fd);
    close(gateway->epoll_fd);
    mailbox_free(gateway->news);
    mailbox_free(gateway->samples);
    pthread_mutex_destroy(&gateway->mutex);
    free(gateway->clients);
    free(gateway);
}
