/* booking.c - what has happened since the last turn.
 *
 * Between two turns nothing is decided, so all that counts in that time grows
 * evenly with it; one addition books a second or a night alike. Energy is kept in
 * W x ms (mJ): exact, so that a skipped hour and 3,600 stepped seconds give the
 * same sum. */
#include "booking.h"

#include "terms/order.h"

static void add_totals(struct load_totals *totals, const struct load_totals *more)
{
    totals->spare_mj += more->spare_mj;
    totals->grid_mj += more->grid_mj;
    totals->assumed_mj += more->assumed_mj;
    totals->draw_ms += more->draw_ms;
}

/* How far a heat-up has come is told by the last day; what was heated before has been used. */
static bool is_past(const struct turn *turn, const struct floor_settings *settings,
                    const struct floor_memory *floor)
{
    int64_t now = floor->elapsed ? turn->t : turn->w;
    return settings->measure == FLOOR_SATISFIED && now <= floor->deadline_ms - MS_PER_DAY;
}

static void book_floor(const struct turn *turn, const struct load_memory *memory,
                       const struct floor_settings *settings, struct floor_memory *floor,
                       int64_t energy_mj)
{
    int64_t done = settings->measure == FLOOR_ENERGY ? energy_mj : turn->dt;
    floor->done += done;
    if (observe_is_guess(&memory->draw.view))
        floor->unproven += done;
}

/* Off, and the house takes as much as before: a contact that stays closed, or another
 * appliance that came on in that moment. No floor is kept by a guess. */
static bool is_guessed(const struct turn *turn, uint16_t index)
{
    return turn->memory->loads[index].draw.view.state == DRAW_STUCK && !own_meter(turn, index);
}

static void book_floors(const struct turn *turn, uint16_t index, int64_t energy_mj)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    if (is_guessed(turn, index))
        return;
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (!is_past(turn, &load->floor[k], &memory->floor[k]))
            book_floor(turn, memory, &load->floor[k], &memory->floor[k], energy_mj);
}

static void book_denial(const struct load_settings *load, struct load_memory *memory, int64_t dt)
{
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (memory->floor[k].due && memory->denied < DENIED_COUNT)
            memory->floor[k].denied_ms[memory->denied] += dt;
}

static bool counts_as_drawing(const struct load_memory *memory)
{
    enum draw_state state = memory->draw.view.state;
    return state == DRAW_STUCK ||
           (load_is_on(memory) && (state == DRAW_SEEN || state == DRAW_ASSUMED));
}

static void book_on(struct load_memory *memory, int64_t dt)
{
    memory->on_today_ms += dt;
    memory->total.on_ms += dt;
    memory->today.on_ms += dt;
}

/* `grid_left_w` is the import that no lower load has taken up yet; negative where
 * it is not known, and then all of a load's draw counts as bought. */
static int64_t book_load(struct turn *turn, uint16_t index, int64_t grid_left_w)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    if (load_is_on(memory))
        book_on(memory, turn->dt);
    else
        book_denial(load, memory, turn->dt);
    struct draw_view *draw = &memory->draw.view;
    if (!counts_as_drawing(memory))
        return grid_left_w;
    int64_t grid_w = grid_left_w < 0 ? draw->draw_w : minimum_64(draw->draw_w, grid_left_w);
    int64_t energy_mj = draw->draw_w * turn->dt;
    bool guessed = observe_is_guess(draw) || is_guessed(turn, index);
    struct load_totals more = {
        .spare_mj = (draw->draw_w - grid_w) * turn->dt,
        .grid_mj = grid_w * turn->dt,
        .assumed_mj = guessed ? energy_mj : 0,
        .draw_ms = turn->dt,
    };
    add_totals(&memory->total, &more);
    add_totals(&memory->today, &more);
    book_floors(turn, index, energy_mj);
    memory->draw.heated_mj += energy_mj;
    memory->draw.guessed_mj += guessed ? energy_mj : 0;
    if (memory->heat)
        heat_heated(memory->heat, energy_mj);
    return grid_left_w < 0 ? grid_left_w : grid_left_w - grid_w;
}

void book_time(struct turn *turn)
{
    if (turn->dt <= 0)
        return;
    int64_t grid_left_w = turn->memory->last_import_w;
    for (uint16_t place = turn->settings->load_count; place-- > 0;)
        grid_left_w = book_load(turn, turn->settings->order[place], grid_left_w);
}

static void begin_day(struct turn *turn)
{
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        turn->memory->loads[i].on_today_ms = 0;
        turn->memory->loads[i].today = (struct load_totals){0};
    }
    turn->memory->probes_today = 0;
    turn_event(turn, EVENT_DAY_ENDED, LOAD_ALL, turn->memory->today);
}

void book_day(struct turn *turn)
{
    struct rules_memory *memory = turn->memory;
    bool in_cache = turn->trusted && memory->trusted && turn->w >= memory->calendar_from.ms &&
                    turn->w < memory->calendar_until.ms;
    if (in_cache)
        return; /* the cache never reaches past midnight */
    bool clock_has_come = memory->begun && turn->trusted && !memory->trusted;
    bool clock_is_missing = !memory->begun && !turn->trusted;
    int64_t day = turn->trusted ? local_of_wall(&turn->settings->zone, (struct wall){turn->w}).day
                                : (turn->t - memory->untrusted_since.ms) / MS_PER_DAY;
    memory->trusted = turn->trusted;
    if (day == memory->today)
        return;
    if (!clock_has_come && !clock_is_missing && memory->today != RULES_NO_DAY)
        begin_day(turn);
    memory->today = day;
}

/* A moment later than now was told by a clock that was wrong. Mono knows better. */
static void correct_moment(const struct turn *turn, struct moment *opened)
{
    if (opened->wall.ms > turn->w)
        opened->wall.ms = turn->w - at_least_0(turn->t - opened->mono.ms);
}

void look_back(struct turn *turn)
{
    struct rules_memory *memory = turn->memory;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        correct_moment(turn, &memory->loads[i].draw.view.opened_at);
        correct_moment(turn, &memory->loads[i].draw.supposed_at);
    }
    if (memory->unchecked && memory->holiday_back.ms - turn->w > ORDER_LONGEST_HOLIDAY_MS)
        memory->holiday_back.ms = 0;
}
