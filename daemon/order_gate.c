/* order_gate.c - a bucket of tokens for each source of orders.
 *
 * A script that runs wild, or somebody with a grudge, can send thousands of orders in a
 * moment. Each would cost a log line, an event and a write to a card that bears only so
 * many. So a source has BURST orders at once and one more each REFILL_MS; those beyond are
 * dropped and counted, with one line when it begins and one when it is over. What only
 * stops a load (off, inhibit, disable) is never dropped: when there are too many of these
 * too, they are obeyed and no longer written down one by one. */
#include "order_gate.h"

#include <stdlib.h>
#include <string.h>

#include "engine.h"
#include "troubles.h"

enum {
    BURST = 40,
    REFILL_MS = 2000,
    SAVES_AT_ONCE = 10,
    SAVE_REFILL_MS = 5000,
    OVER_AFTER_MS = MS_PER_MIN,
    SAME_END_MS = MS_PER_MIN, /* ends so near to each other are the same order again */
};

static const struct {
    const char *id, *name, *how;
} sources[ORDER_SOURCES] = {[ORDERS_BY_SOCKET] = {"orders-socket", "the control socket", "locally"},
                            [ORDERS_BY_BROKER] = {"orders-broker", "MQTT", "over MQTT"},
                            [ORDERS_BY_BUTTON] = {"orders-button", "push-buttons", "at the board"}};

const char *order_gate_source(const struct orders *orders)
{
    return sources[orders->source].how;
}

static bool take(struct order_bucket *bucket, struct mono now, int64_t most, int64_t refill_ms)
{
    int64_t earned = mono_since_ms(now, bucket->since) / refill_ms;
    if (!bucket->begun || bucket->tokens + earned >= most) {
        *bucket = (struct order_bucket){.begun = true, .tokens = most, .since = now};
    } else {
        bucket->tokens += earned;
        bucket->since.ms += earned * refill_ms;
    }
    if (bucket->tokens == 0)
        return false;
    bucket->tokens--;
    return true;
}

static bool only_stops(const char *verb, const char *text)
{
    bool yes = strcmp(text, "true") == 0 || strcmp(text, "yes") == 0;
    bool no = strcmp(text, "false") == 0 || strcmp(text, "no") == 0;
    if (strcmp(verb, "inhibit") == 0)
        return yes;
    if (strcmp(verb, "enable") == 0)
        return no;
    return (strcmp(verb, "order") == 0 || strcmp(verb, "mode") == 0 || strcmp(verb, "test") == 0) &&
           (strcmp(text, "off") == 0 || strncmp(text, "off ", 4) == 0);
}

static void drop(struct orders *orders, struct common *common, enum order_source source,
                 struct text *answer)
{
    struct order_gate *gate = &orders->gate[source];
    gate->dropped++;
    gate->dropped_at = common->now.mono;
    if (!site_has_trouble(common, sources[source].id))
        site_trouble(common, sources[source].id,
                     "too many orders by %s: beyond %d at once and %d a minute they are dropped; "
                     "off, inhibit and disable still pass",
                     sources[source].name, BURST, (int)(MS_PER_MIN / REFILL_MS));
    text_add(answer, "too many orders: this one was dropped; %d at once and %d a minute are taken",
             BURST, (int)(MS_PER_MIN / REFILL_MS));
}

bool order_gate_admit(struct orders *orders, struct common *common, enum order_source source,
                      const char *verb, const char *text, struct text *answer)
{
    struct order_gate *gate = &orders->gate[source];
    bool stops = only_stops(verb, text);
    struct order_bucket *bucket = stops ? &gate->stopping : &gate->others;
    bool has = take(bucket, common->now.mono, BURST, REFILL_MS);
    orders->source = source;
    orders->record = has;
    orders->spent = has ? bucket : NULL;
    if (has || stops)
        return true;
    drop(orders, common, source, answer);
    return false;
}

/* An order given again and again moves its end on: it is told anew when that adds up. */
static bool another_end(struct mono *told, struct mono until)
{
    int64_t apart_ms = llabs(until.ms / 2 - told->ms / 2); /* one of them may be never */
    if (apart_ms < SAME_END_MS / 2)
        return false;
    *told = until;
    return true;
}

/* What was ordered before in this very turn is not in force yet. */
static bool is_ordered_now(const struct engine *engine, uint16_t load)
{
    for (uint16_t k = 0; k < engine->command_count; k++)
        if (engine->commands[k].load == load)
            return true;
    return false;
}

static bool changes(struct engine *engine, const struct command *command)
{
    const struct load_memory *load =
        command->load == LOAD_ALL ? NULL : &engine->loads[command->load];
    switch (command->kind) {
    case COMMAND_ON:
        return another_end(&engine->orders.told_until[command->load], command->until) ||
               load->hand != HAND_ON || load->hand_level_w != command->level_w;
    case COMMAND_OFF:
        return another_end(&engine->orders.told_until[command->load], command->until) ||
               load->hand != HAND_OFF;
    case COMMAND_AUTO:
        return load->hand != HAND_AUTO;
    case COMMAND_TEST:
        return true;
    case COMMAND_INHIBIT:
        return (load ? load->inhibited : engine->memory.all_inhibited) != command->flag;
    case COMMAND_ENABLE:
        return load->disabled == command->flag;
    case COMMAND_HOLIDAY:
        return engine->memory.holiday_back.ms != command->back.ms;
    }
    return true;
}

bool order_gate_is_news(struct engine *engine, const struct command *command)
{
    bool news = changes(engine, command) || is_ordered_now(engine, command->load);
    if (!news && engine->orders.spent)
        engine->orders.spent->tokens++;
    engine->orders.spent = NULL;
    return news;
}

static void end_burst(struct orders *orders, struct common *common, enum order_source source)
{
    struct order_gate *gate = &orders->gate[source];
    if (gate->dropped == 0 || mono_since_ms(common->now.mono, gate->dropped_at) < OVER_AFTER_MS)
        return;
    site_solved_saying(common, sources[source].id,
                       "orders by %s: %u were dropped, too many at once", sources[source].name,
                       gate->dropped);
    gate->dropped = 0;
}

bool order_gate_turn(struct orders *orders, struct common *common)
{
    for (int source = 0; source < ORDER_SOURCES; source++)
        end_burst(orders, common, (enum order_source)source);
    if (!orders->unsaved || !take(&orders->saves, common->now.mono, SAVES_AT_ONCE, SAVE_REFILL_MS))
        return false;
    orders->unsaved = false;
    return true;
}
