/* looks.c - what the house takes, looked at again and again.
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
#include "observe/looks.h"

#include <string.h>

enum {
    LOOK_SPAN_MS = 2500,
    ROOF_DARK_W = 50,
    ROOF_SLEEPS_MS = 14 * MS_PER_HOUR,
};

static bool has_several_sources(const struct observing *o)
{
    return o->site.solar || o->site.battery;
}

static bool roof_sleeps(struct observing *o)
{
    const struct reading *reading = o->site.reading;
    int64_t until = reading->solar.taken.ms + ROOF_SLEEPS_MS;
    bool was_dark = reading->has & HAS_SOLAR_POWER && reading->solar_power_w <= ROOF_DARK_W;
    if (!was_dark || solar_is_fresh(reading) || o->t >= until)
        return false;
    observe_soon(o, until);
    return true;
}

static bool sources_are_fresh(struct observing *o)
{
    const struct reading *reading = o->site.reading;
    bool roof = !o->site.solar || solar_is_fresh(reading) || roof_sleeps(o);
    bool grid = reading->grid.quality == READING_FRESH && (reading->has & HAS_GRID_POWER);
    return grid && roof && (!o->site.battery || battery_is_fresh(reading));
}

/* The span of the moments that this look would be made of. */
static void find_span(const struct observing *o, int64_t *first, int64_t *last)
{
    const struct reading *reading = o->site.reading;
    *first = *last = reading->grid.taken.ms;
    if (o->site.solar && solar_is_fresh(reading)) {
        *first = minimum_64(*first, reading->solar.taken.ms);
        *last = maximum_64(*last, reading->solar.taken.ms);
    }
    if (o->site.battery) {
        *first = minimum_64(*first, reading->battery.taken.ms);
        *last = maximum_64(*last, reading->battery.taken.ms);
    }
}

static int64_t site_w(const struct observing *o)
{
    const struct reading *reading = o->site.reading;
    return (int64_t)reading->grid_power_w + (o->site.solar ? reading->solar_power_w : 0) -
           (o->site.battery ? reading->battery_power_w : 0);
}

static int64_t house_w(const struct observing *o, uint8_t phases)
{
    const struct reading *reading = o->site.reading;
    if (has_several_sources(o) || o->site.phase_count == 1 || !(reading->has & HAS_PHASE_POWER))
        return site_w(o);
    int64_t power_w = 0;
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (phases & (1u << phase))
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

static void note_look(struct observing *o, int64_t power_w)
{
    struct draw_memory *draw = o->draw;
    for (int k = LOOKS - 1; k > 0; k--)
        draw->look_w[k] = draw->look_w[k - 1];
    draw->look_w[0] = look_of(power_w);
    if (draw->looks < LOOKS)
        draw->looks++;
    bool several = has_several_sources(o);
    draw->had_w = draw->level_w;
    draw->has_had = draw->has_level;
    draw->has_level = !several || draw->looks == LOOKS;
    draw->level_w = several ? middle(draw->look_w) : draw->look_w[0];
}

/* The same values again, or those read since, move the level at the next look. In a turn that
 * is none, as a slow source has yet to be read, too. */
static bool is_settling(const struct observing *o, int64_t power_w)
{
    const struct draw_memory *draw = o->draw;
    return has_several_sources(o) && (draw->looks < LOOKS || draw->look_w[0] != draw->look_w[1] ||
                                      draw->look_w[0] != look_of(power_w));
}

static void note_site_look(struct observing *o)
{
    const struct reading *reading = o->site.reading;
    struct observe_memory *site = o->memory;
    bool has_phases = o->site.phase_count > 1 && (reading->has & HAS_PHASE_POWER);
    for (int k = LOOKS; k > 0; k--) {
        site->at[k] = site->at[k - 1];
        site->power_w[k] = site->power_w[k - 1];
        memcpy(site->phase_w[k], site->phase_w[k - 1], sizeof(site->phase_w[k]));
    }
    site->at[0] = o->memory->looked_at;
    site->power_w[0] = look_of(site_w(o));
    for (unsigned phase = 0; phase < PHASES; phase++)
        site->phase_w[0][phase] = look_of(reading->phase_power_w[phase]);
    site->count = (uint8_t)minimum_32(site->count + 1, LOOKS + 1);
    site->phase_count = has_phases ? (uint8_t)minimum_32(site->phase_count + 1, LOOKS + 1) : 0;
}

void observe_forget(struct draw_memory *draw)
{
    draw->looks = 0;
    draw->has_level = draw->has_had = draw->has_before = false;
}

void take_look(struct observing *o)
{
    int64_t first, last;
    o->look = false;
    o->seeing = sources_are_fresh(o);
    if (!o->seeing) {
        o->memory->count = o->memory->phase_count = 0;
        return;
    }
    find_span(o, &first, &last);
    if (first <= o->memory->looked_at.ms || last - first > LOOK_SPAN_MS)
        return;
    o->look = true;
    o->memory->looked_at.ms = last;
    for (int k = LOOKS - 1; k > 0; k--)
        o->memory->look_from[k] = o->memory->look_from[k - 1];
    o->memory->look_from[0].ms = first;
    note_site_look(o);
}

void take_load_look(struct observing *o)
{
    if (!o->seeing) {
        observe_forget(o->draw);
        return;
    }
    int64_t power_w = house_w(o, o->given->phases);
    if (o->look)
        note_look(o, power_w);
    if (is_settling(o, power_w))
        observe_soon(o, o->t + MS_PER_S);
}

int looks_to_show(const struct observing *o)
{
    return has_several_sources(o) ? LOOKS - 1 : 1;
}

bool site_level(const struct observing *o, int past, int32_t *level_w)
{
    const struct observe_memory *site = o->memory;
    bool several = has_several_sources(o);
    if (site->count < past + (several ? LOOKS : 1))
        return false;
    *level_w = several ? middle(&site->power_w[past]) : site->power_w[past];
    return true;
}

bool phase_level(const struct observing *o, unsigned phase, int past, int32_t *level_w)
{
    const struct observe_memory *site = o->memory;
    bool several = has_several_sources(o);
    int32_t look_w[LOOKS];
    if (site->phase_count < past + (several ? LOOKS : 1))
        return false;
    for (int k = 0; several && k < LOOKS; k++)
        look_w[k] = site->phase_w[past + k][phase];
    *level_w = several ? middle(look_w) : site->phase_w[past][phase];
    return true;
}

bool looks_show(const struct observing *o, const struct draw_memory *draw, int64_t since)
{
    int needed = looks_to_show(o);
    return o->seeing && draw->has_level && draw->looks >= needed &&
           o->memory->look_from[needed - 1].ms >= since;
}

bool is_undisturbed(const struct observing *o)
{
    int before = looks_to_show(o); /* the look before was as good, one back */
    if (!o->look || o->site.switching_count > 0 || o->memory->count <= before)
        return false;
    int64_t from_ms = o->memory->look_from[before].ms;
    return o->memory->unasked_at.ms <= from_ms && o->site.moved_ms <= from_ms;
}

void mark_level(struct observing *o, int64_t others_moved_ms)
{
    struct draw_memory *draw = o->draw;
    draw->has_before = o->seeing && draw->has_level;
    draw->before_w = draw->level_w;
    draw->mixed = !looks_show(o, draw, others_moved_ms);
}

bool level_shows(const struct observing *o)
{
    return o->draw->has_before && looks_show(o, o->draw, o->given->since.ms);
}
