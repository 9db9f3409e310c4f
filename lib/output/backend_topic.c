/* backend_topic.c - an MQTT topic that some device obeys. Publishing succeeds or
 * fails at once; what the device made of it comes on its state topic.
 *
 * A payload is one of two words, or an amount in watts, or in amps where the step is in
 * amps. Inside, amounts are W or mA. */
#include <stdlib.h>
#include <string.h>

#include "output/backend.h"

enum { PAYLOAD_MAX = 48, AMOUNT_TEXT_MAX = 16 };

struct BACKEND_OWN topic_settings {
    char topic[128];
    char state_topic[128]; /* where the device reports back; empty: it does not */
    char on_payload[32], off_payload[32];
};
_Static_assert(sizeof(struct topic_settings) <= OUTPUT_OWN_BYTES, "more room in output_settings");

static const struct setting_row rows[] = {
    {.key = "topic",
     .kind = SETTING_TEXT,
     BACKEND_OWN_AT(struct topic_settings, topic),
     .initial = "",
     .example = "garage/heater/set",
     .text =
         "Where orders are published. The load then depends on the broker, and may have no floor."},
    {.key = "state_topic",
     .kind = SETTING_TEXT,
     BACKEND_OWN_AT(struct topic_settings, state_topic),
     .initial = "",
     .example = "garage/heater/state",
     .text = "Where the device reports its state; without one nothing confirms an order."},
    {.key = "on_payload",
     .kind = SETTING_TEXT,
     BACKEND_OWN_AT(struct topic_settings, on_payload),
     .initial = "on",
     .text = "Published for on."},
    {.key = "off_payload",
     .kind = SETTING_TEXT,
     BACKEND_OWN_AT(struct topic_settings, off_payload),
     .initial = "off",
     .text = "Published for off."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static const struct topic_settings *own(const struct output_settings *settings)
{
    return (const void *)settings->own;
}

/* ---- words ------------------------------------------------------------------------------- */

static void name(const struct output_settings *settings, uint8_t contactor, struct text *name)
{
    (void)contactor;
    text_add(name, "topic %s", own(settings)->topic);
}

static void describe(const struct output_settings *settings, struct text *text)
{
    text_add(text, "messages on %s", own(settings)->topic);
}

static void mind(const struct output_settings *settings, setting_say *say, void *context)
{
    if (!own(settings)->state_topic[0])
        say(context, "state_topic",
            "without state_topic nothing shows whether an order was followed.");
    say(context, "", "without the broker it stays as it is; its fail state cannot be promised.");
}

/* ---- judging ----------------------------------------------------------------------------- */

static bool is_topic(const char *topic)
{
    return topic[0] && topic[0] != '$' && !strpbrk(topic, "+#");
}

static void check(const struct output_settings *settings, setting_say *say, void *context)
{
    const struct topic_settings *topic = own(settings);
    if (!is_topic(topic->topic))
        say(context, "topic", "topic: cannot be published to: no + or #, no $ at its beginning");
    if (topic->state_topic[0] && !is_topic(topic->state_topic))
        say(context, "state_topic",
            "state_topic: one topic, without + or #, and no $ at its beginning");
    if (!amount_is_set(settings) && strcmp(topic->on_payload, topic->off_payload) == 0)
        say(context, "", "on_payload and off_payload are the same");
}

static bool same_place(const struct output_settings *a, const struct output_settings *b)
{
    return own(a)->topic[0] && strcmp(own(a)->topic, own(b)->topic) == 0;
}

/* ---- payloads ---------------------------------------------------------------------------- */

static void write_payload(const struct output_settings *settings, int32_t value,
                          struct text *payload)
{
    if (!amount_is_set(settings)) {
        text_add(payload, "%s", value ? own(settings)->on_payload : own(settings)->off_payload);
    } else if (settings->scale_ma <= 0) {
        text_add(payload, "%d", (int)value);
    } else if (value % 1000 == 0) {
        text_add(payload, "%d", (int)(value / 1000));
    } else {
        text_add(payload, "%d.%03d", (int)(value / 1000), (int)(value % 1000));
    }
}

static bool is_word(const char *word, const char *payload, size_t length)
{
    return strlen(word) == length && memcmp(word, payload, length) == 0;
}

/* A decimal number of W or A, into W or mA; finer digits are cut off. */
static bool parse_amount(const struct output_settings *settings, const char *payload, size_t length,
                         int32_t *value)
{
    char number[AMOUNT_TEXT_MAX];
    if (length == 0 || length >= sizeof number || memchr(payload, '\0', length)) {
        return false;
    }
    memcpy(number, payload, length);
    number[length] = '\0';
    if (strspn(number, "0123456789.") != length) {
        return false;
    }
    char *end;
    double amount = strtod(number, &end);
    double scaled = settings->scale_ma > 0 ? amount * 1000.0 : amount;
    if (*end != '\0' || end == number || scaled > INT32_MAX) {
        return false;
    }
    *value = (int32_t)(scaled + 1e-6);
    return true;
}

static bool parse(const struct output_settings *settings, const char *payload, size_t length,
                  int32_t *value)
{
    if (amount_is_set(settings)) {
        return parse_amount(settings, payload, length, value);
    }
    *value = is_word(own(settings)->on_payload, payload, length);
    return *value || is_word(own(settings)->off_payload, payload, length);
}

static const char *state_topic(const struct output_settings *settings)
{
    return own(settings)->state_topic;
}

static enum backend_result set(const struct backend_call *call, int32_t value,
                               struct trouble *trouble)
{
    char buffer[PAYLOAD_MAX];
    struct text payload = text_in(buffer, sizeof buffer);
    write_payload(call->settings, value, &payload);
    if (!call->doors->publish(call->doors->context, own(call->settings)->topic, buffer)) {
        trouble_set(trouble, "", "not connected to the broker");
        return BACKEND_UNSENT;
    }
    return BACKEND_DONE;
}

const struct backend backend_topic = {.word = "topic",
                                      .text = "MQTT messages to a device",
                                      .rows = {&amount_rows, &own_rows},
                                      .needs = "topic",
                                      .needs_text = "where orders are published",
                                      .on_broker = true,
                                      .amounts = true,
                                      .name = name,
                                      .describe = describe,
                                      .mind = mind,
                                      .check = check,
                                      .same_place = same_place,
                                      .state_topic = state_topic,
                                      .parse = parse,
                                      .set = set};
