/* backend_topic.c - an MQTT topic that some device obeys. Publishing succeeds or
 * fails at once; what the device made of it comes on its state topic. */
#include <string.h>

#include "output/backend.h"

enum { PAYLOAD_MAX = 48 };

static enum backend_result set_topic(const struct backend_call *call, int32_t value,
                                     struct trouble *trouble)
{
    char buffer[PAYLOAD_MAX];
    struct text payload = text_in(buffer, sizeof buffer);
    level_payload(call->settings, value, &payload);
    if (!call->doors->publish(call->doors->context, call->settings->topic, buffer)) {
        trouble_set(trouble, "", "the broker is away");
        return BACKEND_UNSENT;
    }
    return BACKEND_DONE;
}

static bool check_topic(const struct output_settings *settings, struct trouble *trouble)
{
    if (!level_is_amount(settings) && strcmp(settings->on_payload, settings->off_payload) == 0) {
        return trouble_set(trouble, "", "on and off are the same payload, \"%s\"",
                           settings->on_payload);
    }
    return true;
}

const struct backend backend_topic = {.set = set_topic, .check = check_topic};
