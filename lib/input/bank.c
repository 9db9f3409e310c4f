/* bank.c - all inputs: when each is read, and what becomes of the answer.
 *
 * Inputs of one board that lie close together are read with one question, by the first of
 * them: a bus has little time, and a button asks for much of it. Where the board refuses the
 * block, since one address of it is not there, each is asked alone from then on, so that one
 * mistake in the settings costs one input. */
#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "input/source.h"
#include "terms/reading.h"

enum { HELD_MS = MS_PER_MIN, DETAIL_MAX = 128 };

struct input {
    struct input_settings settings;
    const struct input_source *source;
    void *device;
    uint16_t leader; /* whose question brings its answer */
    uint16_t offset; /* where in it */
    bool asked;      /* a question of its own is under way */
    struct mono due, begun;
    struct debounce debounce;
    bool read;
    struct mono taken;
    uint32_t sequence;
    bool pressed;
    char detail[DETAIL_MAX];
};

struct input_bank {
    struct input_doors doors;
    uint32_t job_base;
    uint16_t count;
    struct input input[];
};

/* ---- who is read with whom ----------------------------------------------------------------- */

/* Where `b` comes with a question of `a`'s; -1: it doesn't. */
static int offset_of(const struct input *a, const struct input *b)
{
    bool alike = a->settings.kind == b->settings.kind && a->source->offset &&
                 a->settings.every_ms == b->settings.every_ms;
    return alike ? a->source->offset(&a->settings, &b->settings) : -1;
}

/* The lowest in its block that leads; an input that lies in nobody's leads itself. */
static void find_leader(struct input_bank *bank, uint16_t index)
{
    struct input *input = &bank->input[index];
    for (uint16_t k = 0; k < bank->count; k++) {
        const struct input *other = &bank->input[k];
        int offset = k == index || other->leader != k ? -1 : offset_of(other, input);
        if (offset > (int)input->offset || (offset == 0 && k < index)) {
            input->leader = k;
            input->offset = (uint16_t)offset;
        }
    }
}

/* In the order of their addresses, so that a leader has been found to be one before another
 * joins it. */
static void find_leaders(struct input_bank *bank)
{
    bool done[UINT8_MAX] = {false};
    for (uint16_t k = 0; k < bank->count; k++)
        bank->input[k].leader = UINT16_MAX;
    for (uint16_t n = 0; n < bank->count; n++) {
        uint16_t lowest = UINT16_MAX;
        for (uint16_t k = 0; k < bank->count; k++)
            if (!done[k] && (lowest == UINT16_MAX || bank->input[k].settings.address <
                                                         bank->input[lowest].settings.address))
                lowest = k;
        done[lowest] = true;
        bank->input[lowest].leader = lowest;
        find_leader(bank, lowest);
    }
}

static uint16_t block_of(const struct input_bank *bank, uint16_t leader)
{
    uint16_t count = 1;
    for (uint16_t k = 0; k < bank->count; k++)
        if (bank->input[k].leader == leader && bank->input[k].offset >= count)
            count = (uint16_t)(bank->input[k].offset + 1);
    return count;
}

static void ask_each_alone(struct input_bank *bank, uint16_t leader)
{
    for (uint16_t k = 0; k < bank->count; k++)
        if (bank->input[k].leader == leader) {
            bank->input[k].leader = k;
            bank->input[k].offset = 0;
        }
}

/* ---- birth and death ------------------------------------------------------------------------- */

struct input_bank *input_bank_new(const struct input_settings settings[], uint16_t count,
                                  uint32_t job_base, const struct input_doors *doors,
                                  struct mono now)
{
    struct input_bank *bank = calloc(1, sizeof *bank + count * sizeof bank->input[0]);
    if (!bank)
        return NULL;
    bank->doors = *doors;
    bank->job_base = job_base;
    bank->count = count;
    for (uint16_t k = 0; k < count; k++) {
        struct input *input = &bank->input[k];
        input->settings = settings[k];
        input->source = input_source_of(&settings[k]);
        input->due = input->begun = now;
    }
    find_leaders(bank);
    return bank;
}

void input_bank_free(struct input_bank *bank)
{
    for (uint16_t k = 0; bank && k < bank->count; k++)
        if (bank->input[k].device)
            bank->input[k].source->close(bank->input[k].device);
    free(bank);
}

bool input_is_same(const struct input_settings *a, const struct input_settings *b)
{
    struct input_settings moved = *b;
    moved.bus_index = a->bus_index;
    moved.load_index = a->load_index;
    moved.debounce_ms = a->debounce_ms;
    moved.every_ms = a->every_ms;
    moved.run_ms = a->run_ms;
    return memcmp(a, &moved, sizeof moved) == 0;
}

void input_bank_take_over(struct input_bank *bank, uint16_t index, struct input_bank *from,
                          uint16_t index_before)
{
    struct input *input = &bank->input[index], *before = &from->input[index_before];
    input->device = before->device;
    input->begun = before->begun;
    input->debounce = before->debounce;
    input->read = before->read;
    input->taken = before->taken;
    input->sequence = before->sequence;
    input->pressed = before->pressed;
    memcpy(input->detail, before->detail, sizeof input->detail);
    before->device = NULL;
}

void input_bank_rewired(struct input_bank *bank)
{
    for (uint16_t k = 0; k < bank->count; k++)
        bank->input[k].asked = false;
}

/* ---- readings -------------------------------------------------------------------------------- */

static void take(struct input *input, bool high, struct mono now)
{
    bool closed = high != input->settings.active_low;
    input->read = true;
    input->taken = now;
    input->sequence++;
    input->detail[0] = '\0';
    input->pressed |= debounce_saw(&input->debounce, closed, input->settings.debounce_ms, now);
}

static bool is_fresh(const struct input *input, struct mono now)
{
    return input->read &&
           mono_since_ms(now, input->taken) <= reading_fresh_ms(input->settings.every_ms);
}

/* `counts_down`: why says how long it rests, which is another word each second: the failure
 * before it says more. */
static void fail(struct input *input, const char *why, bool counts_down, struct mono now)
{
    if (!counts_down || !input->detail[0]) {
        struct text detail = text_in(input->detail, sizeof input->detail);
        text_add(&detail, "%s", why);
    }
    debounce_failed(&input->debounce);
    if (!is_fresh(input, now))
        debounce_forget(&input->debounce);
}

static void read_now(struct input *input, struct mono now)
{
    struct trouble trouble = {.text = ""};
    bool high = false;
    bool opened = input->device || input->source->open(&input->settings, &input->device, &trouble);
    if (opened && input->source->read(&input->settings, input->device, &high, &trouble))
        take(input, high, now);
    else
        fail(input, trouble.text, false, now);
}

static void post(struct input_bank *bank, uint16_t index, struct mono now)
{
    struct input *input = &bank->input[index];
    struct bus_job job = input->source->job(&input->settings, block_of(bank, index));
    job.id = bank->job_base + index;
    job.now = now;
    input->asked = bank->doors.post(bank->doors.context, input->settings.bus_index, &job);
}

void input_bank_ask(struct input_bank *bank, struct mono now)
{
    for (uint16_t k = 0; k < bank->count; k++) {
        struct input *input = &bank->input[k];
        if (!is_fresh(input, now))
            debounce_forget(&input->debounce);
        if (input->leader != k || now.ms < input->due.ms)
            continue;
        input->due = mono_next_due(input->due, input->settings.every_ms, now);
        if (!input->source->on_bus)
            read_now(input, now);
        else if (!input->asked)
            post(bank, k, now);
    }
}

struct mono input_bank_next(const struct input_bank *bank)
{
    struct mono next = MONO_NEVER;
    for (uint16_t k = 0; k < bank->count; k++)
        if (bank->input[k].leader == k)
            next = mono_earlier(next, bank->input[k].due);
    return next;
}

void input_bank_answer(struct input_bank *bank, const struct bus_answer *answer)
{
    uint32_t leader = answer->id - bank->job_base;
    if (answer->id < bank->job_base || leader >= bank->count || !bank->input[leader].asked)
        return;
    bool rests = answer->outcome == BUS_BACKING_OFF || answer->outcome == BUS_DOWN;
    bank->input[leader].asked = false;
    for (uint16_t k = 0; k < bank->count; k++) {
        struct input *input = &bank->input[k];
        if (input->leader != leader)
            continue;
        if (answer->outcome == BUS_OK && input->offset < answer->count)
            take(input, answer->value[input->offset] != 0, answer->now);
        else
            fail(input, answer->detail, rests, answer->now);
    }
    if (answer->outcome == BUS_EXCEPTION && block_of(bank, (uint16_t)leader) > 1)
        ask_each_alone(bank, (uint16_t)leader);
}

/* ---- what is known --------------------------------------------------------------------------- */

static enum input_trouble trouble_of(const struct input *input, struct mono now)
{
    const struct debounce *debounce = &input->debounce;
    struct mono since = input->read ? input->taken : input->begun;
    if (mono_since_ms(now, since) > reading_fresh_ms(input->settings.every_ms))
        return INPUT_UNREAD;
    if (debounce_chatters(debounce, now))
        return INPUT_CHATTERS;
    bool held =
        debounce->known && debounce->closed && mono_since_ms(now, debounce->closed_since) > HELD_MS;
    return held && input->settings.role == INPUT_BUTTON ? INPUT_HELD_CLOSED : INPUT_WELL;
}

struct input_view input_bank_view(const struct input_bank *bank, uint16_t index, struct mono now)
{
    const struct input *input = &bank->input[index];
    return (struct input_view){.known = input->debounce.known && is_fresh(input, now),
                               .closed = input->debounce.closed,
                               .was_known = input->debounce.was_known,
                               .read = input->read,
                               .taken = input->taken,
                               .sequence = input->sequence,
                               .trouble = trouble_of(input, now),
                               .detail = input->detail};
}

bool input_bank_pressed(struct input_bank *bank, uint16_t index)
{
    bool pressed = bank->input[index].pressed;
    bank->input[index].pressed = false;
    return pressed;
}
