/* channels.c - values put in their places, whatever order they come in.
 *
 * Values are kept in one array with room at both ends that grows by doubling, so that
 * rows may come oldest first, newest first, a day at a time or a stream after another.
 * Where in the file a value stood is kept as runs: as long as values follow each other
 * at the same distance in time and lines, one run tells all their lines. */
#include "days/channels.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { VALUES_FIRST = 1 << 12, RUNS_FIRST = 4, RUNS_MAX = 1 << 20 };

/* Of what is nearer, days can be made once the gap between is filled; of what is further
 * apart only a wrong date is known. */
enum { APART_MAX_S = 400 * 86400 };

static bool is_same(const struct days_channel *one, const struct days_channel *other)
{
    return one->role == other->role && one->unit == other->unit && one->step_s == other->step_s &&
           (one->role != DAYS_UNKNOWN || one->begin.file == other->begin.file) &&
           strcmp(one->name, other->name) == 0;
}

struct days_channel *days_channel_open(struct days_channels *channels,
                                       const struct days_channel *like)
{
    for (int k = 0; k < channels->count; k++)
        if (is_same(&channels->channel[k], like))
            return &channels->channel[k];
    if (channels->count == DAYS_CHANNELS_MAX)
        return NULL;
    struct days_channel *made = &channels->channel[channels->count++];
    *made = (struct days_channel){.column = like->column,
                                  .begin = like->begin,
                                  .role = like->role,
                                  .unit = like->unit,
                                  .step_s = like->step_s,
                                  .all = &channels->values};
    memcpy(made->name, like->name, sizeof(made->name));
    return made;
}

void days_channels_free(struct days_channels *channels)
{
    for (int k = 0; k < channels->count; k++) {
        free(channels->channel[k].room);
        free(channels->channel[k].run);
    }
    channels->count = 0;
    channels->values = 0;
}

float *days_channel_take(struct days_channel *channel)
{
    float *taken = channel->room;
    if (channel->before > 0)
        memmove(taken, channel->value, channel->count * sizeof(float));
    channel->room = channel->value = NULL;
    channel->before = channel->capacity = 0;
    return taken;
}

/* ---- room ----------------------------------------------------------------------------- */

static bool make_room(struct days_channel *channel, size_t capacity, size_t before)
{
    /* Large blocks grow by moving pages, not bytes (glibc's realloc). */
    float *room = realloc(channel->room, capacity * sizeof(float));
    if (!room)
        return false;
    if (before != channel->before)
        memmove(room + before, room + channel->before, channel->count * sizeof(float));
    channel->room = room;
    channel->before = before;
    channel->capacity = capacity;
    channel->value = room + before;
    return true;
}

static size_t grown(size_t needed)
{
    size_t capacity = VALUES_FIRST;
    while (capacity < needed)
        capacity *= 2;
    return capacity;
}

/* A line of a few bytes may ask for years of seconds. */
static enum days_put allow(const struct days_channel *channel, size_t slots)
{
    if (slots > 1 + (size_t)(APART_MAX_S / channel->step_s))
        return DAYS_PUT_TOO_FAR;
    return *channel->all + slots > DAYS_VALUES_MAX ? DAYS_PUT_TOO_MANY : DAYS_PUT;
}

static enum days_put reach_after(struct days_channel *channel, size_t slots)
{
    size_t needed = channel->before + channel->count + slots;
    if (needed > channel->capacity && !make_room(channel, grown(needed), channel->before))
        return DAYS_PUT_NO_MEMORY;
    for (size_t k = 0; k < slots; k++)
        channel->value[channel->count++] = NAN;
    *channel->all += slots;
    return DAYS_PUT;
}

static enum days_put reach_before(struct days_channel *channel, size_t slots)
{
    if (slots > channel->before) {
        size_t more = grown(channel->count + slots);
        if (!make_room(channel, channel->capacity + more, channel->before + more))
            return DAYS_PUT_NO_MEMORY;
    }
    channel->before -= slots;
    channel->value -= slots;
    channel->count += slots;
    *channel->all += slots;
    channel->first.ms -= (int64_t)slots * channel->step_s * MS_PER_S;
    for (size_t k = 0; k < slots; k++)
        channel->value[k] = NAN;
    return DAYS_PUT;
}

/* ---- lines ---------------------------------------------------------------------------- */

static void begin_run(struct days_channel *channel, int64_t slot, struct days_place place)
{
    if (channel->run_count == channel->run_capacity) {
        size_t capacity = channel->run_capacity ? channel->run_capacity * 2 : RUNS_FIRST;
        struct days_run *run =
            capacity <= RUNS_MAX ? realloc(channel->run, capacity * sizeof(*run)) : NULL;
        if (!run)
            return; /* these lines will be unknown */
        channel->run = run;
        channel->run_capacity = capacity;
    }
    channel->run[channel->run_count++] = (struct days_run){.slot = slot, .slots = 1, .from = place};
}

/* The second value of a run tells its distances. */
static bool goes_on(struct days_run *run, int64_t slot_by, int64_t line_by)
{
    if (run->slots == 1) {
        run->slot_by = slot_by > -1000 && slot_by < 1000 ? (int32_t)slot_by : 0;
        run->line_by = line_by >= 0 && line_by < 1000 ? (int32_t)line_by : -1;
    }
    return slot_by != 0 && run->slot_by == slot_by && run->line_by == line_by;
}

static void note_reach(struct days_channel *channel, int64_t slot, int file)
{
    bool begins = channel->run_count == 0 || file != channel->last.file;
    if (begins || slot < channel->lowest_slot)
        channel->lowest_slot = slot;
    if (begins || slot > channel->highest_slot)
        channel->highest_slot = slot;
}

static void note_place(struct days_channel *channel, int64_t slot, struct days_place place)
{
    note_reach(channel, slot, place.file);
    struct days_run *run = channel->run_count ? &channel->run[channel->run_count - 1] : NULL;
    if (run && place.file == channel->last.file &&
        goes_on(run, slot - channel->last_slot, (int64_t)(place.line - channel->last.line)))
        run->slots++;
    else
        begin_run(channel, slot, place);
    channel->last_slot = slot;
    channel->last = place;
}

static bool holds(const struct days_run *run, int64_t slot, size_t *line)
{
    int64_t apart = slot - run->slot;
    int64_t by = run->slots == 1 ? 1 : run->slot_by;
    int64_t nth = apart / by;
    *line = run->from.line + (size_t)(run->slots == 1 ? 0 : nth * run->line_by);
    return apart % by == 0 && nth >= 0 && nth < run->slots;
}

static int64_t slot_of(const struct days_channel *channel, size_t index)
{
    int64_t step_ms = (int64_t)channel->step_s * MS_PER_S;
    return (channel->first.ms - channel->origin_ms) / step_ms + (int64_t)index;
}

/* Files come one after another, so a file's runs are the last ones. Where it goes on from
 * what it had, which is nearly always, none has to be looked at. */
static bool is_in_file(const struct days_channel *channel, size_t index, int file)
{
    int64_t slot = slot_of(channel, index);
    size_t line;
    if (file != channel->last.file || slot < channel->lowest_slot || slot > channel->highest_slot)
        return false;
    for (size_t k = channel->run_count; k > 0 && channel->run[k - 1].from.file == file; k--)
        if (holds(&channel->run[k - 1], slot, &line))
            return true;
    return false;
}

struct days_place days_channel_place(const struct days_channel *channel, size_t index)
{
    int64_t slot = slot_of(channel, index);
    size_t line;
    for (size_t k = channel->run_count; k > 0; k--)
        if (holds(&channel->run[k - 1], slot, &line))
            return (struct days_place){channel->run[k - 1].from.file, line};
    return (struct days_place){0};
}

void days_channel_estimated(struct days_channel *channel, struct days_place place)
{
    if (channel->estimated++ == 0)
        channel->estimated_from = place;
}

/* ---- values --------------------------------------------------------------------------- */

/* A value that is there stays, unless it is the mark that none is. */
static enum days_put replace(struct days_channel *channel, size_t index, float value,
                             struct days_place place)
{
    float *there = &channel->value[index];
    if (isnan(value) || (isinf(value) && !isnan(*there)))
        return DAYS_PUT;
    if (isnan(*there) || isinf(*there)) {
        *there = value;
        return DAYS_PUT;
    }
    if (*there != value || is_in_file(channel, index, place.file))
        return DAYS_PUT_TWICE;
    channel->equal_twice++;
    return DAYS_PUT;
}

static enum days_put put_elsewhere(struct days_channel *channel, int64_t index, float value,
                                   struct days_place place)
{
    int64_t count = (int64_t)channel->count;
    bool new = index < 0 || index >= count;
    size_t slots = index < 0 ? (size_t)-index : new ? (size_t)(index - count) + 1 : 0;
    enum days_put put = allow(channel, slots);
    if (put == DAYS_PUT && index < 0)
        put = reach_before(channel, slots);
    else if (put == DAYS_PUT && new)
        put = reach_after(channel, slots);
    index = index < 0 ? 0 : index;
    if (put == DAYS_PUT && new)
        channel->value[index] = value;
    else if (put == DAYS_PUT)
        put = replace(channel, (size_t)index, value, place);
    return put;
}

static enum days_put put_anywhere(struct days_channel *channel, struct wall at, float value,
                                  struct days_place place)
{
    int64_t step_ms = (int64_t)channel->step_s * MS_PER_S;
    if (channel->count == 0) {
        channel->first = at;
        channel->origin_ms = at.ms;
    }
    int64_t apart_ms = at.ms - channel->first.ms;
    if (apart_ms % step_ms)
        return DAYS_PUT_BETWEEN;
    enum days_put put = put_elsewhere(channel, apart_ms / step_ms, value, place);
    if (put != DAYS_PUT)
        return put;
    int64_t first_slot = (channel->first.ms - channel->origin_ms) / step_ms;
    channel->next_slot = first_slot + (int64_t)channel->count;
    channel->next_ms = channel->first.ms + (int64_t)channel->count * step_ms;
    note_place(channel, (at.ms - channel->origin_ms) / step_ms, place);
    return DAYS_PUT;
}

enum days_put days_channel_put(struct days_channel *channel, struct wall at, float value,
                               struct days_place place)
{
    bool follows = channel->count > 0 && at.ms == channel->next_ms &&
                   channel->before + channel->count < channel->capacity &&
                   *channel->all < DAYS_VALUES_MAX;
    if (!follows)
        return put_anywhere(channel, at, value, place);
    channel->value[channel->count++] = value;
    ++*channel->all;
    channel->next_ms += (int64_t)channel->step_s * MS_PER_S;
    note_place(channel, channel->next_slot++, place);
    return DAYS_PUT;
}

const char *days_put_why(enum days_put put)
{
    switch (put) {
    case DAYS_PUT_TOO_FAR:
        return "over 400 days away from the others: is the date right?";
    case DAYS_PUT_TOO_MANY:
        return "over 134 million values in all: fewer files at a time, or of longer steps, are "
               "expected";
    case DAYS_PUT_NO_MEMORY:
        return "out of memory";
    case DAYS_PUT:
    case DAYS_PUT_TWICE:
    case DAYS_PUT_BETWEEN:
        break;
    }
    return "";
}
