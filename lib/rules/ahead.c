/* ahead.c - what heat is worth decides when a water heater starts.
 *
 * Section 7a of the table. The store's worth is a price. Spare power up to a fraction
 * x of the load's power makes heat cost x f + (1 - x) p a kWh, with p the price of
 * import and f the feed-in credit that is let go; heating pays while that is no more
 * than the worth w: from x = (p - w) / (p - f) on. So the worth becomes the start
 * fraction, and all that is known of starting, settling and stopping stays as it is.
 * Where the worth reaches p, heat is bought ahead; where it falls to f, even the
 * sun's is better sold. */
#include "ahead.h"

#include "load.h"
#include "spare.h"

/* Prices a little apart are the same price: a run is not broken off for less. */
enum { PRICE_SLACK_MICRO = 8000 };

void rules_learn(const struct rules_settings *settings, struct rules_memory *memory, uint16_t load,
                 struct heat_memory *heat)
{
    const struct load_settings *with = &settings->loads[load];
    if (with->start_permille != RULES_START_LEARNT || with->water.volume_ml == 0)
        return;
    struct load_memory *learns = &memory->loads[load];
    memory->learns = true;
    memory->heat_tick = (struct mono){0};
    learns->heat = heat;
    learns->opened_known = learns->draw.supposed_at.mono; /* what was remembered is no news */
    heat_begin(&with->water, heat);
}

void rules_learn_no_more(const struct rules_settings *settings, struct rules_memory *memory,
                         uint16_t load)
{
    struct load_memory *learns = &memory->loads[load];
    learns->heat = NULL;
    learns->ahead = learns->not_worth = learns->could_known = false;
    learns->asked = learns->opened_unproven = learns->doubted = false;
    memory->calendar_until = (struct wall){0}; /* where the derived fraction is looked up */
    memory->learns = false;
    for (uint16_t i = 0; i < settings->load_count; i++)
        memory->learns |= memory->loads[i].heat != NULL;
}

/* An opening can go unseen: another appliance came on in that moment. What is booked as
 * heat then soon passes what the store can have taken. Switching off will tell. */
static void doubt_draw(const struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    const struct draw_view *view = &memory->draw.view;
    bool draws = view->state == DRAW_SEEN || view->state == DRAW_ASSUMED;
    if (load_is_on(memory) && !own_meter(turn, index) && draws)
        memory->doubted |= heat_overflows(&load->water, memory->heat);
}

/* One meter may take another appliance's end for the thermostat's opening. Switching
 * off proves it: an element that had stopped drawing leaves no step. Where the meter was
 * silent then, what it said before stands, and a doubt alone says nothing. */
static void prove_opening(const struct load_settings *load, struct load_memory *memory)
{
    const struct draw_memory *draw = &memory->draw;
    if (load_is_on(memory) && draw->view.state == DRAW_OPEN)
        memory->doubted = false; /* it shows its opening by itself */
    bool heard = memory->opened_unproven, doubted = memory->doubted;
    if (load_is_on(memory) && draw->view.state == DRAW_SEEN && !doubted)
        memory->opened_unproven = heard = false; /* it draws again */
    if (!(heard || doubted) || memory->state != STATE_OFF || draw->stop == STOP_PENDING)
        return;
    memory->opened_unproven = memory->doubted = false;
    if (draw->stop == STOP_FELL)
        heat_found(&load->water, memory->heat, true);
    else if (draw->stop == STOP_FLAT || heard)
        heat_full(&load->water, memory->heat);
}

/* What the thermostat has said since the last turn. */
static void hear_thermostat(const struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    const struct draw_view *draw = &memory->draw.view;
    struct mono supposed_at = memory->draw.supposed_at.mono;
    if (supposed_at.ms != memory->opened_known.ms) {
        memory->opened_known = supposed_at;
        memory->asked = false;
        memory->opened_unproven = !own_meter(turn, index);
        if (!memory->opened_unproven)
            heat_full(&load->water, memory->heat);
    }
    prove_opening(load, memory);
    bool draws = draw->state == DRAW_SEEN;
    if (!memory->asked || (!draws && !memory->draw.satisfied))
        return;
    heat_found(&load->water, memory->heat, draws);
    memory->asked = false;
}

static void tick(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    const struct load_reading *own =
        turn->input->load_reading ? &turn->input->load_reading[index] : NULL;
    struct heat_outlook outlook = {
        .tariff = &turn->settings->tariff,
        .element = kind_of(load)->follows ? HEAT_FOLLOWS : HEAT_SWITCHED,
        .power_w = (int32_t)maximum_64(1, load_most_w(load, memory)),
    };
    struct local local = local_of_wall(&turn->settings->zone, (struct wall){turn->w});
    doubt_draw(turn, index);
    if (memory->draw.view.state == DRAW_SEEN)
        heat_goes_on(&load->water, memory->heat);
    if (load->water.probed && own && own->tank.quality == READING_FRESH)
        heat_sensed(&load->water, memory->heat, own->tank_temperature_mc);
    heat_tick(&load->water, memory->heat, &outlook, &local, &turn->input->now);
}

static uint16_t fraction(int64_t price, int64_t feed_in, int64_t worth)
{
    if (price <= feed_in)
        return 1000;
    int64_t permille = (1000 * (price - worth) + price - feed_in - 1) / (price - feed_in);
    return (uint16_t)maximum_64(0, minimum_64(1000, permille));
}

/* In the first days it is kept hot whatever it costs: that shows when hot water is drawn.
 * A store with a probe shows it anyway, and need not be more than safe. */
static bool must_learn(const struct load_settings *load, const struct load_memory *memory)
{
    int64_t full_mj = heat_full_mj(&load->water);
    return !load->water.probed || heat_held_mj(&load->water, memory->heat) < full_mj / 4 * 3;
}

static void weigh(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    int64_t price = turn->memory->price_micro, feed_in = turn->memory->feed_in_micro;
    if (!heat_knows(memory->heat) || !turn->trusted) {
        memory->ahead = turn->trusted && !memory->doubted && must_learn(load, memory);
        memory->not_worth = false;
        return;
    }
    int64_t worth = memory->heat->worth_micro;
    int64_t slack = memory->basis == BASIS_NONE ? -PRICE_SLACK_MICRO : PRICE_SLACK_MICRO;
    bool takes = !memory->doubted && (heat_takes(memory->heat) || memory->basis != BASIS_NONE);
    memory->ahead = takes && worth + slack >= price;
    memory->not_worth = !takes || worth + slack < minimum_64(feed_in, price);
    memory->start_permille =
        kind_of(load)->follows ? 1000 : fraction(price, feed_in, worth + slack);
}

/* Each five minutes of the local clock. Where hours begin at odd minutes the next tick
 * comes earlier, which does no harm. */
static void set_next_tick(struct turn *turn)
{
    int64_t past_ms = turn->w % HEAT_TICK_MS;
    turn->memory->heat_tick.ms = turn->t + HEAT_TICK_MS - (past_ms < 0 ? 0 : past_ms);
}

static void weigh_load(struct turn *turn, uint16_t index, bool ticks)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (memory->could_known && turn->dt > 0)
        heat_spare(memory->heat, memory->could_w, turn->dt);
    hear_thermostat(turn, index);
    if (ticks)
        tick(turn, index);
    weigh(turn, index);
    memory->could_known = turn->spare_known;
    if (turn->spare_known)
        memory->could_w =
            (int32_t)maximum_64(-100000, minimum_64(spare_with_own(turn, memory), 100000));
}

void weigh_heat(struct turn *turn)
{
    bool ticks = turn->trusted && turn->t >= turn->memory->heat_tick.ms;
    spare_sum_gives(turn);
    for (uint16_t place = 0; place < turn->settings->load_count; place++) {
        uint16_t i = turn->settings->order[place];
        spare_forgo(turn, &turn->memory->loads[i]); /* it is told what the later ones give */
        if (turn->memory->loads[i].heat)
            weigh_load(turn, i, ticks);
    }
    if (ticks)
        set_next_tick(turn);
    turn_soon(turn, turn->memory->heat_tick.ms);
}
