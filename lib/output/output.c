/* output.c - loads to channels and back.
 *
 * A load has one channel for each address that it switches. What the load shall
 * be is turned into each channel's value (level.c); each channel sees to it that its
 * device has it (channel.c); the back end's row does the asking (backend.h). A
 * load's confirmation is the worst of its channels, and its level is what they
 * were seen to be, never what was ordered. */
#include "output/output.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "output/backend.h"
#include "output/channel.h"
#include "output/level.h"

enum { OUTPUTS_MAX = 64, DETAIL_MAX = 160, JOB_CHANNELS = 256, JOB_ROUNDS = 256 };

struct output {
    struct output_settings settings;
    const struct backend *backend;
    void *device;
    uint8_t channels;
    struct channel channel[OUTPUT_CONTACTORS_MAX];
    uint32_t job[OUTPUT_CONTACTORS_MAX]; /* the id that each waits for */
    int32_t on_w;                        /* level of the newest order that was not off */
    uint8_t on_stage;                    /* its stage */
    char detail[DETAIL_MAX];
};

struct outputs {
    struct output_doors doors;
    uint32_t job_base;
    uint32_t rounds; /* jobs posted: an answer to an older job is not taken for a newer one's */
    struct mono now;
    uint16_t count;
    struct output output[];
};

/* -- birth and death ------------------------------------------------------ */

static bool can_read(const struct output_settings *settings)
{
    const struct backend *backend = backend_of(settings);
    return backend->read && backend->reads_back && backend->reads_back(settings);
}

const char *output_state_topic(const struct output_settings *settings)
{
    const struct backend *backend = backend_of(settings);
    return backend->state_topic ? backend->state_topic(settings) : "";
}

bool output_can_say(const struct output_settings *settings)
{
    return can_read(settings) || output_state_topic(settings)[0];
}

bool output_same_place(const struct output_settings *a, const struct output_settings *b)
{
    return a->kind == b->kind && backend_of(a)->same_place(a, b);
}

/* One that cannot be opened holds up no other: its orders fail, and it is tried again
 * with each of them. */
static void open_device(struct output *output)
{
    struct trouble trouble;
    if (!output->backend->open || output->device) {
        return;
    }
    if (!output->backend->open(&output->settings, &output->device, &trouble)) {
        snprintf(output->detail, sizeof output->detail, "%.150s", trouble.text);
    }
}

static void take_fault(void *context, const char *key, const char *text)
{
    trouble_set(context, key, "%s", text);
}

static bool begin_output(struct output *output, const struct output_settings *settings,
                         struct trouble *trouble)
{
    output->settings = *settings;
    output->backend = backend_of(settings);
    bool amount = level_is_amount(settings);
    if (amount && settings->scale_ma > 0 && settings->watts_per_amp <= 0) {
        return trouble_set(trouble, "", "a set-point in amps needs phases and a voltage");
    }
    trouble->text[0] = '\0';
    if (output->backend->check) {
        output->backend->check(settings, take_fault, trouble);
    }
    if (trouble->text[0]) {
        return false;
    }
    bool staged = output->backend->on_bus && !amount;
    output->channels = staged && settings->contactors > 1 ? settings->contactors : 1;
    for (uint8_t i = 0; i < output->channels; i++) {
        channel_begin(&output->channel[i], can_read(settings), output_state_topic(settings)[0],
                      amount);
    }
    open_device(output);
    return true;
}

struct outputs *outputs_new(const struct output_settings settings[], uint16_t count,
                            uint32_t job_base, const struct output_doors *doors,
                            struct trouble *trouble)
{
    if (count > OUTPUTS_MAX) {
        trouble_set(trouble, "", "%u outputs are more than %d", count, OUTPUTS_MAX);
        return NULL;
    }
    struct outputs *outputs = calloc(1, sizeof *outputs + count * sizeof outputs->output[0]);
    if (!outputs) {
        trouble_set(trouble, "", "no memory for %u outputs", count);
        return NULL;
    }
    outputs->doors = *doors;
    outputs->job_base = job_base;
    for (uint16_t i = 0; i < count; i++) {
        outputs->count++;
        if (!begin_output(&outputs->output[i], &settings[i], trouble)) {
            outputs_free(outputs);
            return NULL;
        }
    }
    return outputs;
}

void outputs_free(struct outputs *outputs)
{
    for (uint16_t i = 0; outputs && i < outputs->count; i++) {
        struct output *output = &outputs->output[i];
        if (output->device) {
            output->backend->close(output->device);
        }
    }
    free(outputs);
}

/* -- words ---------------------------------------------------------------- */

static void value_words(const struct output *output, int32_t value, struct text *text)
{
    if (level_is_amount(&output->settings)) {
        text_add(text, "%d W", (int)level_amount_w(&output->settings, value));
    } else {
        text_add(text, "%s", level_is_on(&output->settings, value) ? "on" : "off");
    }
}

/* Says what the channel's remark means; CHANNEL_WORDS keeps the words that came. */
static void describe(struct output *output, uint8_t index, const char *words)
{
    const struct channel *channel = &output->channel[index];
    struct text text = text_in(output->detail, sizeof output->detail);
    if (channel->remark == CHANNEL_PLAIN) {
        return;
    }
    output->backend->name(&output->settings, index, &text);
    switch (channel->remark) {
    case CHANNEL_DIFFERS:
        text_add(&text, " reads ");
        value_words(output, channel->seen, &text);
        text_add(&text, " where ");
        value_words(output, channel->wanted, &text);
        text_add(&text, " was ordered");
        break;
    case CHANNEL_LOCKED:
        text_add(&text, " reads ");
        value_words(output, channel->seen, &text);
        text_add(
            &text,
            " after different orders, again and again: locked out for %d min, then tried again",
            (int)(channel->lock_ms / MS_PER_MIN));
        break;
    case CHANNEL_CHANGED:
        text_add(&text, " was switched ");
        value_words(output, channel->seen, &text);
        text_add(&text, " by something else, or by a reset");
        break;
    case CHANNEL_LESS:
        text_add(&text, " takes only ");
        value_words(output, channel->seen, &text);
        text_add(&text, " of ");
        value_words(output, channel->wanted, &text);
        break;
    case CHANNEL_MUTE:
        text_add(&text, " does not report whether it followed the order");
        break;
    case CHANNEL_WORDS:
    case CHANNEL_PLAIN:
        text_add(&text, ": %s", words);
        break;
    }
}

/* -- one channel's step ----------------------------------------------------- */

/* What of a channel others can see; a change of it is news. */
struct visible {
    enum output_health health;
    enum channel_remark remark;
    bool known;
    int32_t seen;
};

static struct visible look(const struct channel *channel)
{
    return (struct visible){channel->health, channel->remark, channel->known, channel->seen};
}

static bool has_news(struct output *output, uint8_t index, struct visible before, const char *words)
{
    struct visible after = look(&output->channel[index]);
    if (after.remark != CHANNEL_WORDS || words[0]) {
        describe(output, index, words);
    }
    return before.health != after.health || before.remark != after.remark ||
           before.known != after.known || before.seen != after.seen;
}

static uint32_t next_job(struct outputs *outputs, uint16_t load, uint8_t index)
{
    uint32_t round = ++outputs->rounds % JOB_ROUNDS;
    return outputs->job_base + round * JOB_CHANNELS + load * OUTPUT_CONTACTORS_MAX + index;
}

static void take_result(struct output *output, uint8_t index, enum channel_action action,
                        enum backend_result result, int32_t value, struct mono now)
{
    struct channel *channel = &output->channel[index];
    if (result == BACKEND_UNSENT || result == BACKEND_FAILED) {
        channel_failed(channel, result == BACKEND_UNSENT ? CHANNEL_UNSENT : CHANNEL_REFUSED, now);
    } else if (result == BACKEND_DONE && action == CHANNEL_WRITE) {
        channel_acknowledged(channel, now);
    } else if (result == BACKEND_DONE) {
        channel_saw(channel, value, now);
    }
}

static void act(struct outputs *outputs, uint16_t load, uint8_t index, enum channel_action action,
                struct trouble *trouble)
{
    struct output *output = &outputs->output[load];
    open_device(output);
    const struct backend_call call = {.settings = &output->settings,
                                      .doors = &outputs->doors,
                                      .device = output->device,
                                      .contactor = index,
                                      .job_id = next_job(outputs, load, index),
                                      .now = outputs->now};
    int32_t value = 0;
    channel_began(&output->channel[index], action, outputs->now);
    output->job[index] = call.job_id;
    enum backend_result result =
        action == CHANNEL_WRITE
            ? output->backend->set(&call, output->channel[index].written, trouble)
            : output->backend->read(&call, &value, trouble);
    take_result(output, index, action, result, value, outputs->now);
}

/* Does what is due of one channel; where the back end answers at once that may be
 * a write and its read-back. True: news. */
static bool step(struct outputs *outputs, uint16_t load, uint8_t index)
{
    enum { WRITE_AND_READ = 2 };
    struct output *output = &outputs->output[load];
    struct trouble trouble = {.text = ""};
    struct visible before = look(&output->channel[index]);
    for (int i = 0; i < WRITE_AND_READ; i++) {
        enum channel_action action = channel_due(&output->channel[index], outputs->now);
        if (action == CHANNEL_NOTHING) {
            break;
        }
        act(outputs, load, index, action, &trouble);
    }
    return has_news(output, index, before, trouble.text);
}

/* Contactors open from last to first, then close from first to last. */
static bool step_output(struct outputs *outputs, uint16_t load)
{
    struct output *output = &outputs->output[load];
    bool news = false;
    for (uint8_t i = output->channels; i-- > 0;) {
        if (!level_is_on(&output->settings, output->channel[i].wanted)) {
            news |= step(outputs, load, i);
        }
    }
    for (uint8_t i = 0; i < output->channels; i++) {
        if (level_is_on(&output->settings, output->channel[i].wanted)) {
            news |= step(outputs, load, i);
        }
    }
    return news;
}

bool outputs_turn(struct outputs *outputs, struct mono now)
{
    bool news = false;
    outputs->now = now;
    for (uint16_t i = 0; i < outputs->count; i++) {
        news |= step_output(outputs, i);
    }
    return news;
}

/* -- orders --------------------------------------------------------------- */

void outputs_probe(struct outputs *outputs, struct mono now)
{
    for (uint16_t i = 0; i < outputs->count; i++) {
        for (uint8_t k = 0; k < outputs->output[i].channels; k++) {
            channel_probe(&outputs->output[i].channel[k], now);
        }
    }
    outputs_turn(outputs, now);
}

static void order(struct output *output, int32_t level_w, uint8_t stage, struct mono now)
{
    bool on = level_w > 0 || stage > 0;
    if (on) {
        output->on_w = level_w;
        output->on_stage = stage;
    }
    if (level_is_amount(&output->settings)) {
        channel_order(&output->channel[0], level_amount(&output->settings, level_w), now);
        return;
    }
    for (uint8_t i = 0; i < output->channels; i++) {
        bool closed = output->channels > 1 ? i < stage : on;
        channel_order(&output->channel[i], level_switch(&output->settings, closed), now);
    }
}

void outputs_want(struct outputs *outputs, uint16_t load, int32_t level_w, uint8_t stage,
                  struct mono now)
{
    outputs->now = now;
    if (load < outputs->count) {
        order(&outputs->output[load], level_w, stage, now);
    }
}

/* On for a set-point would be an amount that nobody has granted: it fails to
 * nothing. */
void outputs_fail_state(struct outputs *outputs, struct mono now)
{
    for (uint16_t i = 0; i < outputs->count; i++) {
        struct output *output = &outputs->output[i];
        bool on =
            output->settings.fail_state == OUTPUT_FAIL_ON && !level_is_amount(&output->settings);
        int32_t level_w = output->on_w > 0 ? output->on_w : 1;
        order(output, on ? level_w : 0, on ? output->channels : 0, now);
        for (uint8_t k = 0; k < output->channels; k++) {
            channel_hurry(&output->channel[k], now);
        }
    }
    outputs_turn(outputs, now);
}

/* -- news from the devices ------------------------------------------------ */

static bool find_job(const struct outputs *outputs, uint32_t id, uint16_t *load, uint8_t *index)
{
    uint32_t channel = (id - outputs->job_base) % JOB_CHANNELS;
    *load = (uint16_t)(channel / OUTPUT_CONTACTORS_MAX);
    *index = (uint8_t)(channel % OUTPUT_CONTACTORS_MAX);
    if (id < outputs->job_base || id - outputs->job_base >= JOB_CHANNELS * JOB_ROUNDS ||
        *load >= outputs->count || *index >= outputs->output[*load].channels) {
        return false;
    }
    const struct output *output = &outputs->output[*load];
    bool waits = output->channel[*index].doing == CHANNEL_WRITING ||
                 output->channel[*index].doing == CHANNEL_READING;
    return waits && output->job[*index] == id;
}

static enum channel_failure failure_of(enum bus_outcome outcome)
{
    switch (outcome) {
    case BUS_DOWN:
    case BUS_BACKING_OFF:
        return CHANNEL_UNSENT;
    case BUS_EXCEPTION:
    case BUS_LISTENING:
        return CHANNEL_REFUSED;
    default:
        return CHANNEL_SILENT;
    }
}

bool outputs_answer(struct outputs *outputs, const struct bus_answer *answer)
{
    uint16_t load;
    uint8_t index;
    if (!find_job(outputs, answer->id, &load, &index)) {
        return false;
    }
    struct output *output = &outputs->output[load];
    struct channel *channel = &output->channel[index];
    struct visible before = look(channel);
    if (answer->outcome != BUS_OK) {
        channel_failed(channel, failure_of(answer->outcome), outputs->now);
    } else if (channel->doing == CHANNEL_WRITING) {
        channel_acknowledged(channel, outputs->now);
    } else {
        channel_saw(channel, answer->value[0], outputs->now);
    }
    bool news = has_news(output, index, before, answer->detail);
    news |= step(outputs, load, index); /* the read-back follows at once */
    return news;
}

bool outputs_state_message(struct outputs *outputs, const char *topic, const char *payload,
                           size_t length, struct mono now)
{
    bool news = false;
    outputs->now = now;
    for (uint16_t i = 0; i < outputs->count; i++) {
        struct output *output = &outputs->output[i];
        const char *state_topic = output_state_topic(&output->settings);
        int32_t value;
        if (!state_topic[0] || strcmp(state_topic, topic) != 0 ||
            !output->backend->parse(&output->settings, payload, length, &value)) {
            continue;
        }
        struct visible before = look(&output->channel[0]);
        channel_told(&output->channel[0], value, now);
        news |= has_news(output, 0, before, "");
        news |= step(outputs, i, 0);
    }
    return news;
}

/* -- what is in force ----------------------------------------------------- */

static enum output_health worse(enum output_health a, enum output_health b)
{
    static const int badness[] = {
        [OUTPUT_CONFIRMED] = 0, [OUTPUT_UNCONFIRMED] = 1, [OUTPUT_UNKNOWN] = 2,
        [OUTPUT_PENDING] = 3,   [OUTPUT_FAILED] = 4,      [OUTPUT_UNSAFE] = 5};
    return badness[a] >= badness[b] ? a : b;
}

/* The power of an order is known, that of what was found on is not: 1 W says
 * "on". */
static int32_t level_of_closed(const struct output *output, uint8_t closed)
{
    if (closed == 0) {
        return 0;
    }
    int64_t level_w = output->on_w;
    if (output->channels > 1 && output->on_stage > 0) {
        level_w = level_w * closed / output->on_stage;
    }
    return level_w > 0 ? (int32_t)level_w : 1;
}

static int32_t level_in_force(const struct output *output)
{
    if (level_is_amount(&output->settings)) {
        return output->channel[0].known ? level_amount_w(&output->settings, output->channel[0].seen)
                                        : 0;
    }
    uint8_t closed = 0;
    for (uint8_t i = 0; i < output->channels; i++) {
        const struct channel *channel = &output->channel[i];
        if (channel->known && level_is_on(&output->settings, channel->seen)) {
            closed++;
        }
    }
    return level_of_closed(output, closed);
}

struct confirmation outputs_confirmation(const struct outputs *outputs, uint16_t load)
{
    const struct output *output = &outputs->output[load];
    struct confirmation confirmation = {.load = load, .health = output->channel[0].health};
    for (uint8_t i = 0; i < output->channels; i++) {
        confirmation.health = worse(confirmation.health, output->channel[i].health);
        if (output->channel[i].at.ms > confirmation.at.ms) {
            confirmation.at = output->channel[i].at;
        }
    }
    confirmation.level_w = level_in_force(output);
    return confirmation;
}

struct output_view outputs_view(const struct outputs *outputs, uint16_t load)
{
    const struct output *output = &outputs->output[load];
    struct output_view view = {.has_been_heard = true, .heard = MONO_NEVER};
    for (uint8_t i = 0; i < output->channels; i++) {
        view.has_been_heard &= output->channel[i].known;
        view.heard = mono_earlier(view.heard, output->channel[i].heard);
    }
    if (outputs_confirmation(outputs, load).health == OUTPUT_CONFIRMED) {
        view.state = level_in_force(output) > 0 ? OUTPUT_IS_ON : OUTPUT_IS_OFF;
    }
    return view;
}

void outputs_take_over(struct outputs *outputs, uint16_t load, struct outputs *from,
                       uint16_t load_before, struct mono now)
{
    struct output *output = &outputs->output[load], *before = &from->output[load_before];
    const struct output_settings settings = output->settings;
    if (output->device) {
        output->backend->close(output->device);
    }
    *output = *before;
    output->settings = settings; /* the bus may have got another number */
    before->device = NULL;
    outputs->rounds = from->rounds; /* no new job has the number of one under way */
    for (uint8_t i = 0; i < output->channels; i++) {
        channel_lose(&output->channel[i], now);
    }
}

void outputs_rewired(struct outputs *outputs, struct mono now)
{
    for (uint16_t i = 0; i < outputs->count; i++) {
        bool on_bus = outputs->output[i].backend->on_bus;
        for (uint8_t k = 0; k < outputs->output[i].channels && on_bus; k++) {
            channel_rewired(&outputs->output[i].channel[k], now);
        }
    }
}

bool outputs_confirmed(const struct outputs *outputs)
{
    for (uint16_t i = 0; i < outputs->count; i++) {
        if (outputs_confirmation(outputs, i).health != OUTPUT_CONFIRMED) {
            return false;
        }
    }
    return true;
}

struct mono outputs_next(const struct outputs *outputs)
{
    struct mono next = MONO_NEVER;
    for (uint16_t i = 0; i < outputs->count; i++) {
        for (uint8_t k = 0; k < outputs->output[i].channels; k++) {
            next = mono_earlier(next, channel_next(&outputs->output[i].channel[k]));
        }
    }
    return next;
}

bool outputs_busy(const struct outputs *outputs)
{
    for (uint16_t i = 0; i < outputs->count; i++) {
        for (uint8_t k = 0; k < outputs->output[i].channels; k++) {
            if (channel_busy(&outputs->output[i].channel[k], outputs->now)) {
                return true;
            }
        }
    }
    return false;
}

const char *outputs_detail(const struct outputs *outputs, uint16_t load)
{
    const struct output *output = &outputs->output[load];
    for (uint8_t i = 0; i < output->channels; i++) {
        if (output->channel[i].remark != CHANNEL_PLAIN) {
            return output->detail;
        }
    }
    return "";
}
