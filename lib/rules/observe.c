/* observe.c - what the house takes, looked at again and again.
 *
 * A look is what the house takes on a load's phases at one moment. With the grid's meter
 * alone each of its readings is one. Where solar or battery power is measured too, the
 * house takes grid + solar - charging, and that is true only of values of one moment: a
 * look then needs each of them read anew since the last look, and close to the others.
 * A cloud that passes between two of these moments still makes one look wrong, and the
 * next one is right again; so the level goes by the middle one of three.
 *
 * Where a source that is set up is not fresh there are no looks, and what was seen
 * before it went away says nothing about what comes after: the looks begin anew. Only a
 * roof that was dark when its meter fell silent is taken to sleep, as many inverters do
 * at night; it counts as dark for as long as a night may be. */
#include "observe.h"

#include "kind.h"

#include <string.h>

static bool has_several_sources(const struct rules_settings *settings)
{
    return settings->solar || settings->battery;
}

static bool roof_sleeps(struct turn *turn)
{
    const struct reading *reading = turn->input->reading;
    int64_t until = reading->solar.taken.ms + ROOF_SLEEPS_MS;
    bool was_dark = reading->has & HAS_SOLAR_POWER && reading->solar_power_w <= ROOF_DARK_W;
    if (!was_dark || solar_is_fresh(reading) || turn->t >= until)
        return false;
    turn_soon(turn, until);
    return true;
}

static bool sources_are_fresh(struct turn *turn)
{
    const struct reading *reading = turn->input->reading;
    bool roof = !turn->settings->solar || solar_is_fresh(reading) || roof_sleeps(turn);
    return turn->fresh && roof && (!turn->settings->battery || battery_is_fresh(reading));
}

/* The span of the moments that this look would be made of. */
static void find_span(const struct turn *turn, int64_t *first, int64_t *last)
{
    const struct reading *reading = turn->input->reading;
    *first = *last = reading->grid.taken.ms;
    if (turn->settings->solar && solar_is_fresh(reading)) {
        *first = minimum_64(*first, reading->solar.taken.ms);
        *last = maximum_64(*last, reading->solar.taken.ms);
    }
    if (turn->settings->battery) {
        *first = minimum_64(*first, reading->battery.taken.ms);
        *last = maximum_64(*last, reading->battery.taken.ms);
    }
}

static int64_t site_w(const struct turn *turn)
{
    const struct reading *reading = turn->input->reading;
    return (int64_t)reading->grid_power_w + (turn->settings->solar ? reading->solar_power_w : 0) -
           (turn->settings->battery ? reading->battery_power_w : 0);
}

static int64_t house_w(const struct turn *turn, const struct load_settings *load)
{
    const struct reading *reading = turn->input->reading;
    if (has_several_sources(turn->settings) || turn->settings->phase_count == 1 ||
        !(reading->has & HAS_PHASE_POWER))
        return site_w(turn);
    int64_t power_w = 0;
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (load->phases & (1u << phase))
            power_w += reading->phase_power_w[phase];
    return power_w;
}

static int32_t middle(const int32_t look_w[LOOKS])
{
    int32_t a = look_w[0], b = look_w[1], c = look_w[2];
    int32_t least = minimum_32(a, b), most = a > b ? a : b;
    return c < least ? least : c > most ? most : c;
}

static int32_t look_of(int64_t power_w)
{
    return (int32_t)maximum_64(INT32_MIN / 2, minimum_64(power_w, INT32_MAX / 2));
}

static void note_look(struct turn *turn, struct draw_memory *draw, int64_t power_w)
{
    for (int k = LOOKS - 1; k > 0; k--)
        draw->look_w[k] = draw->look_w[k - 1];
    draw->look_w[0] = look_of(power_w);
    if (draw->looks < LOOKS)
        draw->looks++;
    bool several = has_several_sources(turn->settings);
    draw->had_w = draw->level_w;
    draw->has_had = draw->has_level;
    draw->has_level = !several || draw->looks == LOOKS;
    draw->level_w = several ? middle(draw->look_w) : draw->look_w[0];
    if (several && (draw->looks < LOOKS || draw->look_w[0] != draw->look_w[1]))
        turn_soon(turn, turn->t + MS_PER_S); /* the same looks again move the level */
}

static void note_site_look(struct turn *turn)
{
    const struct reading *reading = turn->input->reading;
    struct site_looks *site = &turn->memory->site;
    bool has_phases = turn->settings->phase_count > 1 && (reading->has & HAS_PHASE_POWER);
    for (int k = LOOKS; k > 0; k--) {
        site->at[k] = site->at[k - 1];
        site->power_w[k] = site->power_w[k - 1];
        memcpy(site->phase_w[k], site->phase_w[k - 1], sizeof(site->phase_w[k]));
    }
    site->at[0] = turn->memory->looked_at;
    site->power_w[0] = look_of(site_w(turn));
    for (unsigned phase = 0; phase < PHASES; phase++)
        site->phase_w[0][phase] = look_of(reading->phase_power_w[phase]);
    site->count = (uint8_t)minimum_32(site->count + 1, LOOKS + 1);
    site->phase_count = has_phases ? (uint8_t)minimum_32(site->phase_count + 1, LOOKS + 1) : 0;
}

void forget_looks(struct draw_memory *draw)
{
    draw->looks = 0;
    draw->has_level = draw->has_had = draw->has_before = false;
}

void take_look(struct turn *turn)
{
    int64_t first, last;
    turn->look = false;
    turn->seeing = sources_are_fresh(turn);
    if (!turn->seeing) {
        turn->memory->site.count = turn->memory->site.phase_count = 0;
        for (uint16_t i = 0; i < turn->settings->load_count; i++)
            forget_looks(&turn->memory->loads[i].draw);
        return;
    }
    find_span(turn, &first, &last);
    if (first <= turn->memory->looked_at.ms || last - first > LOOK_SPAN_MS)
        return;
    turn->look = true;
    turn->memory->looked_at.ms = last;
    for (int k = LOOKS - 1; k > 0; k--)
        turn->memory->look_from[k] = turn->memory->look_from[k - 1];
    turn->memory->look_from[0].ms = first;
    note_site_look(turn);
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        note_look(turn, &turn->memory->loads[i].draw, house_w(turn, &turn->settings->loads[i]));
}

int looks_to_show(const struct turn *turn)
{
    return has_several_sources(turn->settings) ? LOOKS - 1 : 1;
}

bool site_level(const struct turn *turn, int past, int32_t *level_w)
{
    const struct site_looks *site = &turn->memory->site;
    bool several = has_several_sources(turn->settings);
    if (site->count < past + (several ? LOOKS : 1))
        return false;
    *level_w = several ? middle(&site->power_w[past]) : site->power_w[past];
    return true;
}

bool phase_level(const struct turn *turn, unsigned phase, int past, int32_t *level_w)
{
    const struct site_looks *site = &turn->memory->site;
    bool several = has_several_sources(turn->settings);
    int32_t look_w[LOOKS];
    if (site->phase_count < past + (several ? LOOKS : 1))
        return false;
    for (int k = 0; several && k < LOOKS; k++)
        look_w[k] = site->phase_w[past + k][phase];
    *level_w = several ? middle(look_w) : site->phase_w[past][phase];
    return true;
}

/* Whether there were as many looks since `since` as it takes until the level shows what
 * has changed. */
static bool looks_show(const struct turn *turn, const struct draw_memory *draw, int64_t since)
{
    int needed = looks_to_show(turn);
    return turn->seeing && draw->has_level && draw->looks >= needed &&
           turn->memory->look_from[needed - 1].ms >= since;
}

/* The last moment at which the contact of another load moved; the present one where one
 * may be moving still. */
static int64_t others_moved_at(const struct turn *turn, uint16_t index)
{
    int64_t moved_at = INT64_MIN;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *other = &turn->memory->loads[i];
        bool moves = other->state == STATE_STARTING || other->state == STATE_STOPPING;
        if (i != index)
            moved_at = maximum_64(moved_at, moves ? turn->t + 1 : other->since.ms);
    }
    return moved_at;
}

bool is_switching(const struct load_memory *memory)
{
    return memory->state == STATE_STARTING || memory->state == STATE_STOPPING || memory->relief ||
           memory->draw.view.state == DRAW_WAITING;
}

/* A level that is followed in its own time may still be on its way. */
static int64_t moved_at(const struct load_settings *load, const struct load_memory *memory)
{
    int64_t level_ms = memory->level_since.ms + (kind_of(load)->follows ? FOLLOW_MS : 0);
    return maximum_64(memory->since.ms, level_ms);
}

bool is_undisturbed(const struct turn *turn)
{
    int before = looks_to_show(turn); /* the look before was as good, one back */
    if (!turn->look || turn->switching_count > 0 || turn->memory->site.count <= before)
        return false;
    if (turn->memory->site.unasked_at.ms > turn->memory->look_from[before].ms)
        return false;
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        if (moved_at(&turn->settings->loads[i], &turn->memory->loads[i]) >
            turn->memory->look_from[before].ms)
            return false;
    return true;
}

/* Whether the step of another load's switching could be taken for that of a start now. */
bool others_are_unshown(struct turn *turn, uint16_t index)
{
    const struct draw_memory *draw = &turn->memory->loads[index].draw;
    bool unshown = false;
    if (!kind_of(&turn->settings->loads[index])->shows_step || own_meter(turn, index) ||
        !turn->seeing)
        return false;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *other = &turn->memory->loads[i];
        int64_t until = other->since.ms + 3 * SHOW_MS;
        if (i == index || turn->t >= until ||
            (!is_switching(other) && looks_show(turn, draw, other->since.ms)))
            continue;
        unshown = true;
        turn_soon(turn, until);
        turn_soon(turn, turn->t + MS_PER_S); /* the next look */
    }
    return unshown;
}

/* From here on the level is watched for what is being switched. */
void mark_level(struct turn *turn, uint16_t index)
{
    struct draw_memory *draw = &turn->memory->loads[index].draw;
    draw->has_before = turn->seeing && draw->has_level;
    draw->before_w = draw->level_w;
    draw->mixed = !looks_show(turn, draw, others_moved_at(turn, index));
}

bool level_shows(const struct turn *turn, const struct load_memory *memory)
{
    return memory->draw.has_before && looks_show(turn, &memory->draw, memory->since.ms);
}
