/* board.c - what inputs show becomes what the engine is told, and a press an order.
 *
 * What is not known says nothing, so that a silent bus does no more than an input that is not
 * there; an inhibit alone stays as it was last read, and one that has not been read since the
 * start counts as closed, since somebody may be at the pipes. A hand-off-auto switch is told by one
 * contact, two or three of them; where they contradict each other nothing is believed. */
#include "board.h"

#include <string.h>

#include "order_gate.h"
#include "troubles.h"

enum { ROUNDS = 16, JOBS_OF_A_ROUND = 256 };

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    return job_post(((struct board *)context)->lines, bus_index, job);
}

static struct input_bank *new_bank(struct board *board, const struct common *common,
                                   struct trouble *trouble)
{
    const struct settings *settings = common->settings;
    const struct input_doors doors = {.context = board, .post = post};
    board->round = (uint8_t)((board->round + 1) % ROUNDS);
    struct input_bank *bank = input_bank_new(settings->inputs, settings->input_count,
                                             JOB_INPUTS + (uint32_t)board->round * JOBS_OF_A_ROUND,
                                             &doors, common->now.mono);
    if (!bank)
        trouble_set(trouble, "", "out of memory");
    return bank;
}

bool board_open(struct board *board, struct lines *lines, const struct common *common,
                struct trouble *trouble)
{
    board->lines = lines;
    board->bank = common->settings->input_count ? new_bank(board, common, trouble) : NULL;
    return board->bank || common->settings->input_count == 0;
}

void board_end(struct board *board)
{
    input_bank_free(board->bank);
    board->bank = NULL;
}

void board_ask(struct board *board, struct mono now)
{
    if (board->bank)
        input_bank_ask(board->bank, now);
}

struct mono board_next(const struct board *board)
{
    return board->bank ? input_bank_next(board->bank) : MONO_NEVER;
}

void board_answer(struct board *board, const struct bus_answer *answer)
{
    if (board->bank)
        input_bank_answer(board->bank, answer);
}

struct input_view board_view(const struct board *board, uint8_t index, struct mono now)
{
    return board->bank ? input_bank_view(board->bank, index, now)
                       : (struct input_view){.detail = ""};
}

/* ---- what is sensed of one load ------------------------------------------------------------ */

/* By role; where a load has none of it, it is not known. */
struct sensed {
    struct input_view of[INPUT_INHIBIT];
    bool inhibited, inhibit_shown, inhibit_unread;
};

static void add_inhibit(struct sensed *sensed, const struct input_view *view)
{
    sensed->inhibit_shown |= view->was_known && view->closed;
    sensed->inhibit_unread |= !view->was_known;
    sensed->inhibited = sensed->inhibit_shown || sensed->inhibit_unread;
}

static struct sensed sense(const struct board *board, const struct common *common, uint16_t load)
{
    struct sensed sensed = {.inhibited = false};
    for (uint8_t k = 0; k < common->settings->input_count; k++) {
        const struct input_settings *input = &common->settings->inputs[k];
        if (input->load_index != load && input->load_index != INPUT_ALL_LOADS)
            continue;
        struct input_view view = board_view(board, k, common->now.mono);
        if (input->role == INPUT_INHIBIT)
            add_inhibit(&sensed, &view);
        else
            sensed.of[input->role] = view;
    }
    return sensed;
}

static bool is_closed(const struct input_view *view)
{
    return view->known && view->closed;
}

static bool contradicts(const struct sensed *sensed)
{
    return is_closed(&sensed->of[INPUT_IN_HAND]) + is_closed(&sensed->of[INPUT_AT_OFF]) +
               is_closed(&sensed->of[INPUT_IN_AUTO]) >
           1;
}

static enum load_held switch_of(const struct sensed *sensed)
{
    const struct input_view *in_auto = &sensed->of[INPUT_IN_AUTO];
    if (contradicts(sensed))
        return HELD_NOT;
    if (is_closed(&sensed->of[INPUT_IN_HAND]))
        return HELD_IN_HAND;
    if (is_closed(&sensed->of[INPUT_AT_OFF]))
        return HELD_OFF_AT_BOARD;
    if (!in_auto->known || in_auto->closed)
        return HELD_NOT;
    if (sensed->of[INPUT_IN_HAND].known)
        return HELD_OFF_AT_BOARD;
    return sensed->of[INPUT_AT_OFF].known ? HELD_IN_HAND : HELD_NOT_IN_AUTO;
}

static enum load_held held_of(const struct sensed *sensed)
{
    enum load_held by_switch = switch_of(sensed);
    const struct input_view *supply = &sensed->of[INPUT_SUPPLY];
    if (by_switch != HELD_NOT)
        return by_switch;
    if (sensed->inhibited)
        return HELD_INHIBITED;
    return supply->known && !supply->closed ? HELD_NO_SUPPLY : HELD_NOT;
}

static struct source source_of(const struct input_view *view)
{
    return (struct source){.quality = view->known  ? READING_FRESH
                                      : view->read ? READING_STALE
                                                   : READING_ABSENT,
                           .sequence = view->sequence,
                           .taken = view->taken};
}

void board_settle(const struct board *board, struct inputs *inputs, const struct common *common)
{
    for (uint16_t i = 0; i < common->settings->rules.load_count && board->bank; i++) {
        struct load_reading *load = &inputs->load_reading[i];
        const struct sensed sensed = sense(board, common, i);
        load->contact = source_of(&sensed.of[INPUT_CONTACT]);
        load->contact_closed = sensed.of[INPUT_CONTACT].closed;
        load->held = (uint8_t)held_of(&sensed);
        inputs->inhibit_unread[i] = sensed.inhibit_unread && !sensed.inhibit_shown;
        load->supplied = is_closed(&sensed.of[INPUT_SUPPLY]);
    }
}

/* ---- presses -------------------------------------------------------------------------------- */

static void press(const struct ordering *ordering, const struct input_settings *input)
{
    char order[64], buffer[TROUBLE_TEXT_MAX];
    struct text text = text_in(order, sizeof(order)), answer = text_in(buffer, sizeof(buffer));
    struct orders *orders = &ordering->engine->orders;
    bool ends = ordering->engine->loads[input->load_index].hand == HAND_ON;
    text_add(&text, ends ? "auto" : "on ");
    if (!ends)
        quantity_write(QUANTITY_DURATION_MS, input->run_ms, &text);
    if (order_gate_admit(orders, ordering->common, ORDERS_BY_BUTTON, "order", order, &answer))
        order_load(ordering, input->load, order, &answer);
    if (orders->record)
        site_note(ordering->common, input->name, "pressed: %s", buffer);
}

void board_obey(struct board *board, const struct ordering *ordering)
{
    const struct settings *settings = ordering->common->settings;
    for (uint8_t k = 0; k < settings->input_count && board->bank; k++)
        if (input_bank_pressed(board->bank, k) && settings->inputs[k].role == INPUT_BUTTON)
            press(ordering, &settings->inputs[k]);
}

/* ---- what is wrong -------------------------------------------------------------------------- */

static const char *what_it_comes_to(const struct input_settings *input,
                                    const struct input_view *view)
{
    if (input->role != INPUT_INHIBIT)
        return "what it shows is not known";
    if (!view->was_known)
        return "not once since the start: it counts as closed, and what it inhibits stays off";
    return view->closed ? "and what it inhibits stays so" : "it counts as open, as last read";
}

static void tell_unread(struct common *common, const char *id, const struct input_settings *input,
                        const struct input_view *view)
{
    site_trouble(common, id, "input %s cannot be read, %s: %s", input->name,
                 what_it_comes_to(input, view),
                 view->detail[0] ? view->detail : "nothing has come yet");
}

static void look(struct common *common, const struct input_settings *input,
                 const struct input_view *view)
{
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "input", input->name);
    switch (view->trouble) {
    case INPUT_WELL:
        site_solved(common, id);
        break;
    case INPUT_UNREAD:
        tell_unread(common, id, input, view);
        break;
    case INPUT_CHATTERS:
        site_trouble(common, id,
                     "input %s opens and closes all the time: possible loose wire or worn contact; "
                     "%s",
                     input->name, what_it_comes_to(input, view));
        break;
    case INPUT_HELD_CLOSED:
        site_trouble(common, id,
                     "push-button %s has been held for more than a minute: possibly stuck; it "
                     "counts as one press",
                     input->name);
        break;
    }
}

void board_look(const struct board *board, struct common *common)
{
    const struct settings *settings = common->settings;
    for (uint8_t k = 0; k < settings->input_count && board->bank; k++) {
        const struct input_view view = board_view(board, k, common->now.mono);
        look(common, &settings->inputs[k], &view);
    }
    for (uint16_t i = 0; i < settings->rules.load_count && board->bank; i++) {
        char id[MQTT_ID_MAX];
        const struct sensed sensed = sense(board, common, i);
        site_trouble_id(id, "switch", settings->names[i].name);
        if (contradicts(&sensed))
            site_trouble(common, id,
                         "%s: its switch is sensed in two positions at once: possible wiring; "
                         "neither is believed",
                         settings->names[i].name);
        else
            site_solved(common, id);
    }
}

/* ---- at a reload ---------------------------------------------------------------------------- */

static void forget_troubles(struct common *common, const struct settings *before)
{
    char id[MQTT_ID_MAX];
    for (uint8_t k = 0; k < before->input_count; k++) {
        site_trouble_id(id, "input", before->inputs[k].name);
        if (settings_find_input(common->settings, before->inputs[k].name) < 0)
            site_unwatched(common, id);
    }
    for (uint16_t i = 0; i < before->rules.load_count; i++) {
        site_trouble_id(id, "switch", before->names[i].name);
        site_unwatched(common, id);
    }
}

bool board_replace(struct board *board, struct common *common, const struct settings *before,
                   struct trouble *trouble)
{
    const struct settings *after = common->settings;
    struct input_bank *old = board->bank;
    bool opened = board_open(board, board->lines, common, trouble);
    for (uint8_t j = 0; j < after->input_count && board->bank && old; j++) {
        int i = settings_find_input(before, after->inputs[j].name);
        if (i >= 0 && input_is_same(&before->inputs[i], &after->inputs[j]))
            input_bank_take_over(board->bank, j, old, (uint16_t)i);
    }
    input_bank_free(old);
    forget_troubles(common, before);
    return opened;
}
