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
enum { PRICE_SLACK_MICRO = 20000 };

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
    observe_hush(&learns->draw); /* what was remembered is no news */
    heat_begin(&with->water, heat);
}

void rules_learn_no_more(const struct rules_settings *settings, struct rules_memory *memory,
                         uint16_t load)
{
    struct load_memory *learns = &memory->loads[load];
    learns->heat = NULL;
    learns->ahead = learns->not_worth = learns->could_known = false;
    observe_hush(&learns->draw);
    memory->calendar_until = (struct wall){0}; /* where the derived fraction is looked up */
    memory->learns = false;
    for (uint16_t i = 0; i < settings->load_count; i++)
        memory->learns |= memory->loads[i].heat != NULL;
}

static void hear(const struct turn *turn, uint16_t index)
{
    const struct heat_settings *water = &turn->settings->loads[index].water;
    struct load_memory *memory = &turn->memory->loads[index];
    enum heard heard = (enum heard)memory->notes.heard;
    if (heard == HEARD_FULL)
        heat_full(water, memory->heat);
    else if (heard != HEARD_NOTHING)
        heat_found(water, memory->heat, heard == HEARD_DRAWS);
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
    if (!own_meter(turn, index) && heat_overflows(&load->water, memory->heat))
        observe_doubt(&memory->draw);
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
    return !heat_is_seen(&load->water) ||
           heat_held_mj(&load->water, memory->heat) < full_mj / 4 * 3;
}

static void weigh(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    int64_t price = turn->memory->price_micro, feed_in = turn->memory->feed_in_micro;
    if (!heat_knows(memory->heat) || !turn->trusted) {
        memory->ahead = turn->trusted && !memory->draw.doubted && must_learn(load, memory);
        memory->not_worth = false;
        return;
    }
    int64_t worth = memory->heat->worth_micro;
    int64_t slack = memory->basis == BASIS_NONE ? -PRICE_SLACK_MICRO : PRICE_SLACK_MICRO;
    bool takes = !memory->draw.doubted && (heat_takes(memory->heat) || memory->basis != BASIS_NONE);
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
    hear(turn, index);
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
