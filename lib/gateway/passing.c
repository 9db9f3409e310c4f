/* passing.c - clients' questions to a bus, one at a time and in turn.
 *
 * The queue is nothing but the clients that wait: when a bus is free, the next client
 * after the one that was served last has its turn. So nobody is served twice while
 * another waits, and no queue can grow. Only one question is with the bus's worker at a
 * time; its polls come before the next.
 *
 * Equal reads share one answer: whoever asks for the same while it waits or is under way
 * hears it too. A write is never shared, and what was read before it is forgotten. That
 * a read which is under way began after the client's own last write follows from one at
 * a time. */
#include <string.h>

#include "gateway/inside.h"

static bool is_same(const struct waiting *waiting, const struct turns *turns)
{
    return waiting->unit == turns->unit && waiting->length == turns->length &&
           memcmp(waiting->pdu, turns->pdu, turns->length) == 0;
}

static bool waits_for(const struct client *client, uint8_t bus)
{
    return client->kind != CLIENT_NONE && client->waiting.waits && client->waiting.bus == bus;
}

/* Those who ask what is under way anyway. */
static void join(struct gateway *gateway, uint8_t bus)
{
    const struct turns *turns = &gateway->turns[bus];
    for (int k = 0; k < gateway->client_count && turns->shares; k++) {
        struct client *client = &gateway->clients[k];
        if (waits_for(client, bus) && !client->waiting.asked && is_same(&client->waiting, turns)) {
            client->waiting.asked = true;
            gateway->counts.shared++;
        }
    }
}

static bool post(struct gateway *gateway, int index)
{
    struct waiting *waiting = &gateway->clients[index].waiting;
    struct turns *turns = &gateway->turns[waiting->bus];
    struct pass_question question = {
        .id = turns->id + 1, .unit = waiting->unit, .length = waiting->length};
    memcpy(question.pdu, waiting->pdu, waiting->length);
    if (!bus_pass_post(gateway->buses[waiting->bus], &question))
        return false;
    *turns = (struct turns){.busy = true,
                            .shares = service_only_reads(waiting->pdu),
                            .id = question.id,
                            .unit = waiting->unit,
                            .length = waiting->length,
                            .last = index};
    memcpy(turns->pdu, waiting->pdu, waiting->length);
    waiting->asked = true;
    gateway->counts.passed++;
    return true;
}

static void refuse(struct gateway *gateway, struct client *client, uint8_t code, int64_t now_us)
{
    struct reply reply = service_exception(client->waiting.pdu[0], code);
    gateway->counts.refused++;
    client_reply(client, &reply, now_us);
}

/* A bus that takes no question has too much to do already. */
static void next_turn(struct gateway *gateway, uint8_t bus, int64_t now_us)
{
    int first = gateway->turns[bus].last + 1;
    for (int k = 0; k < gateway->client_count && !gateway->turns[bus].busy; k++) {
        int index = (first + k) % gateway->client_count;
        struct client *client = &gateway->clients[index];
        if (waits_for(client, bus) && !client->waiting.asked && !post(gateway, index))
            refuse(gateway, client, SERVER_BUSY, now_us);
    }
    if (gateway->turns[bus].busy)
        join(gateway, bus);
}

void passing_queue(struct gateway *gateway, struct client *client,
                   const struct frame_content *content, const struct judgement *judgement,
                   int64_t now_us)
{
    client->waiting =
        (struct waiting){.waits = true,
                         .bus = judgement->bus,
                         .unit = judgement->unit,
                         .length = (uint8_t)content->length,
                         .until_us = now_us + (int64_t)gateway->settings.wait_ms * 1000};
    memcpy(client->waiting.pdu, content->pdu, content->length);
    if (gateway->turns[judgement->bus].busy)
        join(gateway, judgement->bus);
    else
        next_turn(gateway, judgement->bus, now_us);
}

/* Whoever gave up waiting, or went away, left no trace: its place may be another's, and
 * that one has not asked. */
void passing_answer(struct gateway *gateway, const struct pass_news *news, int64_t now_us)
{
    struct turns *turns = &gateway->turns[news->bus];
    bool failed = news->answer.outcome != BUS_OK && news->answer.outcome != BUS_EXCEPTION;
    if (!turns->busy || news->answer.id != turns->id)
        return;
    turns->busy = false;
    if (!turns->shares)
        register_cache_forget(&gateway->service.cache, news->bus, news->unit);
    for (int k = 0; k < gateway->client_count; k++) {
        struct client *client = &gateway->clients[k];
        if (!waits_for(client, news->bus) || !client->waiting.asked)
            continue;
        struct reply reply = service_passed(client->waiting.pdu, news);
        gateway->counts.refused += failed;
        client_reply(client, &reply, now_us);
    }
    next_turn(gateway, news->bus, now_us);
}

void passing_give_up(struct gateway *gateway, struct client *client, int64_t now_us)
{
    refuse(gateway, client, client->waiting.asked ? TARGET_SILENT : SERVER_BUSY, now_us);
}
