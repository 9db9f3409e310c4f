/* orders.c - what people order, and what the outputs answer. */
#include "orders.h"

static void set_hand(struct load_memory *memory, enum hand hand, const struct command *command)
{
    memory->hand = (uint8_t)hand;
    memory->hand_until = command->until;
    memory->hand_level_w = command->level_w;
    memory->test = HAND_AUTO;
}

static void set_test(struct load_memory *memory, const struct command *command)
{
    memory->test = command->flag ? HAND_ON : HAND_OFF;
    memory->test_until = command->until;
}

static void obey_for_load(struct turn *turn, const struct command *command)
{
    if (command->load >= turn->settings->load_count)
        return;
    struct load_memory *memory = &turn->memory->loads[command->load];
    switch (command->kind) {
    case COMMAND_ON:
        if (command->until.ms != MONO_NEVER.ms)
            set_hand(memory, HAND_ON, command);
        break;
    case COMMAND_OFF:
        set_hand(memory, HAND_OFF, command);
        break;
    case COMMAND_AUTO:
        memory->hand = memory->test = HAND_AUTO;
        break;
    case COMMAND_TEST:
        if (command->until.ms != MONO_NEVER.ms)
            set_test(memory, command);
        break;
    case COMMAND_INHIBIT:
        memory->inhibited = command->flag;
        break;
    case COMMAND_ENABLE:
        memory->disabled = !command->flag;
        break;
    case COMMAND_HOLIDAY:
        break;
    }
}

static void waive_floors(struct turn *turn)
{
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_settings *load = &turn->settings->loads[i];
        for (uint8_t k = 0; k < load->floor_count && !load->normal_on_holiday; k++)
            turn->memory->loads[i].floor[k].met = true;
    }
}

static void end_test(struct turn *turn, struct load_memory *memory)
{
    if (memory->test == HAND_AUTO)
        return;
    if (turn->t >= memory->test_until.ms)
        memory->test = HAND_AUTO;
    else
        turn_soon(turn, memory->test_until.ms);
}

static void end_what_is_over(struct turn *turn)
{
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        struct load_memory *memory = &turn->memory->loads[i];
        end_test(turn, memory);
        if (memory->hand == HAND_AUTO)
            continue;
        if (turn->t >= memory->hand_until.ms) {
            memory->hand = HAND_AUTO;
            turn_event(turn, EVENT_HAND_ENDED, i, 0);
        } else {
            turn_soon(turn, memory->hand_until.ms);
        }
    }
    struct wall *back = &turn->memory->holiday_back;
    if (back->ms == 0 || !turn->trusted)
        return;
    if (turn->w >= back->ms) {
        back->ms = 0;
        waive_floors(turn);
    } else {
        turn_soon(turn, turn->t + back->ms - turn->w);
    }
}

void obey_orders(struct turn *turn)
{
    for (uint16_t k = 0; k < turn->input->command_count; k++) {
        const struct command *command = &turn->input->commands[k];
        if (command->kind == COMMAND_HOLIDAY)
            turn->memory->holiday_back = command->back;
        else if (command->kind == COMMAND_INHIBIT && command->load == LOAD_ALL)
            turn->memory->all_inhibited = command->flag;
        else
            obey_for_load(turn, command);
    }
    end_what_is_over(turn);
}

static void enter(struct turn *turn, struct load_memory *memory, enum load_state state)
{
    memory->state = (uint8_t)state;
    memory->since.ms = turn->t;
}

static void confirmed_on(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (memory->state == STATE_STARTING) {
        enter(turn, memory, STATE_ON);
    } else if (memory->state == STATE_OFF) {
        enter(turn, memory, STATE_STOPPING);
        memory->enough_since = MONO_NEVER;
        turn_event(turn, EVENT_FOUND_ON, index, 0);
    }
}

static void confirmed_off(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (memory->state != STATE_STOPPING && memory->state != STATE_ON)
        return;
    if (memory->state == STATE_ON)
        turn_event(turn, EVENT_FOUND_OFF, index, 0);
    enter(turn, memory, STATE_OFF);
    memory->level_w = 0;
    memory->stage = 0;
}

static void take_confirmation(struct turn *turn, const struct confirmation *confirmation)
{
    struct load_memory *memory = &turn->memory->loads[confirmation->load];
    memory->health = (uint8_t)confirmation->health;
    if (confirmation->health != OUTPUT_CONFIRMED)
        return;
    bool on = confirmation->level_w > 0;
    /* what was never heard of may have been on until now */
    bool found_off = !on && !memory->confirmed_once && memory->state == STATE_OFF;
    memory->confirmed_once = true;
    if (found_off)
        memory->since.ms = turn->t;
    if (on)
        confirmed_on(turn, confirmation->load);
    else
        confirmed_off(turn, confirmation->load);
}

void take_confirmations(struct turn *turn)
{
    for (uint16_t k = 0; k < turn->input->confirmation_count; k++)
        if (turn->input->confirmations[k].load < turn->settings->load_count)
            take_confirmation(turn, &turn->input->confirmations[k]);
}
